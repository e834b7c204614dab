"use strict";
// What the jumper remembers comes first; the measured part of the page stays veiled until the answers are given.
const form = document.getElementById("recall-form");
const answers = document.getElementById("recall-answers");
const story = document.getElementById("story");
const replay = document.querySelector(".replay");
const storeKey = `recall-${PAGE.key}`;

function veil(on) {
  story.hidden = on;
  story.classList.toggle("veiled", on);
  story.parentElement.classList.toggle("asking", on);
  if (replay) replay.hidden = on;
  answers.hidden = on;
  form.hidden = !on;
}

function remember() {
  const given = { units: state.units };
  for (const field of form.elements) if (field.name) given[field.name] = field.value;
  try { localStorage.setItem(storeKey, JSON.stringify(given)); } catch { /* a browser may forbid it: the page keeps them */ }
}

function recallStored() {
  try {
    const given = JSON.parse(localStorage.getItem(storeKey) || "{}");
    for (const field of form.elements) if (field.name && typeof given[field.name] === "string") field.value = given[field.name];
  } catch { /* nothing stored */ }
}

function showAnswers() {
  for (const cell of answers.querySelectorAll("[data-answer]")) {
    const field = form.elements[cell.dataset.answer];
    const unit = field.type === "number" && field.value ? ` ${PAGE.systems[state.units].height.label}` : "";
    cell.textContent = field.value ? field.value + unit : "–";
  }
}

let answeredIn = state.units;
document.addEventListener("units-changed", () => {
  // Heights already written down change their unit with the page.
  const ratio = PAGE.systems[answeredIn].height.si / PAGE.systems[state.units].height.si;
  for (const field of form.elements) {
    if (field.type === "number" && field.value && ratio !== 1) field.value = String(Math.round(Number(field.value) * ratio));
  }
  answeredIn = state.units;
  showAnswers();
});

form.addEventListener("submit", (event) => {
  event.preventDefault();
  remember();
  showAnswers();
  veil(false);
  redraw();
  answers.querySelector(".table").focus();
});
document.getElementById("recall-again").addEventListener("click", () => veil(true));
recallStored();
veil(true);
