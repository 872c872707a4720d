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
  const bringToLife = async (box) => {
    box.dataset.state = "waiting";
    try {
      const spec = JSON.parse(document.getElementById(box.dataset.spec).textContent);
      const live = document.createElement("div");
      await window.vegaEmbed(live, spec, options);
      box.replaceChildren(live);
      box.dataset.state = "live";
    } catch {
      box.dataset.state = "static";
    }
  };
  const visit = async () => {
    for (const box of document.querySelectorAll(".chart:not([data-state])")) {
      // the drawing for the other width is not displayed: leave it alone
      if (box.offsetParent !== null) await bringToLife(box);
    }
    document.documentElement.dataset.charts = "ready";
  };
  visit();
  matchMedia("(max-width: 44rem)").addEventListener("change", visit);
})();
