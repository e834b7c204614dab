"""Hodograph: ground velocity of the pattern, the wind, and the circle that the airspeed draws about it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.atmosphere import true_airspeed_factor
from analyser.debrief import Debrief
from analyser.report.pictures.bands import band_of
from analyser.report.pictures.flown import FlownPath, flown_path
from analyser.report.pictures.palette import HEIGHT_SCALE, LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers
from analyser.report.pictures.wind import pattern_top

__all__ = ["hodograph"]


def hodograph(debrief: Debrief) -> Spec | None:
    """Ground velocity of the pattern's fixes, the mean wind below the entry, and the circle that the trim airspeed draws around it."""
    path = flown_path(debrief)
    if path is None:
        return None
    top = pattern_top(debrief)
    low = path.agl_m <= top
    if int(low.sum()) < 3:
        return None
    points = _velocity_points(path, low)
    focus = [[0.0, 0.0], *([float(a), float(b)] for a, b in zip(path.v_east[low], path.v_north[low]))]
    data = _circle_traces(debrief, top, focus) + points
    layout = base_layout(
        0.8,
        xaxis=axis("ground velocity [{speed}]", zeroline=True),
        yaxis=axis("", zeroline=True, scaleanchor="x", scaleratio=1),
        meta={
            "narrow": 0.95,
            "print": 0.6,
            "views": {"all": [[round(a, 1), round(b, 1)] for a, b in _box(focus)]},
            "view_quantity": "speed",
            "view_pad": 1.5,
            "cursor": [
                {
                    "x": "ve",
                    "y": "vn",
                    "turn": True,
                    "qx": "speed",
                    "qy": "speed",
                    "cx": "we",
                    "cy": "wn",
                    "r": "tas",
                }
            ],
        },
    )
    return {"data": data, "layout": layout}


def _box(points: list[list[float]]) -> list[list[float]]:
    """Extreme points in sixteen directions."""
    angle = np.arange(16) * np.pi / 8
    xy = np.array(points)
    best = np.nanargmax(np.outer(np.sin(angle), xy[:, 0]) + np.outer(np.cos(angle), xy[:, 1]), axis=1)
    return [points[i] for i in np.unique(best)]


def _velocity_points(path: FlownPath, low: NDArray[np.bool_]) -> list[dict[str, Any]]:
    traces = []
    band = band_of(path.agl_m)
    for step in range(len(HEIGHT_SCALE)):
        use = low & (band == step)
        if not use.any():
            continue
        traces.append(
            {
                "type": "scatter",
                "mode": "markers",
                "showlegend": False,
                "x": numbers(path.v_east[use], 2),
                "y": numbers(path.v_north[use], 2),
                "customdata": [[v] for v in numbers(path.agl_m[use])],
                "marker": {"color": HEIGHT_SCALE[step], "size": 5},
                "hovertemplate": "at %{customdata[0]:.0f} {height}<extra></extra>",
                "meta": {"x": "speed", "y": "speed", "turn": True, "custom": ["height"]},
            }
        )
    return traces


def _circle_traces(debrief: Debrief, top: float, focus: list[list[float]]) -> list[dict[str, Any]]:
    """Wind arrow and airspeed circle; their points join ``focus`` so that the view shows them whole."""
    if debrief.wind is None or debrief.wind.canopy.airspeed_mps is None:
        return []
    mean = debrief.wind.profile.mean_below(top)
    if mean is None:
        return []
    factor = float(true_airspeed_factor(debrief.air_altitude_m + top / 2))
    speed, sd = (
        debrief.wind.canopy.airspeed_mps * factor,
        (debrief.wind.canopy.airspeed_sd_mps or 0.0) * factor,
    )
    meta = {"x": "speed", "y": "speed", "turn": True}
    angle = np.linspace(0.0, 2 * np.pi, 73)

    def circle(radius: float, **more: Any) -> dict[str, Any]:
        x, y = mean[0] + radius * np.sin(angle), mean[1] + radius * np.cos(angle)
        return {
            "type": "scatter",
            "mode": "lines",
            "x": numbers(x, 2),
            "y": numbers(y, 2),
            "hoverinfo": "skip",
            "showlegend": False,
            "meta": meta,
        } | more

    edge = circle(speed)
    focus += [[a, b] for a, b in zip(edge["x"], edge["y"])]
    thin = {"color": LIGHT["wind"], "width": 1, "dash": "dot"}
    arrow = {
        "type": "scatter",
        "mode": "lines+markers",
        "name": "mean wind",
        "x": [0.0, round(mean[0], 2)],
        "y": [0.0, round(mean[1], 2)],
        "line": {"color": LIGHT["wind"], "width": 3},
        "marker": {
            "symbol": "arrow",
            "angleref": "previous",
            "size": [0, 13],
            "color": LIGHT["wind"],
            "opacity": 1,
        },
        "hoverinfo": "skip",
        "meta": meta,
    }
    solid = circle(
        speed, name="airspeed about it", showlegend=True, line={"color": LIGHT["wind"], "width": 2}
    )
    return [solid, circle(max(speed - 2 * sd, 0.0), line=thin), circle(speed + 2 * sd, line=thin), arrow]
