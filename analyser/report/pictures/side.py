"""Height against the way still to go, and height and ground speed against time."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.debrief import Debrief
from analyser.pattern import Gate, Pattern
from analyser.report.pictures.bands import band_traces
from analyser.report.pictures.flown import FlownPath, flown_path
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, decimate, numbers

__all__ = ["height_to_go", "timeline"]

Vector = NDArray[np.float64]
SIDE = {"x": "distance", "y": "height"}
BEFORE_EXIT_S = 40.0
AFTER_LANDING_S = 20.0


def height_to_go(debrief: Debrief) -> Spec | None:
    """Height over the length of the way to touchdown, flown and planned, with the gates; None without a canopy flight."""
    path = flown_path(debrief)
    if path is None or int(np.isfinite(path.agl_m).sum()) < 2:
        return None
    data = [_height_error(debrief, path)]
    plan = debrief.plan.pattern if debrief.plan is not None else None
    reach = 0.0
    if plan is not None and plan.path:
        togo, agl = _planned_way(plan)
        reach = float(togo[0])
        data += _planned(plan, togo, agl)
    data += band_traces(path.togo_m, path.agl_m, path.agl_m, SIDE)
    data.append(_hover(path))
    top = 350.0
    if debrief.flown is not None and debrief.flown.gates:
        places = [place_at(path, g.agl_m) for g in debrief.flown.gates]
        reach, top = max([reach, *places]), max([top, *(g.agl_m for g in debrief.flown.gates)])
        data.append(_gates(debrief.flown.gates, places, LIGHT["flown"], "circle", "flown turn"))
    reach = reach or place_at(path, 350.0)
    layout = base_layout(
        0.5,
        xaxis=axis("way to go over the ground [{distance}]"),
        yaxis=axis("height [{height}]", rangemode="tozero"),
        meta={
            "narrow": 0.85,
            "print": 0.42,
            "ranges": {
                "xaxis": [1.12 * reach, -0.04 * reach, "distance"],
                "yaxis": [0.0, 1.2 * top, "height"],
            },
            "cursor": [{"x": "togo", "y": "agl", "qx": "distance", "qy": "height"}],
        },
    )
    return {"data": data, "layout": layout}


def place_at(path: FlownPath, agl_m: float) -> float:
    """Way still to go [m] where the flight last was at the height ``agl_m``, or nearest to it."""
    known = np.isfinite(path.agl_m)
    return float(np.interp(agl_m, path.agl_m[known][::-1], path.togo_m[known][::-1]))


def _planned_way(plan: Pattern) -> tuple[Vector, Vector]:
    way = np.array(plan.path, dtype=np.float64)
    steps = np.hypot(np.diff(way[:, 1]), np.diff(way[:, 2]))
    return np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]]), way[:, 3]


def _planned(plan: Pattern, togo: Vector, agl: Vector) -> list[dict[str, Any]]:
    line = {
        "type": "scatter",
        "mode": "lines",
        "name": "planned",
        "x": numbers(togo),
        "y": numbers(agl),
        "line": {"color": LIGHT["planned"], "width": 2, "dash": "dash"},
        "hoverinfo": "skip",
        "meta": SIDE,
    }
    places = [float(np.interp(g.agl_m, agl[::-1], togo[::-1])) for g in plan.gates]
    return [line, _gates(plan.gates, places, LIGHT["planned"], "diamond-open", "planned turn")]


def _gates(
    gates: tuple[Gate, ...], places: list[float], colour: str, symbol: str, title: str
) -> dict[str, Any]:
    flown = symbol == "circle"
    return {
        "type": "scatter",
        "mode": "markers+text" if flown else "markers",
        "name": f"{title} begins",
        "x": numbers(places),
        "y": numbers([g.agl_m for g in gates]),
        "error_y": {
            "array": numbers([g.agl_sd_m for g in gates]),
            "visible": flown,
            "color": colour,
            "thickness": 1.5,
        },
        "customdata": [[g.name] for g in gates],
        "texttemplate": "%{customdata[0]}",
        "textposition": "top right",
        "textfont": {"color": LIGHT["ink"], "size": 12, "shadow": LIGHT["halo"]},
        "hovertemplate": title + " onto %{customdata[0]}: %{y:.0f} {height}<extra></extra>",
        "marker": {"color": colour, "symbol": symbol, "size": 10, "line": {"width": 2, "color": colour}},
        "meta": SIDE | {"custom": [None]},
    }


def _height_error(debrief: Debrief, path: FlownPath) -> dict[str, Any]:
    spread = 2.0 * debrief.track.agl_sd_m
    i = decimate(0, path.agl_m.size, 200)
    x, low, high = path.togo_m[i], path.agl_m[i] - spread, path.agl_m[i] + spread
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "height error, 95 %",
        "x": numbers(np.concatenate([x, x[::-1]])),
        "y": numbers(np.concatenate([high, low[::-1]])),
        "fill": "toself",
        "fillcolor": LIGHT["rule"],
        "line": {"width": 0, "color": LIGHT["rule"]},
        "hoverinfo": "skip",
        "meta": SIDE,
    }


def _hover(path: FlownPath) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "showlegend": False,
        "x": numbers(path.togo_m),
        "y": numbers(path.agl_m),
        "marker": {"opacity": 0, "size": 9},
        "hovertemplate": "%{y:.0f} {height}, %{x:.0f} {distance} to go<extra></extra>",
        "meta": SIDE | {"path": True},
    }


def timeline(debrief: Debrief) -> Spec | None:
    """Height (above) and ground speed (below) against time; phases and legs as bands with their names."""
    track = debrief.track
    zero, begin, end = _window(debrief)
    inside = np.nonzero((track.t_s >= begin) & (track.t_s <= end))[0]
    if inside.size < 3:
        return None
    i = decimate(int(inside[0]), int(inside[-1]) + 1, 600)
    t = track.t_s[i] - zero
    speed = np.hypot(track.v_east[i], track.v_north[i])
    data = [
        _line(t, track.agl_m[i], "height", "y", "%{y:.0f} {height}"),
        _line(t, speed, "speed", "y2", "%{y:.0f} {speed} over the ground"),
    ]
    shapes, notes = _bands(debrief, zero, begin, end)
    layout = base_layout(
        0.55,
        showlegend=False,
        xaxis=axis("seconds from touchdown" if debrief.landing else "seconds from the end", anchor="y2"),
        yaxis=axis("height [{height}]", domain=[0.5, 1.0], rangemode="tozero"),
        yaxis2=axis("speed [{speed}]", domain=[0.0, 0.42], rangemode="tozero"),
        shapes=shapes,
        annotations=notes,
        meta={
            "narrow": 0.95,
            "print": 0.46,
            "cursor": [
                {"x": "t", "y": "agl", "qy": "height"},
                {"x": "t", "y": "gs", "qy": "speed", "yaxis": "yaxis2"},
            ],
        },
    )
    layout["xaxis"]["range"] = [round(begin - zero), round(end - zero)]
    return {"data": data, "layout": layout}


def _window(debrief: Debrief) -> tuple[float, float, float]:
    """Time zero, and the stretch worth showing: from shortly before the canopy flight (or exit) to shortly after touchdown."""
    t = debrief.track.t_s
    zero = debrief.phases.landing_s if debrief.phases.landing_s is not None else float(t[-1])
    air = [p for p in debrief.phases.intervals if p.name in ("free fall", "opening", "canopy")]
    begin = min((p.start_s for p in air), default=float(t[0]))
    return zero, max(begin - BEFORE_EXIT_S, float(t[0])), min(zero + AFTER_LANDING_S, float(t[-1]))


def _line(t: Vector, values: Vector, quantity: str, yaxis: str, hover: str) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": numbers(t),
        "y": numbers(values),
        "yaxis": yaxis,
        "line": {"color": LIGHT["flown"], "width": 2},
        "hovertemplate": hover + ", %{x:.0f} s<extra></extra>",
        "meta": {"y": quantity},
    }


def _bands(
    debrief: Debrief, zero: float, begin: float, end: float
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Alternating bands: phases behind the heights, legs behind the speeds."""
    phases = [(p.name, p.start_s, p.end_s) for p in debrief.phases.intervals]
    legs = [
        (leg.name, leg.turn.start_s if leg.turn else leg.start_s, leg.end_s)
        for leg in (debrief.flown.legs if debrief.flown is not None else ())
    ]
    shapes: list[dict[str, Any]] = []
    notes: list[dict[str, Any]] = []
    for rows, yref, top in ((phases, "y domain", 1.0), (legs, "y2 domain", 1.0)):
        for k, (name, a, b) in enumerate(rows):
            a, b = max(a, begin), min(b, end)
            if b <= a:
                continue
            shapes.append(_band(a - zero, b - zero, yref, LIGHT["band-a"] if k % 2 else LIGHT["band-b"]))
            notes.append(_band_name(name, (a + b) / 2 - zero, yref, top, (b - a) / (end - begin)))
    return shapes, notes


def _band(x0: float, x1: float, yref: str, colour: str) -> dict[str, Any]:
    return {
        "type": "rect",
        "layer": "below",
        "x0": round(x0, 1),
        "x1": round(x1, 1),
        "y0": 0,
        "y1": 1,
        "yref": yref,
        "fillcolor": colour,
        "line": {"width": 1, "color": LIGHT["rule"]},
    }


def _band_name(name: str, x: float, yref: str, y: float, share: float) -> dict[str, Any]:
    return {
        "text": name,
        "x": round(x, 1),
        "y": y,
        "yref": yref,
        "yanchor": "top",
        "showarrow": False,
        "textangle": 0 if share > 0.14 else -90,
        "font": {"size": 11, "color": LIGHT["soft"]},
    }
