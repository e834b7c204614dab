"use strict";
// Numbers in the chosen units, rounded by their error exactly as the Python side does (units.py).
const PAGE = JSON.parse(document.getElementById("page-data").textContent);

function tieToEven(value, digits) {
  const scaled = value * 10 ** digits;
  const low = Math.floor(scaled);
  if (scaled - low === 0.5 && low / 10 ** digits !== value) {
    return ((low % 2 === 0 ? low : low + 1) / 10 ** digits).toFixed(digits);
  }
  return value.toFixed(digits);
}

function unsignedZero(text) {
  return /[1-9]/.test(text) ? text : text.replace(/^-/, "");
}

function wholeSteps(value, step) {
  return (Number(tieToEven(value / step, 0)) + 0) * step;
}

function rounded(value, sd, step, signed) {
  const sign = (text) => unsignedZero(signed && !text.startsWith("-") ? "+" + text : text);
  if (!(sd > 0) || !isFinite(sd)) {
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    return [sign(tieToEven(step >= 1 ? wholeSteps(value, step) : value, digits)), ""];
  }
  const exponent = Math.floor(Math.log10(sd));
  const leading = wholeSteps(sd, 10 ** (exponent - 2)) / 10 ** (exponent - 2);
  const place = Math.round(leading) <= 354 ? exponent - 1 : exponent;
  const digits = Math.max(0, -place);
  const at = (v) => tieToEven(wholeSteps(v, 10 ** place), digits);
  return [sign(at(value)), at(sd)];
}

function quantityText(units, quantity, value, sd, signed, bare) {
  if (value === null || !isFinite(value)) return "–";
  const unit = PAGE.systems[units][quantity];
  const [number, error] = rounded(value / unit.si, sd === null ? NaN : sd / unit.si, unit.step, signed);
  const shown = number.replace("-", "−");
  return error && !bare ? `${shown} ± ${error} ${unit.label}` : `${shown} ${unit.label}`;
}

function showQuantities(units, root) {
  for (const node of root.querySelectorAll("[data-q]")) {
    const { q, v, sd } = node.dataset;
    const unit = PAGE.systems[units][q], error = sd === undefined ? null : Number(sd);
    if (v !== undefined) node.textContent = quantityText(units, q, Number(v), error, "signed" in node.dataset, "bare" in node.dataset);
    else if (error !== null) node.textContent = `${rounded(error / unit.si, error / unit.si, 1, false)[1]} ${unit.label}`;
    else node.textContent = unit.label;
  }
}
