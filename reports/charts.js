// Turns each static picture into its live chart; keeps the picture if anything fails.
"use strict";
(() => {
  const options = {
    // expressions are walked by an interpreter: the page's policy forbids eval
    ast: true,
    mode: "vega-lite",
    renderer: "svg",
    actions: false,
    defaultStyle: false,
    tooltip: { disableDefaultStyle: true },
  };
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const { data, parts } = read("live-shared");
  // puts what several drawings say alike back in its place
  const whole = (node) => {
    if (node === null || typeof node !== "object") return node;
    if (Array.isArray(node)) return node.map(whole);
    const keys = Object.keys(node);
    if (keys.length === 1 && keys[0] === "$") return parts[node.$];
    return Object.fromEntries(keys.map((key) => [key, whole(node[key])]));
  };
  // a part refers to earlier ones only
  parts.forEach((part, place) => {
    parts[place] = whole(part);
  });
  const cells = ([, values, places]) =>
    places ? places.map((place) => values[place]) : values;
  const rows = (columns) => {
    if (!Array.isArray(columns)) return columns.rows;
    const filled = columns.map((column) => [column[0], cells(column)]);
    return filled[0][1].map((_, row) =>
      Object.fromEntries(filled.map(([name, values]) => [name, values[row]])),
    );
  };
  const specOf = (box, component) => {
    const spec = structuredClone(whole(read(box.dataset.spec))[box.dataset.drawing]);
    if (component && spec.concat) {
      const own = spec.concat.filter((panel) => panel.title?.text === component);
      if (own.length) spec.concat = own;
    }
    const text = JSON.stringify(spec);
    spec.datasets = {};
    for (const name of Object.keys(data)) {
      if (text.includes(name)) spec.datasets[name] = rows(data[name]);
    }
    return spec;
  };
  let component = "";
  const bringToLife = async (box) => {
    box.dataset.state = "waiting";
    const shown = component;
    try {
      const live = document.createElement("div");
      await window.vegaEmbed(live, specOf(box, shown), options);
      // the box is one picture with a name: its parts have none of their own
      for (const part of live.querySelectorAll("[role], [aria-roledescription]")) {
        part.removeAttribute("role");
        part.removeAttribute("aria-roledescription");
      }
      live.querySelector("svg").setAttribute("aria-hidden", "true");
      box.replaceChildren(live);
      box.dataset.state = "live";
      box.dataset.component = shown;
    } catch {
      box.dataset.state = "static";
    }
  };
  // the drawing for the other width, and what is folded away, can wait
  const isShown = (box) =>
    box.offsetParent !== null && !box.closest("details:not([open])");
  const isDue = (box) =>
    !box.dataset.state ||
    (box.dataset.state === "live" && box.dataset.component !== component);
  let isBusy = false;
  const visit = async () => {
    if (isBusy) return;
    isBusy = true;
    for (;;) {
      const box = [...document.querySelectorAll(".chart")].find(
        (one) => isShown(one) && isDue(one),
      );
      if (!box) break;
      await bringToLife(box);
    }
    isBusy = false;
    document.documentElement.dataset.charts = "ready";
  };
  visit();
  matchMedia("(max-width: 44rem)").addEventListener("change", visit);
  document.addEventListener("toggle", visit, true);
  document.addEventListener("component", (event) => {
    component = event.detail;
    visit();
  });
})();
