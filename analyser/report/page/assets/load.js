"use strict";
// One slider for everybody of a load: a numbered mark for each flight, drawn over all pictures.
const load = PAGE.load;
const slider = document.getElementById("moment");
const playButton = document.getElementById("play");
const readout = document.getElementById("readout");
const SECONDS_PER_SECOND = 8;
slider.max = String(load.t.length - 1);

function overlayOf(node) {
  const stage = node.parentElement;
  let layer = stage.querySelector(".follow");
  if (!layer) {
    layer = document.createElementNS(SVG, "svg");
    layer.classList.add("follow");
    layer.setAttribute("aria-hidden", "true");
    stage.appendChild(layer);
  }
  return layer;
}

function shape(layer, tag, attributes, text) {
  const node = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text) node.textContent = text;
  layer.appendChild(node);
}

function markOn(node, rule, flight, i, layer) {
  let x = flight[rule.x][i], y = flight[rule.y][i];
  if (x === null || y === null) return;
  if (rule.turn && state.up === "wind" && PAGE.up) [[x], [y]] = turned([x], [y], PAGE.up.deg);
  const system = PAGE.systems[state.units], full = node._fullLayout;
  const px = full.xaxis._offset + full.xaxis.l2p(x / siOf(system, rule.qx));
  const py = full.yaxis._offset + full.yaxis.l2p(y / siOf(system, rule.qy));
  const inside = px >= full.xaxis._offset - 1 && px <= full.xaxis._offset + full.xaxis._length + 1
    && py >= full.yaxis._offset - 1 && py <= full.yaxis._offset + full.yaxis._length + 1;
  if (!inside) return;
  const fill = (state.dark && PAGE.dark[flight.colour]) || flight.colour;
  shape(layer, "circle", { cx: px, cy: py, r: 10, class: "mark", style: `fill:${fill}` });
  shape(layer, "text", { x: px, y: py, class: "mark-no", "text-anchor": "middle", "dominant-baseline": "central" }, String(flight.no));
}

function mark(i) {
  for (const node of allPictures()) {
    const rules = PAGE.figures[node.dataset.figure].layout.meta.cursor;
    if (!rules || !node._fullLayout) continue;
    const layer = overlayOf(node);
    layer.replaceChildren();
    for (const rule of rules) for (const flight of load.flights) markOn(node, rule, flight, i, layer);
  }
}

function tell(i) {
  const seconds = Math.round(load.t[i]);
  const facts = [seconds < 0 ? `${-seconds} s before the first landed` : `${seconds} s after the first landed`];
  for (const flight of load.flights) {
    if (flight.agl[i] !== null) facts.push(`${flight.no}: ${quantityText(state.units, "height", Math.max(flight.agl[i], 0), null, false)}`);
  }
  readout.replaceChildren();
  for (const fact of facts) {
    const part = document.createElement("span");
    part.textContent = fact;
    readout.appendChild(part);
  }
  slider.setAttribute("aria-valuetext", facts.join(", "));
}

function goTo(i) {
  const at = Math.max(0, Math.min(load.t.length - 1, Math.round(i)));
  slider.value = String(at);
  mark(at);
  tell(at);
}

let playing = 0, playedAt = 0, playTime = 0;
function stop() {
  cancelAnimationFrame(playing);
  playing = 0;
  playButton.textContent = "Play";
  playButton.setAttribute("aria-pressed", "false");
}

function step(now) {
  playTime += ((now - playedAt) / 1000) * SECONDS_PER_SECOND;
  playedAt = now;
  const next = load.t.findIndex((t) => t >= playTime);
  const at = next < 0 ? load.t.length - 1 : next;
  goTo(at);
  if (at >= load.t.length - 1) stop();
  else playing = requestAnimationFrame(step);
}

playButton.addEventListener("click", () => {
  if (playing) {
    stop();
    return;
  }
  const at = Number(slider.value);
  playTime = load.t[at >= load.t.length - 1 ? 0 : at];
  playButton.textContent = "Pause";
  playButton.setAttribute("aria-pressed", "true");
  playedAt = performance.now();
  playing = requestAnimationFrame(step);
});
slider.addEventListener("input", () => { stop(); goTo(Number(slider.value)); });

// A button in a table leads to the moment it tells of.
for (const link of document.querySelectorAll('a[href^="#at-"]')) {
  link.addEventListener("click", (event) => {
    event.preventDefault();
    const wanted = Number(link.hash.slice(4));
    stop();
    goTo(load.t.reduce((best, t, i) => (Math.abs(t - wanted) < Math.abs(load.t[best] - wanted) ? i : best), 0));
    slider.focus();
  });
}

document.addEventListener("pictures-drawn", () => {
  for (const node of allPictures()) {
    if (node.dataset.listens || !node.on) continue;
    node.dataset.listens = "yes";
    node.on("plotly_relayout", () => mark(Number(slider.value)));
  }
  goTo(Number(slider.value));
});
document.addEventListener("units-changed", () => tell(Number(slider.value)));
goTo(load.start || 0);
