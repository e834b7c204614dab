"""Plan view: metres about the target, flown path coloured by height, plan, gates, winds, position error."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.frame import LocalFrame
from analyser.pattern import Pattern
from analyser.report.pictures.aerial import Box, box_about, lay_under
from analyser.report.pictures.bands import band_traces, height_bar
from analyser.report.pictures.flown import FlownPath, flown_path
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.parts import (
    LABELLED_M,
    MAP,
    gate_points,
    map_layout,
    outcome_traces,
    pattern_traces,
    ring,
    rings,
)
from analyser.report.pictures.spec import Spec, numbers
from analyser.report.plain import escape

__all__ = ["map_layout", "pattern_traces", "pictured", "plan_view", "ring", "rings", "small_map"]

ARROW_SECONDS = 10.0
WITHIN_95 = 2.448


def plan_view(debrief: Debrief) -> Spec:
    """The plan view as a spec; whatever is missing is left out."""
    path = flown_path(debrief)
    data: list[dict[str, Any]] = [*_keep_outs(debrief), *_landing_areas(debrief), *rings(debrief)]
    if debrief.plan is not None:
        data += pattern_traces(debrief.plan.pattern, "planned", LIGHT["planned"], "dash")
    if debrief.plan_outcome is not None:
        data += outcome_traces(debrief.plan_outcome)
    if path is not None:
        data += _flown(debrief, path)
        data.append(_hover(path))
        data += _arrows(debrief, path)
    if debrief.flown is not None:
        data += _flown_gates(debrief, debrief.flown)
    data += _landing(debrief) + _next_time(debrief)
    spec = {"data": data, "layout": map_layout(_views(debrief, path), margin_bottom=76)}
    return lay_under(spec, debrief.settings.site.picture, debrief.track.frame)


def _views(debrief: Debrief, path: FlownPath | None) -> dict[str, list[list[float]]]:
    views = {"pattern": _pattern_points(debrief, path)}
    if path is not None:
        views["whole canopy flight"] = _corners(path.east_m, path.north_m)
    return views


def pictured(debrief: Debrief) -> Box:
    """The part of a picture of the field that the plan view shows, for every other map of the same page."""
    return box_about([p for view in _views(debrief, flown_path(debrief)).values() for p in view])


def small_map(debrief: Debrief) -> Spec | None:
    """The plan view without winds and labels, for a place where it is small; None without a canopy flight."""
    path = flown_path(debrief)
    if path is None:
        return None
    begin = entry_time(debrief)
    times = debrief.track.t_s[path.index]
    late = times >= begin if begin is not None else np.ones(times.shape, dtype=bool)
    data = rings(debrief, LABELLED_M[-1:])  # the one number of this map: how large it is
    if debrief.plan is not None:
        data += pattern_traces(debrief.plan.pattern, "planned", LIGHT["planned"], "dash")
    east, north = np.where(late, path.east_m, np.nan), np.where(late, path.north_m, np.nan)
    data += band_traces(east, north, path.agl_m, MAP, name="flown")
    data[-1] |= {"showlegend": True}
    data += _landing(debrief)[1:] + _next_time(debrief)
    layout = map_layout({"pattern": _pattern_points(debrief, path)})
    del layout["meta"]["cursor"]
    layout["margin"] = {"l": 8, "r": 8, "t": 8, "b": 8}
    layout["xaxis"]["showticklabels"] = layout["yaxis"]["showticklabels"] = False
    layout["meta"] |= {"aspect": 0.62, "narrow": 0.62, "print": 0.5}
    spec = {"data": data, "layout": layout}
    return lay_under(spec, debrief.settings.site.picture, debrief.track.frame, pictured(debrief), said=False)


def _flown_gates(debrief: Debrief, flown: Pattern) -> list[dict[str, Any]]:
    difference = {row.gate: (row.agl_m, row.agl_sd_m) for row in debrief.comparison}
    points = gate_points(flown.gates, LIGHT["flown"], "circle", "flown turn onto %{customdata[1]}")
    rows: list[list[Any]] = []
    for gate in flown.gates:
        change, sd = difference.get(gate.name, (None, None))
        rows.append(
            [round(gate.agl_m, 2), gate.name, change, sd if sd is not None else gate.agl_sd_m or None, sd]
        )
    points |= {
        "mode": "markers+text",
        "name": "turn begins",
        "showlegend": bool(rows),
        "customdata": rows,
        "textposition": "top center",
        "texttemplate": [
            "%{customdata[1]}<br>%{customdata[0]}"
            + (" (%{customdata[2]})" if r[2] is not None else "")
            + " {height}"
            for r in rows
        ],
        "textfont": {"color": LIGHT["ink"], "size": 12, "shadow": LIGHT["halo"]},
    }
    points["hovertemplate"] = "flown turn onto %{customdata[1]}<br>%{customdata[0]} {height}<extra></extra>"
    points["meta"] = MAP | {
        "custom": ["height", None, "height", "height", "height"],
        "rounded": [[0, 3, False], [2, 4, True]],
        "labels": True,
    }
    circles = [
        ring(g.east_m, g.north_m, WITHIN_95 * g.lateral_sd_m, line={"color": LIGHT["flown"], "width": 1})
        for g in flown.gates
        if g.lateral_sd_m > 0.0
    ]
    return [*circles, points]


def _flown(debrief: Debrief, path: FlownPath) -> list[dict[str, Any]]:
    """The path in bands; before the entry thinner and paler, so that the pattern stands out."""
    begin = entry_time(debrief)
    late = (
        debrief.track.t_s[path.index] >= begin if begin is not None else np.ones(path.t_s.shape, dtype=bool)
    )
    joint = late | np.concatenate([late[1:], [False]])
    before = np.where(late, np.nan, path.east_m)
    pattern = np.where(joint, path.east_m, np.nan)
    thin = {"width": 1.3}
    faint = band_traces(before, path.north_m, path.agl_m, MAP, name="before the entry", opacity=0.55)
    for trace in faint:
        trace["line"] = trace["line"] | thin
    return faint + band_traces(pattern, path.north_m, path.agl_m, MAP, name="flown")


def entry_time(debrief: Debrief) -> float | None:
    """Track time of the first flown gate; None without one."""
    gates = debrief.flown.gates if debrief.flown is not None else ()
    return min((g.t_s for g in gates if g.t_s is not None), default=None)


def _hover(path: FlownPath) -> dict[str, Any]:
    custom = np.column_stack([path.agl_m, path.ground_speed])
    return height_bar(
        path.east_m,
        path.north_m,
        path.agl_m,
        MAP | {"custom": ["height", "speed"], "path": True},
        customdata=[numbers(row) for row in custom],
        hovertemplate="%{customdata[0]:.0f} {height} · %{customdata[1]:.0f} {speed} over the ground"
        "<extra></extra>",
    )


def _arrows(debrief: Debrief, path: FlownPath) -> list[dict[str, Any]]:
    """Where the jumper passed each layer, the way of the air in ten seconds."""
    if debrief.wind is None:
        return []
    profile = debrief.wind.profile
    begin = entry_time(debrief)
    start = 0 if begin is None else int(np.argmin(np.abs(debrief.track.t_s[path.index] - begin)))
    agl = path.agl_m[start:]
    if not np.isfinite(agl).any():
        return []
    xs: list[float | None] = []
    ys: list[float | None] = []
    custom: list[list[Any]] = []
    for height, status in zip(profile.agl_m, profile.status):
        if status == "undetermined" or not height <= float(np.nanmax(agl)) + 10.0:
            continue
        i = start + int(np.nanargmin(np.abs(agl - height)))
        at = profile.at(float(height))
        e, n = float(path.east_m[i]), float(path.north_m[i])
        xs += [e, e + ARROW_SECONDS * at.east, None]
        ys += [n, n + ARROW_SECONDS * at.north, None]
        row = [round(float(height)), round(at.speed, 2), round(at.worst_sd, 2), round(at.from_deg)]
        custom += [row, row, row]
    return [
        {
            "type": "scatter",
            "mode": "lines+markers",
            "name": f"wind, way in {ARROW_SECONDS:.0f} s",
            "x": [None if v is None else round(v, 1) for v in xs],
            "y": [None if v is None else round(v, 1) for v in ys],
            "customdata": custom,
            "hovertemplate": "wind at %{customdata[0]:.0f} {height}: %{customdata[1]:.1f} ± %{customdata[2]:.1f} {speed}"
            " from %{customdata[3]:03d}°<extra></extra>",
            "line": {"color": LIGHT["wind"], "width": 2},
            "marker": {
                "symbol": "arrow",
                "angleref": "previous",
                "size": [0, 9, 0] * (len(xs) // 3),
                "color": LIGHT["wind"],
                "opacity": 1,
                "line": {"width": 0},
            },
            "meta": MAP | {"custom": ["height", "speed", "speed", None]},
        }
    ]


def _landing(debrief: Debrief) -> list[dict[str, Any]]:
    landing = debrief.landing
    if landing is None:
        return []
    sd = debrief.track.position_sd_m
    circle = ring(
        landing.east_m,
        landing.north_m,
        WITHIN_95 * sd,
        name="position error, 95 %",
        showlegend=True,
        fill="toself",
        fillcolor=LIGHT["doubt"],
        opacity=0.45,
        line={"color": LIGHT["ink"], "width": 1},
    )
    point = {
        "type": "scatter",
        "mode": "markers",
        "name": "touchdown",
        "x": [round(landing.east_m, 1)],
        "y": [round(landing.north_m, 1)],
        "hovertemplate": "touchdown<extra></extra>",
        "marker": {"symbol": "x-thin", "size": 11, "line": {"width": 3, "color": LIGHT["flown"]}},
        "meta": MAP,
    }
    return [circle, point]


def _next_time(debrief: Debrief) -> list[dict[str, Any]]:
    """Where the first advice would have the pattern entered, where it names a place."""
    first = debrief.advice[0] if debrief.advice else None
    if first is None or first.lat is None or first.lon is None:
        return []
    east, north = debrief.track.frame.to_local(first.lat, first.lon)
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "next time",
            "x": numbers([float(east)]),
            "y": numbers([float(north)]),
            "hovertemplate": "next time: be here<extra></extra>",
            "marker": {"symbol": "star-open", "size": 15, "color": LIGHT["accent"], "line": {"width": 2}},
            "meta": MAP,
        }
    ]


def _outline(frame: LocalFrame, polygon: tuple[tuple[float, float], ...], name: str) -> dict[str, Any]:
    east, north = frame.to_local([p[0] for p in polygon], [p[1] for p in polygon])
    return {
        "type": "scatter",
        "mode": "lines",
        "name": escape(name),
        "x": numbers(np.append(east, east[:1])),
        "y": numbers(np.append(north, north[:1])),
        "hoverinfo": "skip",
        "meta": MAP,
    }


def _landing_areas(debrief: Debrief) -> list[dict[str, Any]]:
    look = {"line": {"color": LIGHT["soft"], "width": 2, "dash": "dot"}}
    return [
        _outline(debrief.track.frame, area.polygon, area.name) | look
        for area in debrief.settings.site.landing_areas
    ]


def _keep_outs(debrief: Debrief) -> list[dict[str, Any]]:
    traces = []
    for area in debrief.settings.site.keep_outs:
        traces.append(
            _outline(debrief.track.frame, area.polygon, f"keep out: {area.name}")
            | {
                "fill": "toself",
                "fillpattern": {
                    "shape": "/",
                    "fgcolor": LIGHT["keep-out"],
                    "bgcolor": LIGHT["band-b"],
                    "size": 7,
                    "solidity": 0.15,
                },
                "line": {"color": LIGHT["keep-out"], "width": 1.5},
            }
        )
    return traces


def _pattern_points(debrief: Debrief, path: FlownPath | None) -> list[list[float]]:
    """What the close view must hold: target, landing, planned way, flown path from the entry on."""
    points = [[0.0, 0.0]]
    if debrief.landing is not None:
        points.append([debrief.landing.east_m, debrief.landing.north_m])
    if debrief.plan is not None:
        points += [[p[1], p[2]] for p in debrief.plan.pattern.path]
        points += [[g.east_m, g.north_m] for g in debrief.plan.pattern.gates]
    if path is not None:
        begin = entry_time(debrief)
        times = debrief.track.t_s[path.index]
        late = times >= begin if begin is not None else path.agl_m < 350.0
        if late.any():
            points += _corners(path.east_m[late], path.north_m[late])
    return [[round(e, 1), round(n, 1)] for e, n in points]


def _corners(east: Any, north: Any) -> list[list[float]]:
    """Extreme points in sixteen directions: enough for a box at any turn of the map, within a few metres."""
    angle = np.arange(16) * np.pi / 8
    reach = np.outer(np.sin(angle), east) + np.outer(np.cos(angle), north)
    chosen = np.unique(np.nanargmax(reach, axis=1))
    return [[round(float(east[i]), 1), round(float(north[i]), 1)] for i in chosen]
