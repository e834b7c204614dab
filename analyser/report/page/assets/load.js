"use strict";
// A numbered mark for everybody of a load.
const load = PAGE.load;

function markOn(full, rule, i, layer) {
  for (const flight of load.flights) {
    const at = placed(rule, flight[rule.x][i], flight[rule.y][i]);
    if (!at) continue;
    const [px, py] = [pixel(full.xaxis, at[0]), pixel(full.yaxis, at[1])];
    if (!within(full.xaxis, px) || !within(full.yaxis, py)) continue;
    const fill = (state.dark && PAGE.dark[flight.colour]) || flight.colour;
    shape(layer, "circle", { cx: px, cy: py, r: 10, class: "mark", style: `fill:${fill}` });
    shape(layer, "text", { x: px, y: py, class: "mark-no", "text-anchor": "middle", "dominant-baseline": "central" }, String(flight.no));
  }
}

function factsAt(i) {
  const seconds = Math.round(load.t[i]);
  const facts = [seconds < 0 ? `${-seconds} s before the first landed` : `${seconds} s after the first landed`];
  for (const flight of load.flights) {
    if (flight.agl[i] !== null) facts.push(`${flight.no}: ${quantityText(state.units, "height", Math.max(flight.agl[i], 0), null, false)}`);
  }
  return facts;
}

const goTo = follow(load.t, markOn, factsAt);

// A button in a table leads to the moment it tells of.
for (const link of document.querySelectorAll('a[href^="#at-"]')) {
  link.addEventListener("click", (event) => {
    event.preventDefault();
    const wanted = Number(link.hash.slice(4));
    goTo(load.t.reduce((best, t, i) => (Math.abs(t - wanted) < Math.abs(load.t[best] - wanted) ? i : best), 0));
    slider.focus();
  });
}
goTo(load.start || 0);
