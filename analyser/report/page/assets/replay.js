"use strict";
// One marker along all pictures of a jump at once.
const path = PAGE.path;
path.gs = path.ve.map((e, i) => Math.hypot(e, path.vn[i]));
path.ws = path.we.map((e, i) => (e === null ? null : Math.hypot(e, path.wn[i])));

function markOn(full, rule, i, layer) {
  const ax = full[rule.xaxis || "xaxis"], ay = full[rule.yaxis || "yaxis"];
  const at = placed(rule, path[rule.x][i], path[rule.y][i]);
  if (!at) return;
  const [px, py] = [pixel(ax, at[0]), pixel(ay, at[1])];
  const centre = rule.r ? placed(rule, path[rule.cx][i], path[rule.cy][i]) : null;
  if (centre && path[rule.r][i] !== null) {
    const [cx, cy] = [pixel(ax, centre[0]), pixel(ay, centre[1])];
    const radius = path[rule.r][i] / siOf(PAGE.systems[state.units], rule.qx);
    const r = Math.abs(pixel(ax, centre[0] + radius) - cx);
    shape(layer, "circle", { cx, cy, r, class: "ring" });
    shape(layer, "line", { x1: pixel(ax, 0), y1: pixel(ay, 0), x2: cx, y2: cy, class: "wind" });
  }
  if (within(ax, px) && within(ay, py)) shape(layer, "circle", { cx: px, cy: py, r: 7, class: "dot" });
}

function windText(i) {
  if (path.ws[i] === null) return "wind not determined here";
  const from = (Math.round((Math.atan2(-path.we[i], -path.wn[i]) * 180) / Math.PI) + 360) % 360;
  return `wind ${quantityText(state.units, "speed", path.ws[i], null, false)} from ${String(from).padStart(3, "0")}°`;
}

function legAt(i) {
  let name = "";
  for (const [from, leg] of path.legs) if (i >= from) name = leg;
  return name ? `${name} leg` : "";
}

function factsAt(i) {
  const height = quantityText(state.units, "height", path.agl[i], null, false);
  const speed = quantityText(state.units, "speed", path.gs[i], null, false);
  return [`${Math.round(-path.t[i])} s to touchdown`, height, `${speed} over the ground`, windText(i), legAt(i)];
}

const goTo = follow(path.t, markOn, factsAt, 2);
goTo(Math.max(0, path.legs.length ? path.legs[0][0] : 0));
