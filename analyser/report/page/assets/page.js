"use strict";
// The page's controls: units, what is up on a map, light or dark, size, print, and the moving marker if there is a replay.
const darkQuery = window.matchMedia("(prefers-color-scheme: dark)");
const state = { units: PAGE.units, up: "north", view: "", dark: darkQuery.matches, print: false };

function redraw() {
  drawAll(state, () => document.dispatchEvent(new Event("pictures-drawn")));
}

function chooseUnits(name) {
  state.units = name;
  showQuantities(name, document);
  document.dispatchEvent(new Event("units-changed"));
  redraw();
}

function onChoice(name, use) {
  for (const input of document.querySelectorAll(`[name="${name}"]`)) {
    if (input.tagName === "SELECT") input.value = state[name] || input.value;
    input.addEventListener("change", () => use(input.value));
  }
}

onChoice("units", chooseUnits);
onChoice("up", (value) => { state.up = value; redraw(); });
onChoice("view", (value) => { state.view = value; redraw(); });
darkQuery.addEventListener("change", () => { state.dark = darkQuery.matches; redraw(); });

let lastWidth = window.innerWidth, resizeTimer = 0;
window.addEventListener("resize", () => {
  if (window.innerWidth === lastWidth) return;
  lastWidth = window.innerWidth;
  clearTimeout(resizeTimer);
  resizeTimer = setTimeout(redraw, 120);
});
window.addEventListener("beforeprint", () => {
  state.print = true;
  state.dark = false;
  for (const d of document.querySelectorAll("details[data-print]")) d.open = true;
  drawAllNow(state);
});
window.addEventListener("afterprint", () => {
  state.print = false;
  state.dark = darkQuery.matches;
  redraw();
});

document.documentElement.classList.add("scripted");
redraw();
