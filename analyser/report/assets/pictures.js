"use strict";
// Figures come in SI units with the quantity of every axis beside them; here they are put into the chosen units,
// turned, coloured for light or dark, and drawn. The rules are those of spec.py.
const PRINT_WIDTH = 344;

function turned(x, y, upDeg) {
  const a = (upDeg * Math.PI) / 180, c = Math.cos(a), s = Math.sin(a);
  const tx = x.map((e, i) => (e === null || y[i] === null ? null : e * c - y[i] * s));
  const ty = x.map((e, i) => (e === null || y[i] === null ? null : e * s + y[i] * c));
  return [tx, ty];
}

function withLabels(text, system) {
  return text.replace(/\{(height|speed|distance)\}/g, (_, quantity) => system[quantity].label);
}

function deepMap(node, change) {
  if (typeof node === "string") return change(node);
  if (Array.isArray(node)) return typeof node[0] === "number" ? node.slice() : node.map((n) => deepMap(n, change));
  if (node === null || typeof node !== "object") return node;
  const copy = {};
  for (const [key, value] of Object.entries(node)) copy[key] = key === "meta" ? value : deepMap(value, change);
  return copy;
}

function scaled(values, si) {
  return values.map((v) => (v === null ? null : v / si));
}

function showTrace(trace, system, upDeg) {
  const meta = trace.meta || {};
  if (meta.turn && upDeg) [trace.x, trace.y] = turned(trace.x, trace.y, upDeg);
  for (const key of ["x", "y"]) {
    if (!meta[key]) continue;
    const si = system[meta[key]].si;
    trace[key] = scaled(trace[key], si);
    const error = trace["error_" + key];
    if (error) error.array = scaled(error.array, si);
    if (meta.base === key) trace.base = scaled(trace.base, si);
  }
  if (meta.color) {
    const si = system[meta.color].si, marker = trace.marker;
    marker.color = scaled(marker.color, si);
    marker.cmin /= si;
    marker.cmax /= si;
  }
  if (meta.custom) {
    const factors = meta.custom.map((q) => (q ? system[q].si : 1));
    trace.customdata = trace.customdata.map((row) => row.map((v, i) => (typeof v === "number" ? v / factors[i] : v)));
  }
}

function viewRange(points, upDeg, si, aspect) {
  const [x, y] = turned(points.map((p) => p[0]), points.map((p) => p[1]), upDeg);
  const span = (v) => Math.max(...v) - Math.min(...v);
  const middle = (v) => (Math.max(...v) + Math.min(...v)) / 2;
  const pad = 0.07 * Math.max(span(x), span(y), 20);
  const halfWidth = Math.max(span(x) / 2 + pad, (span(y) / 2 + pad) / aspect);
  const halfHeight = Math.max(span(y) / 2 + pad, halfWidth * aspect);
  const range = (centre, half) => [(centre - half) / si, (centre + half) / si];
  return [range(middle(x), halfWidth), range(middle(y), halfHeight)];
}

function showItem(item, quantities, system) {
  ["x", "y"].forEach((key, i) => {
    if (!quantities[i]) return;
    for (const name of [key, key + "0", key + "1"]) {
      if (typeof item[name] === "number") item[name] /= system[quantities[i]].si;
    }
  });
}

function siOf(system, quantity) {
  return quantity ? system[quantity].si : 1;
}

function shownSpec(spec, state, aspect) {
  const system = PAGE.systems[state.units];
  const upDeg = state.up === "wind" && PAGE.up ? PAGE.up.deg : 0;
  const colour = (text) => (state.dark && PAGE.dark[text]) || text;
  const shown = deepMap(spec, (text) => colour(withLabels(text, system)));
  for (const trace of shown.data) showTrace(trace, system, upDeg);
  const meta = shown.layout.meta || {};
  for (const key of ["shapes", "annotations"]) {
    (meta[key] || []).forEach((quantities, i) => showItem(shown.layout[key][i], quantities, system));
  }
  for (const [name, [low, high, quantity]] of Object.entries(meta.ranges || {})) {
    shown.layout[name].range = scaled([low, high], siOf(system, quantity));
  }
  if (meta.views) {
    const name = meta.views[state.view] ? state.view : Object.keys(meta.views)[0];
    const [xr, yr] = viewRange(meta.views[name], upDeg, siOf(system, meta.view_quantity), aspect);
    shown.layout.xaxis.range = xr;
    shown.layout.yaxis.range = yr;
  }
  return shown;
}

function pictureSize(node, spec, state) {
  const meta = spec.layout.meta;
  const width = state.print ? PRINT_WIDTH : node.clientWidth;
  const aspect = state.print ? meta.print || meta.aspect : width < 520 ? meta.narrow || meta.aspect : meta.aspect;
  return { width, height: Math.round(width * aspect), aspect };
}

function drawPicture(node, state) {
  const spec = PAGE.figures[node.dataset.figure];
  const size = pictureSize(node, spec, state);
  if (!spec || size.width < 40) return false;
  const shown = shownSpec(spec, state, size.aspect);
  shown.layout.width = size.width;
  shown.layout.height = size.height;
  shown.layout.font.size = state.print ? 9 : size.width < 520 ? 11 : 13;
  if (state.print || size.width < 520) shown.layout.legend.font.size = state.print ? 8 : 10;
  Plotly.react(node, shown.data, shown.layout, { displayModeBar: false, responsive: false, doubleClick: "reset" });
  node.dataset.drawn = `${state.units} ${state.up} ${state.dark ? "dark" : "light"}`;
  return true;
}

function allPictures() {
  return [...document.querySelectorAll(".plot[data-figure]")];
}

let drawTurn = 0;
function drawAll(state, whenDone) {
  // One picture per frame, so that the page stays alive; a newer call replaces one under way.
  const turn = ++drawTurn;
  const waiting = allPictures();
  document.documentElement.dataset.drawn = "no";
  const next = () => {
    if (turn !== drawTurn) return;
    const node = waiting.shift();
    if (node) {
      drawPicture(node, state);
      setTimeout(next, 0);
    } else {
      document.documentElement.dataset.drawn = "yes";
      if (whenDone) whenDone();
    }
  };
  next();
}

function drawAllNow(state) {
  drawTurn++;
  for (const node of allPictures()) drawPicture(node, state);
  document.documentElement.dataset.drawn = "yes";
}
