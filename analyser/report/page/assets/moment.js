"use strict";
// One slider through the moments of a recording: marks drawn over all pictures, so that nothing has to be plotted again, and words beside it.
const slider = document.getElementById("moment");
const playButton = document.getElementById("play");
const readout = document.getElementById("readout");
const SECONDS_PER_SECOND = 8;

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

// Where a moment's values stand on the axes of a picture, in the units shown; null where they are not known.
function placed(rule, x, y) {
  if (x === null || y === null || x === undefined || y === undefined) return null;
  if (rule.turn && state.up === "wind" && PAGE.up) [[x], [y]] = turned([x], [y], PAGE.up.deg);
  const system = PAGE.systems[state.units];
  return [x / siOf(system, rule.qx), y / siOf(system, rule.qy)];
}

function pixel(axis, value) {
  return axis._offset + axis.l2p(value);
}

function within(axis, px) {
  return px >= axis._offset - 1 && px <= axis._offset + axis._length + 1;
}

// The slider over the times `t`; `draw` marks one moment in one picture by one of its rules, `facts` tells it, the first `spoken` aloud.
function follow(t, draw, facts, spoken = undefined) {
  const last = t.length - 1;
  let playing = 0, playedAt = 0, playTime = 0;
  slider.max = String(last);

  function mark(i) {
    for (const node of allPictures()) {
      const rules = PAGE.figures[node.dataset.figure].layout.meta.cursor;
      if (!rules || !node._fullLayout) continue;
      const layer = overlayOf(node);
      layer.replaceChildren();
      for (const rule of rules) draw(node._fullLayout, rule, i, layer);
    }
  }

  function tell(i) {
    const told = facts(i);
    readout.replaceChildren();
    for (const fact of told.filter(Boolean)) {
      const part = document.createElement("span");
      part.textContent = fact;
      readout.appendChild(part);
    }
    slider.setAttribute("aria-valuetext", told.slice(0, spoken).join(", "));
  }

  function goTo(i) {
    const at = Math.max(0, Math.min(last, Math.round(i)));
    slider.value = String(at);
    mark(at);
    tell(at);
  }

  function stop() {
    cancelAnimationFrame(playing);
    playing = 0;
    playButton.textContent = "Play";
    playButton.setAttribute("aria-pressed", "false");
  }

  function step(now) {
    playTime += ((now - playedAt) / 1000) * SECONDS_PER_SECOND;
    playedAt = now;
    const next = t.findIndex((time) => time >= playTime);
    const at = next < 0 ? last : next;
    goTo(at);
    if (at >= last) stop();
    else playing = requestAnimationFrame(step);
  }

  playButton.addEventListener("click", () => {
    if (playing) {
      stop();
      return;
    }
    const at = Number(slider.value);
    playTime = t[at >= last ? 0 : at];
    playButton.textContent = "Pause";
    playButton.setAttribute("aria-pressed", "true");
    playedAt = performance.now();
    playing = requestAnimationFrame(step);
  });
  slider.addEventListener("input", () => { stop(); goTo(Number(slider.value)); });
  document.addEventListener("pictures-drawn", () => {
    for (const node of allPictures()) {
      if (node.dataset.listens || !node.on) continue;
      node.dataset.listens = "yes";
      node.on("plotly_click", (event) => {
        const point = event.points.find((p) => (p.data.meta || {}).path);
        if (point) { stop(); goTo(point.pointIndex); }
      });
      node.on("plotly_relayout", () => mark(Number(slider.value)));
    }
    goTo(Number(slider.value));
  });
  document.addEventListener("units-changed", () => tell(Number(slider.value)));
  return (i) => { stop(); goTo(i); };
}
