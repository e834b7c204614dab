"""The budget of the miss: signed bars that add up from the target to the landing, along and across."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers

__all__ = ["budget_bars"]


def budget_bars(debrief: Debrief) -> Spec | None:
    """Two panels of bars, each starting where the one above it ended; None without a budget."""
    rows = debrief.budget
    if not rows:
        return None
    names = [r.cause for r in rows] + ["landing"]
    data = []
    for values, sds, xaxis in (
        ([r.along_m for r in rows], [r.along_sd_m for r in rows], "x"),
        ([r.across_m for r in rows], [r.across_sd_m for r in rows], "x2"),
    ):
        data += _panel(names, np.array(values), np.array(sds), xaxis)
    layout = base_layout(
        0.45,
        showlegend=False,
        barmode="overlay",
        bargap=0.35,
        xaxis=axis(
            "along [{distance}]<br>short ← → long",
            domain=[0.0, 0.48],
            zerolinewidth=2,
            nticks=5,
            tickangle=0,
            zerolinecolor=LIGHT["ink"],
        ),
        xaxis2=axis(
            "across [{distance}]<br>left ← → right",
            domain=[0.52, 1.0],
            zerolinewidth=2,
            nticks=5,
            tickangle=0,
            zerolinecolor=LIGHT["ink"],
        ),
        yaxis=axis("", autorange="reversed", showgrid=False),
        meta={"narrow": 0.85, "print": 0.4},
    )
    return {"data": data, "layout": layout}


def _panel(names: list[str], values: Any, sds: Any, xaxis: str) -> list[dict[str, Any]]:
    ends = np.cumsum(values)
    starts = ends - values
    total = float(ends[-1])
    bars = {
        "type": "bar",
        "orientation": "h",
        "xaxis": xaxis,
        "y": names,
        "x": numbers([*values, total]),
        "base": numbers([*starts, 0.0]),
        "error_x": {"array": numbers([*sds, np.nan]), "color": LIGHT["ink"], "thickness": 1.5, "width": 4},
        "marker": {
            "color": [LIGHT["accent"]] * len(values) + [LIGHT["flown"]],
            "pattern": {
                "shape": ["/" if v < 0 else "" for v in values] + [""],
                "fgcolor": LIGHT["sheet"],
                "solidity": 0.3,
            },
        },
        "customdata": [[v] for v in numbers([*values, total])],
        "hovertemplate": "%{y}: %{customdata[0]:+.0f} {distance}<extra></extra>",
        "meta": {"x": "distance", "base": "x", "custom": ["distance"]},
    }
    links_x: list[float | None] = []
    links_y: list[str | None] = []
    for i, end in enumerate(ends):
        links_x += [float(end), float(end), None]
        links_y += [names[i], names[i + 1], None]
    link = {
        "type": "scatter",
        "mode": "lines",
        "xaxis": xaxis,
        "x": [None if v is None else round(v, 1) for v in links_x],
        "y": links_y,
        "line": {"color": LIGHT["doubt"], "width": 1, "dash": "dot"},
        "hoverinfo": "skip",
        "meta": {"x": "distance"},
    }
    return [link, bars]
