"use strict";
// A point that stands for a jump leads to its debrief.
document.addEventListener("pictures-drawn", () => {
  for (const node of document.querySelectorAll(".plot[data-figure]")) {
    if (!node.on || node.dataset.leads) continue;
    node.dataset.leads = "yes";
    node.on("plotly_click", (event) => {
      const row = event.points[0].customdata;
      if (Array.isArray(row) && typeof row[4] === "string" && row[4]) window.location.href = row[4];
    });
  }
});
