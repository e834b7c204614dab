"""Parts that every map shares: layout with equal scales, circles, rings about the target, planned patterns, ellipses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.pattern import Gate, Pattern, gate_words
from analyser.replay import PlanCheck
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import axis, base_layout, numbers

__all__ = [
    "LABELLED_M",
    "MAP",
    "gate_points",
    "map_layout",
    "outcome_traces",
    "pattern_traces",
    "ring",
    "rings",
]

RINGS_M = (10.0, 20.0, 50.0, 100.0)
LABELLED_M = (50.0, 100.0)
MAP = {"x": "distance", "y": "distance", "turn": True}


def map_layout(views: dict[str, list[list[float]]], *, margin_bottom: int = 30) -> dict[str, Any]:
    """Equal scales, no numbers on the axes' edges but a grid in the chosen unit."""
    layout = base_layout(
        0.86,
        xaxis=axis("", zeroline=False, ticksuffix=" {distance}", showticksuffix="last"),
        yaxis=axis(
            "", zeroline=False, ticksuffix=" {distance}", showticksuffix="last", scaleanchor="x", scaleratio=1
        ),
        meta={
            "narrow": 1.05,
            "print": 0.82,
            "views": views,
            "view_quantity": "distance",
            "cursor": [{"x": "e", "y": "n", "turn": True, "qx": "distance", "qy": "distance"}],
        },
    )
    layout["margin"]["b"] = margin_bottom
    return layout


def ring(east: float, north: float, radius: float, **more: Any) -> dict[str, Any]:
    """A circle as a line trace that turns with the map."""
    angle = np.linspace(0.0, 2 * np.pi, 73)
    return {
        "type": "scatter",
        "mode": "lines",
        "x": numbers(east + radius * np.sin(angle), 2),
        "y": numbers(north + radius * np.cos(angle), 2),
        "hoverinfo": "skip",
        "showlegend": False,
        "meta": MAP,
    } | more


def pattern_traces(pattern: Pattern, name: str, colour: str, dash: str) -> list[dict[str, Any]]:
    """A planned pattern: its way over the ground and its gates."""
    way = np.array([(p[1], p[2]) for p in pattern.path] or [(g.east_m, g.north_m) for g in pattern.gates])
    if way.size == 0:
        return []
    line = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": numbers(way[:, 0]),
        "y": numbers(way[:, 1]),
        "line": {"color": colour, "width": 2, "dash": dash},
        "hoverinfo": "skip",
        "meta": MAP,
    }
    gates = gate_points(pattern.gates, colour, "diamond-open", "%{customdata[1]}")
    for i, row in enumerate(gates["customdata"]):
        row[1] = f"{name}{' ' if i else ': '}{gate_words(row[1], first=i == 0)}"
    return [line, gates]


def gate_points(gates: tuple[Gate, ...], colour: str, symbol: str, title: str) -> dict[str, Any]:
    """Gates as marks with their height in the hover text."""
    return {
        "type": "scatter",
        "mode": "markers",
        "showlegend": False,
        "x": numbers([g.east_m for g in gates]),
        "y": numbers([g.north_m for g in gates]),
        "customdata": [[round(g.agl_m, 1), g.name] for g in gates],
        "hovertemplate": title + "<br>%{customdata[0]:.0f} {height}<extra></extra>",
        "marker": {"color": colour, "symbol": symbol, "size": 11, "line": {"width": 2, "color": colour}},
        "meta": MAP | {"custom": ["height", None]},
    }


def rings(debrief: Debrief, labelled_m: Sequence[float] = LABELLED_M) -> list[dict[str, Any]]:
    """Rings of distance about the target with the labels of some and its cross; nothing without a target."""
    if not debrief.has_target:
        return []
    style = {"color": LIGHT["doubt"], "width": 1, "dash": "dot"}
    labels = {
        "type": "scatter",
        "mode": "text",
        "x": [0.0] * len(labelled_m),
        "y": [-r for r in labelled_m],
        "customdata": [[r] for r in labelled_m],
        "texttemplate": "%{customdata[0]:.0f} {distance}",
        "textfont": {"color": LIGHT["soft"], "size": 10, "shadow": LIGHT["halo"]},
        "textposition": "bottom center",
        "hoverinfo": "skip",
        "showlegend": False,
        "meta": {"x": "distance", "y": "distance", "custom": ["distance"]},
    }
    cross = {
        "type": "scatter",
        "mode": "markers",
        "name": "target",
        "x": [0.0],
        "y": [0.0],
        "hovertemplate": "target<extra></extra>",
        "marker": {"symbol": "cross-thin", "size": 16, "line": {"width": 2.5, "color": LIGHT["ink"]}},
        "meta": MAP,
    }
    return [*(ring(0.0, 0.0, r, line=style) for r in RINGS_M), labels, cross]


def outcome_traces(check: PlanCheck) -> list[dict[str, Any]]:
    """Where the plan as made would have ended in the wind that was there, with its 90 % ellipse."""
    angle = np.linspace(0.0, 2 * np.pi, 49)
    axis_deg = np.radians(check.major_deg)
    a, b = check.semi_major_m * np.cos(angle), check.semi_minor_m * np.sin(angle)
    east = check.east_m + a * np.sin(axis_deg) + b * np.cos(axis_deg)
    north = check.north_m + a * np.cos(axis_deg) - b * np.sin(axis_deg)
    ellipse = {
        "type": "scatter",
        "mode": "lines",
        "name": "90 % of landings of the plan as made",
        "x": numbers(east),
        "y": numbers(north),
        "fill": "toself",
        "fillcolor": LIGHT["doubt"],
        "opacity": 0.5,
        "line": {"color": LIGHT["planned"], "width": 1.5},
        "hoverinfo": "skip",
        "meta": MAP,
    }
    middle = {
        "type": "scatter",
        "mode": "markers",
        "showlegend": False,
        "x": [round(check.east_m, 1)],
        "y": [round(check.north_m, 1)],
        "marker": {
            "symbol": "star-diamond-open",
            "size": 10,
            "color": LIGHT["planned"],
            "line": {"width": 2},
        },
        "hovertemplate": "where the plan would have ended<extra></extra>",
        "meta": MAP,
    }
    return [ellipse, middle]
