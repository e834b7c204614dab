"use strict";
// Figures come in SI units with the quantity of every axis beside them; here they are put into the chosen units,
// turned, coloured for light or dark, and drawn. The rules are those of spec.py.
const PRINT_WIDTH = 344;
const SVG = "http://www.w3.org/2000/svg";

function turned(x, y, upDeg) {
  const a = (upDeg * Math.PI) / 180, c = Math.cos(a), s = Math.sin(a);
  const tx = x.map((e, i) => (e === null || y[i] === null ? null : e * c - y[i] * s));
  const ty = x.map((e, i) => (e === null || y[i] === null ? null : e * s + y[i] * c));
  return [tx, ty];
}

// A label stands above its point, or below where the nearest other point lies close above.
function labelSides(x, y) {
  const span = Math.max(Math.max(...x) - Math.min(...x), Math.max(...y) - Math.min(...y));
  return x.map((east, i) => {
    let near = -1, least = 0.45 * span;
    x.forEach((other, j) => {
      const distance = Math.hypot(other - east, y[j] - y[i]);
      if (j !== i && distance < least) [near, least] = [j, distance];
    });
    return near >= 0 && y[near] > y[i] ? "bottom center" : "top center";
  });
}

function withLabels(text, system) {
  return text.replace(/\{(height|speed|distance)\}/g, (_, quantity) => system[quantity].label);
}

function deepMap(node, change) {
  if (typeof node === "string") return change(node);
  if (Array.isArray(node)) return node.map((n) => (typeof n === "number" ? n : deepMap(n, change)));
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
  if (meta.labels) trace.textposition = labelSides(trace.x, trace.y);
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
    for (const [column, error, signed] of meta.rounded || []) {
      const step = system[meta.custom[column]].step;
      for (const row of trace.customdata) {
        if (row[column] === null) continue;
        row[column] = rounded(row[column], row[error] === null ? NaN : row[error], step, signed)[0].replace("-", "−");
      }
    }
  }
}

function viewRange(points, upDeg, si, aspect) {
  const [x, y] = turned(points.map((p) => p[0]), points.map((p) => p[1]), upDeg);
  const span = (v) => Math.max(...v) - Math.min(...v);
  const middle = (v) => (Math.max(...v) + Math.min(...v)) / 2;
  const pad = 0.1 * Math.max(span(x), span(y), 20);
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

// A picture that lies under several maps is carried by the first of them; the others name it (shell.py).
for (const spec of Object.values(PAGE.figures)) {
  for (const image of spec.layout.images || []) {
    if (!image.source.startsWith("#")) continue;
    const [name, number] = image.source.slice(1).split("/");
    image.source = PAGE.figures[name].layout.images[Number(number)].source;
  }
}

// A picture under the map lies north up; for a turned map it is turned on a canvas, once for each direction.
const turnedImages = new Map();

function showImages(layout, system, upDeg) {
  if (!layout.images) return;
  if (upDeg) layout.images = layout.images.map((image) => turnedImage(image, upDeg)).filter(Boolean);
  for (const image of layout.images) {
    for (const key of ["x", "y", "sizex", "sizey"]) image[key] /= system.distance.si;
  }
}

function turnedImage(image, upDeg) {
  const key = `${upDeg} ${image.source.length} ${image.x} ${image.y}`;
  if (!turnedImages.has(key)) {
    turnedImages.set(key, null);
    const plain = new Image();
    plain.onload = () => { turnedImages.set(key, turnOnCanvas(plain, image, upDeg)); redraw(); };
    plain.src = image.source;
  }
  const ready = turnedImages.get(key);
  return ready && Object.assign({}, image, ready);
}

function turnOnCanvas(plain, image, upDeg) {
  const a = (upDeg * Math.PI) / 180, c = Math.abs(Math.cos(a)), s = Math.abs(Math.sin(a));
  const canvas = document.createElement("canvas");
  canvas.width = Math.ceil(plain.width * c + plain.height * s);
  canvas.height = Math.ceil(plain.width * s + plain.height * c);
  const pen = canvas.getContext("2d");
  pen.translate(canvas.width / 2, canvas.height / 2);
  pen.rotate(-a);
  pen.drawImage(plain, -plain.width / 2, -plain.height / 2);
  const [mx, my] = turned([image.x + image.sizex / 2], [image.y - image.sizey / 2], upDeg);
  const sizex = image.sizex * c + image.sizey * s, sizey = image.sizex * s + image.sizey * c;
  return { source: canvas.toDataURL(), x: mx[0] - sizex / 2, y: my[0] + sizey / 2, sizex, sizey };
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
  showImages(shown.layout, system, upDeg);
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

// Smaller paper, smaller letters: everything that has a size shrinks by the same factor.
const SIZES = new Set(["size", "width", "thickness", "standoff", "l", "r", "t", "b"]);
function scaleLook(node, factor) {
  if (node === null || typeof node !== "object") return;
  for (const [key, value] of Object.entries(node)) {
    if (key === "meta" || key === "x" || key === "y" || key === "customdata") continue;
    if (SIZES.has(key) && typeof value === "number") node[key] = value * factor;
    else if (key === "size" && Array.isArray(value)) node[key] = value.map((v) => v * factor);
    else scaleLook(value, factor);
  }
}

const MARKS = {
  circle: "M13 3a4 4 0 1 0 .01 0z",
  diamond: "M13 2l5 5-5 5-5-5z",
  cross: "M13 1v12M7 7h12",
  x: "M9 3l8 8M17 3l-8 8",
  square: "M10 4h7v7h-7z",
  line: "M13 1v12",
  star: "M13.0 1.2L14.5 5.3L18.9 5.5L15.5 8.2L16.6 12.4L13.0 10.0L9.4 12.4L10.5 8.2L7.1 5.5L11.5 5.3z",
};
const DASHES = { dash: "5 3", dot: "2 3" };

function swatch(trace) {
  const line = trace.line || {}, marker = trace.marker || {};
  const parts = [];
  const draw = (tag, attributes) => parts.push([tag, attributes]);
  if (trace.type === "bar") draw("rect", { x: 4, y: 2, width: 18, height: 10, fill: marker.color });
  if (trace.fill) draw("rect", { x: 1, y: 2, width: 24, height: 10, fill: trace.fillcolor || "none", opacity: trace.opacity || 0.7 });
  if (trace.fill || /lines/.test(trace.mode)) {
    const dash = DASHES[line.dash] || "none", d = trace.fill ? "M1 2h24v10h-24z" : "M1 7h24";
    draw("path", { d, fill: "none", stroke: line.color || "currentColor", "stroke-width": Math.min(line.width || 0, 3), "stroke-dasharray": dash });
  }
  if (/markers/.test(trace.mode) && !Array.isArray(marker.size)) {
    const kind = Object.keys(MARKS).find((name) => (marker.symbol || "circle").startsWith(name)) || "circle";
    const hollow = !/^(circle|diamond|square)$/.test(marker.symbol || "circle"), edge = (marker.line || {}).color;
    const colour = hollow && !/-open$/.test(marker.symbol) ? edge || marker.color : marker.color;
    draw("path", { d: MARKS[kind], fill: hollow ? "none" : colour, stroke: colour, "stroke-width": 2 });
  }
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 26 14");
  svg.setAttribute("aria-hidden", "true");
  for (const [tag, attributes] of parts) {
    const node = document.createElementNS(SVG, tag);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    svg.appendChild(node);
  }
  return svg;
}

function drawKey(node, shown) {
  const figure = node.closest("figure");
  if (!figure || shown.layout.showlegend === false) return;
  let key = figure.querySelector(".key");
  if (!key) {
    key = document.createElement("ul");
    key.className = "key";
    figure.querySelector(".stage").after(key);
  }
  key.replaceChildren();
  for (const trace of shown.data) {
    if (trace.showlegend === false || !trace.name) continue;
    const item = document.createElement("li");
    const text = document.createElement("span");
    text.textContent = unescaped(trace.name);
    item.append(swatch(trace), text);
    key.appendChild(item);
  }
  shown.layout.showlegend = false;
}

function unescaped(text) {
  // Names are escaped for the plotting library, which reads entities; here they become plain text again.
  return text.replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&quot;/g, '"').replace(/&#x27;/g, "'").replace(/&amp;/g, "&");
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
  drawKey(node, shown);
  const factor = state.print ? 0.64 : size.width < 520 ? 0.84 : 1;
  if (factor !== 1) for (const part of [shown.layout, ...shown.data]) scaleLook(part, factor);
  shown.layout.width = size.width;
  shown.layout.height = size.height;
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
