"use strict";
// One marker along all pictures at once, drawn over them, so that nothing has to be plotted again while it moves.
const path = PAGE.path;
path.gs = path.ve.map((e, i) => Math.hypot(e, path.vn[i]));
path.ws = path.we.map((e, i) => (e === null ? null : Math.hypot(e, path.wn[i])));
const slider = document.getElementById("moment");
const playButton = document.getElementById("play");
const readout = document.getElementById("readout");
const SECONDS_PER_SECOND = 8;
slider.max = String(path.t.length - 1);

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

function pixel(axis, value) {
  return axis._offset + axis.l2p(value);
}

function placed(rule, xKey, yKey, i) {
  let x = path[xKey][i], y = path[yKey][i];
  if (x === null || y === null || x === undefined || y === undefined) return null;
  if (rule.turn && state.up === "wind" && PAGE.up) [[x], [y]] = turned([x], [y], PAGE.up.deg);
  const system = PAGE.systems[state.units];
  return [x / siOf(system, rule.qx), y / siOf(system, rule.qy)];
}

function shape(layer, tag, attributes, cssClass) {
  const node = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.classList.add(cssClass);
  layer.appendChild(node);
}

function markOn(node, rule, i, layer) {
  const full = node._fullLayout;
  const ax = full[rule.xaxis || "xaxis"], ay = full[rule.yaxis || "yaxis"];
  const at = placed(rule, rule.x, rule.y, i);
  if (!at) return;
  const [px, py] = [pixel(ax, at[0]), pixel(ay, at[1])];
  const inside = px >= ax._offset - 1 && px <= ax._offset + ax._length + 1 && py >= ay._offset - 1 && py <= ay._offset + ay._length + 1;
  const centre = rule.r ? placed(rule, rule.cx, rule.cy, i) : null;
  if (centre && path[rule.r][i] !== null) {
    const [cx, cy] = [pixel(ax, centre[0]), pixel(ay, centre[1])];
    const radius = path[rule.r][i] / siOf(PAGE.systems[state.units], rule.qx);
    const r = Math.abs(pixel(ax, centre[0] + radius) - cx);
    shape(layer, "circle", { cx, cy, r }, "ring");
    shape(layer, "line", { x1: pixel(ax, 0), y1: pixel(ay, 0), x2: cx, y2: cy }, "wind");
  }
  if (inside) shape(layer, "circle", { cx: px, cy: py, r: 7 }, "dot");
}

function mark(i) {
  for (const node of allPictures()) {
    const rules = PAGE.figures[node.dataset.figure].layout.meta.cursor;
    if (!rules || !node._fullLayout) continue;
    const layer = overlayOf(node);
    layer.replaceChildren();
    for (const rule of rules) markOn(node, rule, i, layer);
  }
}

function windText(i) {
  if (path.ws[i] === null) return "wind not determined here";
  const from = (Math.round((Math.atan2(-path.we[i], -path.wn[i]) * 180) / Math.PI) + 360) % 360;
  return `wind ${quantityText(state.units, "speed", path.ws[i], null, false)} from ${String(from).padStart(3, "0")}°`;
}

function tell(i) {
  const height = quantityText(state.units, "height", path.agl[i], null, false);
  const speed = quantityText(state.units, "speed", path.gs[i], null, false);
  const facts = [`${Math.round(-path.t[i])} s to touchdown`, height, `${speed} over the ground`, windText(i), legAt(i)];
  readout.replaceChildren();
  for (const fact of facts.filter(Boolean)) {
    const part = document.createElement("span");
    part.textContent = fact;
    readout.appendChild(part);
  }
  slider.setAttribute("aria-valuetext", `${facts[0]}, ${facts[1]}`);
}

function legAt(i) {
  let name = "";
  for (const [from, leg] of path.legs) if (i >= from) name = leg;
  return name ? `${name} leg` : "";
}

function goTo(i) {
  const at = Math.max(0, Math.min(path.t.length - 1, Math.round(i)));
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

function indexAt(time) {
  let low = 0, high = path.t.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (path.t[middle] < time) low = middle + 1;
    else high = middle;
  }
  return low;
}

function step(now) {
  playTime += ((now - playedAt) / 1000) * SECONDS_PER_SECOND;
  playedAt = now;
  const at = indexAt(playTime);
  goTo(at);
  if (at >= path.t.length - 1) stop();
  else playing = requestAnimationFrame(step);
}

playButton.addEventListener("click", () => {
  if (playing) {
    stop();
    return;
  }
  const last = path.t.length - 1;
  playTime = path.t[Number(slider.value) >= last ? 0 : Number(slider.value)];
  playButton.textContent = "Pause";
  playButton.setAttribute("aria-pressed", "true");
  playedAt = performance.now();
  playing = requestAnimationFrame(step);
});
slider.addEventListener("input", () => { stop(); goTo(Number(slider.value)); });

function listenTo(node) {
  if (node.dataset.listens || !node.on) return;
  node.dataset.listens = "yes";
  node.on("plotly_click", (event) => {
    const point = event.points.find((p) => (p.data.meta || {}).path);
    if (point) { stop(); goTo(point.pointIndex); }
  });
  node.on("plotly_relayout", () => mark(Number(slider.value)));
}

document.addEventListener("pictures-drawn", () => {
  allPictures().forEach(listenTo);
  goTo(Number(slider.value));
});
document.addEventListener("units-changed", () => tell(Number(slider.value)));
goTo(Math.max(0, path.legs.length ? path.legs[0][0] : 0));
