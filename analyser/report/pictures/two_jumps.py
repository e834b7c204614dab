"""Pictures of two jumps side by side: overlaid plan view and wind profiles."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analyser.angles import compass_deg
from analyser.debrief import Debrief
from analyser.report.pictures.aerial import lay_under
from analyser.report.pictures.flown import FlownPath, flown_path
from analyser.report.pictures.map import entry_time
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.parts import MAP, map_layout, rings
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers
from analyser.report.pictures.wind import direction_axis

__all__ = ["both_plan_views", "both_winds", "shift_between"]

LOOKS = (("first", LIGHT["planned"], "solid", "circle"), ("second", LIGHT["wind"], "dash", "diamond"))


def shift_between(a: Debrief, b: Debrief) -> tuple[float, float]:
    """East and north [m] by which the places of ``b`` must be moved to stand in the frame of ``a``."""
    east, north = a.track.frame.to_local(b.track.frame.lat_deg, b.track.frame.lon_deg)
    return float(east), float(north)


def both_plan_views(a: Debrief, b: Debrief) -> Spec | None:
    """Both flown paths from the entry on, with their turns and touchdowns; None without a canopy flight in either."""
    move = shift_between(a, b)
    far = math.hypot(*move) > 3000.0
    data: list[dict[str, Any]] = list(rings(a))
    points = [[0.0, 0.0]]
    for debrief, look, (east, north) in (
        (a, LOOKS[0], (0.0, 0.0)),
        (b, LOOKS[1], (0.0, 0.0) if far else move),
    ):
        path = flown_path(debrief, 600)
        if path is None:
            continue
        late = _late(debrief, path)
        e, n = path.east_m[late] + east, path.north_m[late] + north
        points += [
            [x, y] for x, y in zip(numbers(e[::10]), numbers(n[::10])) if x is not None and y is not None
        ]
        data += _jump(debrief, path, late, look, (east, north))
    if len(points) == 1:
        return None
    layout = map_layout({"pattern": points})
    del layout["meta"]["cursor"]
    spec = {"data": data, "layout": layout}
    # two fields laid on one another belong to neither picture
    return spec if far else lay_under(spec, a.settings.site.picture, a.track.frame)


def _late(debrief: Debrief, path: FlownPath) -> Any:
    begin = entry_time(debrief)
    return debrief.track.t_s[path.index] >= begin if begin is not None else path.agl_m < 350.0


def _jump(
    debrief: Debrief, path: FlownPath, late: Any, look: tuple[str, ...], move: tuple[float, float]
) -> list[dict[str, Any]]:
    name, colour, dash, symbol = look
    line = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": numbers(path.east_m[late] + move[0]),
        "y": numbers(path.north_m[late] + move[1]),
        "customdata": [[v] for v in numbers(path.agl_m[late])],
        "line": {"color": colour, "width": 2.5, "dash": dash},
        "hovertemplate": name + ": %{customdata[0]:.0f} {height}<extra></extra>",
        "meta": MAP | {"custom": ["height"]},
    }
    gates = debrief.flown.gates if debrief.flown is not None else ()
    turns = {
        "type": "scatter",
        "mode": "markers+text",
        "name": f"{name}, turn begins",
        "x": numbers([g.east_m + move[0] for g in gates]),
        "y": numbers([g.north_m + move[1] for g in gates]),
        "customdata": [[round(g.agl_m, 1), g.name] for g in gates],
        "texttemplate": "%{customdata[1]}<br>%{customdata[0]:.0f} {height}",
        "textposition": "top center",
        "textfont": {"color": LIGHT["ink"], "size": 12, "shadow": LIGHT["halo"]},
        "hoverinfo": "skip",
        "marker": {"symbol": symbol, "size": 9, "color": colour, "line": {"width": 1, "color": LIGHT["ink"]}},
        "meta": MAP | {"custom": ["height", None]},
    }
    end = {
        "type": "scatter",
        "mode": "markers",
        "name": f"{name}, touchdown",
        "x": numbers(path.east_m[-1:] + move[0]),
        "y": numbers(path.north_m[-1:] + move[1]),
        "hoverinfo": "skip",
        "marker": {"symbol": "x-thin", "size": 12, "color": colour, "line": {"width": 3, "color": colour}},
        "meta": MAP,
    }
    return [line, turns, end]


def both_winds(a: Debrief, b: Debrief) -> Spec | None:
    """Speed and direction by height of both jumps with one standard deviation; None where neither has a wind."""
    found = [(d.wind.profile, look) for d, look in ((a, LOOKS[0]), (b, LOOKS[1])) if d.wind is not None]
    if not found:
        return None
    middle, ticks = direction_axis([profile for profile, _ in found])
    data: list[dict[str, Any]] = []
    for profile, (name, colour, _, symbol) in found:
        use = [h for h, s in zip(profile.agl_m, profile.status) if s != "undetermined"]
        winds = [profile.at(float(h)) for h in use]
        marker = {"color": colour, "symbol": symbol, "size": 8}
        common = {
            "type": "scatter",
            "mode": "markers+lines",
            "y": numbers(use),
            "marker": marker,
            "line": {"color": colour, "width": 1},
        }
        deg = compass_deg([-w.east for w in winds], [-w.north for w in winds])
        near = middle + (np.mod(deg - middle + 180.0, 360.0) - 180.0)
        data.append(
            common
            | {
                "name": f"{name}, wind",
                "x": numbers([w.speed for w in winds], 2),
                "error_x": {
                    "array": numbers([profile.at(float(h)).speed_sd for h in use], 2),
                    "color": colour,
                    "thickness": 1.2,
                    "width": 3,
                },
                "hovertemplate": name + ", %{y:.0f} {height}: %{x:.1f} {speed}<extra></extra>",
                "meta": {"x": "speed", "y": "height"},
            }
        )
        data.append(
            common
            | {
                "showlegend": False,
                "xaxis": "x2",
                "x": numbers(near),
                "hoverinfo": "skip",
                "meta": {"y": "height"},
            }
        )
    layout = base_layout(
        0.62,
        xaxis=axis("speed [{speed}]", domain=[0.0, 0.47], rangemode="tozero"),
        xaxis2=axis("from [°]", domain=[0.53, 1.0], **ticks),
        yaxis=axis("height [{height}]"),
        meta={"narrow": 1.0, "print": 0.5},
    )
    return {"data": data, "layout": layout}
