"""The reach picture: height against the place on the wind line, with the wedge from which entry and target could be reached."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.debrief import Debrief
from analyser.reach import GoalReach, Reach
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, decimate, numbers

__all__ = ["reach_wedge"]

Vector = NDArray[np.float64]
META = {"x": "distance", "y": "height"}


def reach_wedge(debrief: Debrief) -> Spec | None:
    """Side view along the wind line; None where reach is not known."""
    reach = debrief.reach
    if reach is None or reach.t_s.size < 3:
        return None
    i = decimate(0, reach.t_s.size, 300)
    data: list[dict[str, Any]] = []
    if reach.entry is not None:
        data += _wedge(reach, reach.entry, i, "entry within reach", LIGHT["redrawn"], 0.22)
    data += _wedge(reach, reach.target, i, "target within reach", LIGHT["doubt"], 0.16)
    data += _doubt(reach, i)
    data.append(_flight(reach, i))
    data += _moments(reach)
    layout = base_layout(
        0.62,
        xaxis=axis("down ←  place on the wind line [{distance}]  → up the wind", zerolinewidth=2),
        yaxis=axis("height [{height}]", rangemode="tozero"),
        meta={
            "narrow": 0.95,
            "print": 0.42,
            "cursor": [{"x": "upwind", "y": "agl", "qx": "distance", "qy": "height"}],
        },
    )
    return {"data": data, "layout": layout}


def _wedge(
    reach: Reach, goal: GoalReach, i: NDArray[np.intp], name: str, colour: str, opacity: float
) -> list[dict[str, Any]]:
    """Between the farthest place down the wind and the farthest up the wind from which the goal could still be made."""
    low, high = reach.upwind_m[i] - goal.up_m[i], reach.upwind_m[i] + goal.down_m[i]
    agl = reach.agl_m[i]
    use = np.isfinite(low) & np.isfinite(high) & (high >= low)
    if int(use.sum()) < 2:
        return []
    x = np.concatenate([low[use], high[use][::-1]])
    y = np.concatenate([agl[use], agl[use][::-1]])
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "name": name,
            "x": numbers(x),
            "y": numbers(y),
            "fill": "toself",
            "fillcolor": colour,
            "opacity": opacity,
            "line": {"color": colour, "width": 1},
            "hoverinfo": "skip",
            "meta": META,
        }
    ]


def _flight(reach: Reach, i: NDArray[np.intp]) -> dict[str, Any]:
    goal = reach.entry or reach.target
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "flown",
        "x": numbers(reach.upwind_m[i]),
        "y": numbers(reach.agl_m[i]),
        "customdata": [[m, s] for m, s in zip(numbers(goal.margin_m[i]), numbers(goal.margin_sd_m[i]))],
        "line": {"color": LIGHT["flown"], "width": 2.5},
        "hovertemplate": "%{y:.0f} {height}: %{customdata[0]:.0f} ± %{customdata[1]:.0f} {distance} to spare<extra></extra>",
        "meta": META | {"custom": ["distance", "distance"]},
    }


def _doubt(reach: Reach, i: NDArray[np.intp]) -> list[dict[str, Any]]:
    """The flight where the margin is within twice its error: whether the place was in reach is too uncertain to say."""
    doubtful = (reach.entry or reach.target).doubtful[i]
    if not doubtful.any():
        return []
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "name": "too uncertain to say",
            "x": numbers(np.where(doubtful, reach.upwind_m[i], np.nan)),
            "y": numbers(np.where(doubtful, reach.agl_m[i], np.nan)),
            "connectgaps": False,
            "line": {"color": LIGHT["doubt"], "width": 7},
            "opacity": 0.7,
            "hoverinfo": "skip",
            "meta": META,
        }
    ]


def _moments(reach: Reach) -> list[dict[str, Any]]:
    goal = reach.entry or reach.target
    rows = [
        (goal.worst_t_s, goal.worst_agl_m, "least to spare", "circle-open"),
        (reach.crossed_t_s, reach.crossed_agl_m, "over to the downwind side", "line-ns"),
    ]
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": name,
            "x": numbers([float(np.interp(t, reach.t_s, reach.upwind_m))]),
            "y": numbers([agl]),
            "marker": {
                "symbol": symbol,
                "size": 14,
                "color": LIGHT["ink"],
                "line": {"width": 2.5, "color": LIGHT["ink"]},
            },
            "hovertemplate": name + " at %{y:.0f} {height}<extra></extra>",
            "meta": META,
        }
        for t, agl, name, symbol in rows
        if t is not None and agl is not None
    ]
