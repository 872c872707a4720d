// Sorts, filters and copies tables, and narrows the page to one component.
// Everything here is added by the script: without it none of it is shown.
"use strict";
(() => {
  const MANY = 12; // from more rows on, a table can be searched
  // a page in another language brings its own words and signs
  const own = document.getElementById("page-words");
  const WORDS = {
    months: "January February March April May June July August September October November December".split(" "),
    group: ",",
    decimal: ".",
    language: "en",
    component: "component",
    detail: "of these",
    search: "Search these rows",
    copy: "Copy as CSV",
    copied: "{number} rows copied",
    copiedOne: "{number} row copied",
    shown: "{number} of {all} rows",
    everything: "all components",
    choose: "Show in tables and charts",
    ...(own ? JSON.parse(own.textContent) : {}),
  };
  const say = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const make = (tag, properties, ...children) => {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children);
    return element;
  };
  const textOf = (cell) => cell.textContent.replace(/\s+/g, " ").trim();
  const GROUP = new RegExp(`(\\d)[${WORDS.group}](?=\\d{3})`, "g");
  const DECIMAL = new RegExp(`(\\d)[${WORDS.decimal}](?=\\d)`, "g");
  // figures with a point and without separators, whatever the page writes
  const simple = (text) => text.replace(GROUP, "$1").replace(DECIMAL, "$1.");
  const plain = (text) => simple(text.replace(/[−–](?=\d)/g, "-"));
  // a number as it is printed alone: digits, thousands separators, a sign
  const NUMBER = new RegExp(
    `^[-−]?\\d{1,3}([${WORDS.group}]?\\d{3})*([${WORDS.decimal}]\\d+)?$`,
  );
  const isNumber = (text) => NUMBER.test(text);

  // what a cell is sorted by: a day, a month, its first number, or its text
  const keyOf = (text) => {
    const day = text.match(/(?:(\d{1,2})(?:\.|er)?\s)?(\p{L}+)\s(\d{4})/u);
    if (day && WORDS.months.includes(day[2])) {
      return Number(day[3]) * 372 + WORDS.months.indexOf(day[2]) * 31 + Number(day[1] || 0);
    }
    if (/^\d{4}-\d{2}/.test(text)) return Number(text.slice(0, 10).replace(/-/g, ""));
    const number = simple(text).match(/^[<>≥≤]?\s*([-−]?\d+(\.\d+)?)/);
    return number ? Number(number[1].replace("−", "-")) : text;
  };
  const isMissing = (text) => text === "" || text === "–";
  const compare = (one, other) => {
    if (typeof one === "number" && typeof other === "number") return one - other;
    if (typeof one === typeof other) return one.localeCompare(other, WORDS.language);
    return typeof one === "number" ? -1 : 1;
  };

  // rows that tell of a part of the row above stay with it
  const isDetail = (row) => row.cells[0].textContent.trim().startsWith(WORDS.detail);
  const groupsOf = (table) => {
    const groups = [];
    for (const row of table.tBodies[0].rows) {
      if (isDetail(row) && groups.length) groups.at(-1).push(row);
      else groups.push([row]);
    }
    return groups;
  };

  const sortBy = (table, column, heading) => {
    const up = heading.getAttribute("aria-sort") !== "ascending";
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", up ? "ascending" : "descending");
    const keyed = groupsOf(table).map((group) => {
      const text = textOf(group[0].cells[column]);
      return { group, missing: isMissing(text), key: keyOf(text) };
    });
    keyed.sort((one, other) => {
      if (one.missing || other.missing) return one.missing - other.missing;
      return up ? compare(one.key, other.key) : compare(other.key, one.key);
    });
    table.tBodies[0].append(...keyed.flatMap(({ group }) => group));
  };
  const makeSortable = (table) => {
    [...table.tHead.rows[0].cells].forEach((heading, column) => {
      const button = make("button", { type: "button", className: "sort" });
      button.append(...heading.childNodes);
      button.addEventListener("click", () => sortBy(table, column, heading));
      heading.append(button);
    });
  };

  // RFC 4180; a spreadsheet must not take a text for a formula
  const field = (text) => {
    const value = isNumber(text)
      ? plain(text)
      : /^[=+\-@\t\r]/.test(text)
        ? `'${text}`
        : text;
    return /[",\r\n]/.test(value) ? `"${value.replace(/"/g, '""')}"` : value;
  };
  const csvOf = (table) =>
    [table.tHead, table.tBodies[0], table.tFoot]
      .filter(Boolean)
      .flatMap((part) => [...part.rows])
      .filter((row) => !row.hidden)
      .map((row) => [...row.cells].map((cell) => field(textOf(cell))).join(","))
      .join("\r\n") + "\r\n";
  const copy = async (text) => {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      const area = make("textarea", { value: text, className: "unseen" });
      document.body.append(area);
      area.select();
      document.execCommand("copy");
      area.remove();
    }
  };

  let component = "";
  const outputs = new Map();
  const columnOf = (table) =>
    [...table.tHead.rows[0].cells].findIndex((cell) => textOf(cell) === WORDS.component);
  const narrow = (table) => {
    const words = (table.dataset.words || "").toLowerCase();
    const column = columnOf(table);
    let number = 0;
    const groups = groupsOf(table);
    for (const group of groups) {
      const own = component && column >= 0 && textOf(group[0].cells[column]) !== component;
      const text = group.map((row) => textOf(row)).join(" ").toLowerCase();
      const shown = !own && text.includes(words);
      for (const row of group) row.hidden = !shown;
      number += shown ? 1 : 0;
    }
    const said = outputs.get(table);
    if (said) {
      said.value = words || (component && column >= 0)
        ? say(WORDS.shown, { number, all: groups.length })
        : "";
    }
  };
  const giveTools = (table) => {
    const tools = make("div", { className: "tools" });
    const caption = textOf(table.caption);
    const isLong = table.tBodies[0].rows.length > MANY;
    if (isLong) {
      const input = make("input", { type: "search", autocomplete: "off" });
      input.addEventListener("input", () => {
        table.dataset.words = input.value.trim();
        narrow(table);
      });
      tools.append(make("label", {}, make("span", {}, WORDS.search), " ", input));
    }
    const button = make("button", { type: "button" }, WORDS.copy);
    button.append(make("span", { className: "unseen" }, `: ${caption}`));
    const said = make("output", {});
    outputs.set(table, said);
    button.addEventListener("click", async () => {
      const text = csvOf(table);
      await copy(text);
      const number = text.split("\r\n").length - 2;
      said.value = say(number === 1 ? WORDS.copiedOne : WORDS.copied, { number });
    });
    tools.append(button, said);
    // a search stands above its rows, a copy below
    if (isLong) table.closest(".scroll").before(tools);
    else table.closest(".scroll").after(tools);
  };

  const tables = [...document.querySelectorAll(".scroll > table")].filter(
    (table) => table.tHead && table.tBodies.length === 1 && table.tBodies[0].rows.length > 1,
  );
  const names = new Set();
  for (const table of tables) {
    const column = columnOf(table);
    for (const row of table.tBodies[0].rows) {
      if (column >= 0 && !isDetail(row)) names.add(textOf(row.cells[column]));
    }
  }
  for (const table of tables) {
    makeSortable(table);
    giveTools(table);
  }
  const place = document.querySelector("[data-choose]");
  if (place && names.size > 1) {
    const choice = make("select", {}, make("option", { value: "" }, WORDS.everything));
    for (const name of [...names].filter(Boolean).sort()) {
      choice.append(make("option", { value: name }, name));
    }
    choice.addEventListener("change", () => {
      component = choice.value;
      tables.forEach(narrow);
      document.dispatchEvent(new CustomEvent("component", { detail: component }));
    });
    place.append(
      make("label", {}, make("span", {}, WORDS.choose), " ", choice),
    );
  }

  // a link into a folded section opens it; paper shows every section
  const unfold = () => {
    const target = location.hash && document.getElementById(location.hash.slice(1));
    const fold = target && (target.querySelector("details.fold") || target.closest("details"));
    if (fold) fold.open = true;
  };
  addEventListener("hashchange", unfold);
  unfold();
})();
