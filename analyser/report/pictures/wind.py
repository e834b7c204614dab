"""Wind profile: speed and direction by height, with errors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.angles import signed_difference_deg, wind_from_deg
from analyser.debrief import Debrief
from analyser.report.pictures.bands import BAND_M
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers
from analyser.wind.profile import WindProfile

__all__ = ["direction_axis", "pattern_top", "wind_profile"]

Vector = NDArray[np.float64]


def wind_profile(debrief: Debrief) -> Spec | None:
    """Two panels over height: speed, and the direction the wind comes from; None where no wind was found."""
    if debrief.wind is None:
        return None
    profile = debrief.wind.profile
    middle, ticks = direction_axis([profile])
    data = _profile_traces(profile, middle)
    if debrief.plan is not None and debrief.plan.winds_from == "plan":
        data += _assumed_traces(debrief.plan.wind, middle, float(profile.agl_m[-1]))
    top = max(float(profile.agl_m[-1]), 50.0)
    shapes = _voids(profile)
    layout = base_layout(
        0.62,
        xaxis=axis("speed [{speed}]", domain=[0.0, 0.47], rangemode="tozero"),
        xaxis2=axis("from [°]", domain=[0.53, 1.0], **ticks),
        yaxis=axis("height [{height}]"),
        shapes=shapes,
        meta={
            "narrow": 1.0,
            "print": 0.5,
            "ranges": {"yaxis": [-0.04 * top, 1.04 * top, "height"]},
            "shapes": [[None, "height"]] * len(shapes),
            "cursor": [{"x": "ws", "y": "agl", "qx": "speed", "qy": "height"}],
        },
    )
    return {"data": data, "layout": layout}


def direction_axis(profiles: Sequence[WindProfile]) -> tuple[float, dict[str, Any]]:
    """The direction about which the axis is unrolled [deg], a multiple of 30, and the axis's tick values and texts."""
    means = [p.mean_below(float(p.agl_m[-1])) or (0.0, 0.0) for p in profiles]
    east, north = (sum(m[k] for m in means) for k in (0, 1))
    middle = float(np.round(wind_from_deg(east, north) / 30.0) * 30.0)
    spread = max((_spread(p, middle) for p in profiles), default=180.0)
    ticks = np.arange(
        middle - 180,
        middle + 181,
        10 if spread < 30.0 else 20 if spread < 60.0 else 30 if spread < 100.0 else 60,
    )
    return middle, {"tickvals": ticks.tolist(), "ticktext": [f"{int(v) % 360:03d}" for v in ticks]}


def _spread(profile: WindProfile, middle: float) -> float:
    """Farthest known direction from ``middle``, its error counted in [deg]."""
    known = [profile.at(h) for h, s in zip(profile.agl_m, profile.status) if s != "undetermined"]
    reach = [abs(float(signed_difference_deg(at.from_deg, middle))) + (at.from_sd_deg or 0.0) for at in known]
    return max(reach, default=0.0)


def _near(deg: Any, middle: float) -> Vector:
    return middle + signed_difference_deg(deg, middle)


def _profile_traces(profile: WindProfile, middle: float) -> list[dict[str, Any]]:
    traces: list[dict[str, Any]] = []
    for status, symbol in (("measured", "circle"), ("bridged", "circle-open")):
        rows = [profile.at(h) for h, s in zip(profile.agl_m, profile.status) if s == status]
        if not rows:
            continue
        look = {
            "color": LIGHT["wind"],
            "symbol": symbol,
            "size": 8,
            "line": {"width": 2, "color": LIGHT["wind"]},
        }
        common = {
            "type": "scatter",
            "mode": "markers",
            "y": numbers([at.agl_m for at in rows]),
            "marker": look,
        }
        bar = {"color": LIGHT["wind"], "thickness": 1.5, "width": 4}
        traces.append(
            common
            | {
                "name": f"wind, {status}",
                "x": numbers([at.speed for at in rows], 2),
                "error_x": bar | {"array": numbers([at.speed_sd for at in rows], 2)},
                "hovertemplate": "%{y:.0f} {height}: %{x:.1f} {speed}<extra></extra>",
                "meta": {"x": "speed", "y": "height"},
            }
        )
        known = [(at, sd) for at in rows if (sd := at.from_sd_deg) is not None]
        traces.append(
            common
            | {
                "showlegend": False,
                "xaxis": "x2",
                "y": numbers([at.agl_m for at, _ in known]),
                "x": numbers(_near([at.from_deg for at, _ in known], middle)) if known else [],
                "customdata": [[round(at.from_deg)] for at, _ in known],
                "error_x": bar | {"array": numbers([sd for _, sd in known])},
                "hovertemplate": "%{y:.0f} {height}: from %{customdata[0]:03d}°<extra></extra>",
                "meta": {"y": "height", "custom": [None]},
            }
        )
    return traces


def _assumed_traces(wind: WindProfile, middle: float, top: float) -> list[dict[str, Any]]:
    heights = np.unique(np.concatenate([np.linspace(0.0, top, 31), wind.agl_m[wind.agl_m <= top]]))
    east, north = wind.vector(heights)
    line = {
        "type": "scatter",
        "mode": "lines",
        "y": numbers(heights),
        "line": {"color": LIGHT["planned"], "width": 2, "dash": "dash"},
        "hoverinfo": "skip",
    }
    return [
        line
        | {
            "name": "wind the plan was made for",
            "x": numbers(np.hypot(east, north), 2),
            "meta": {"x": "speed", "y": "height"},
        },
        line
        | {
            "showlegend": False,
            "xaxis": "x2",
            "x": numbers(_near(wind_from_deg(east, north), middle)),
            "meta": {"y": "height"},
        },
    ]


def _voids(profile: WindProfile) -> list[dict[str, Any]]:
    """Bands over the heights where nothing could be known, in both panels."""
    h = profile.agl_m
    edges = np.concatenate([[h[0]], (h[:-1] + h[1:]) / 2, [h[-1]]])
    shapes = []
    for i, status in enumerate(profile.status):
        if status != "undetermined":
            continue
        for xref in ("x domain", "x2 domain"):
            shapes.append(
                {
                    "type": "rect",
                    "layer": "below",
                    "xref": xref,
                    "x0": 0,
                    "x1": 1,
                    "y0": float(edges[i]),
                    "y1": float(edges[i + 1]),
                    "fillcolor": LIGHT["band-a"],
                    "line": {"width": 0},
                }
            )
    return shapes


def pattern_top(debrief: Debrief) -> float:
    """Height up to which the pattern reaches [m]: the flown entry, or the planned one where that is higher."""
    gates = debrief.flown.gates if debrief.flown is not None else ()
    return max([gates[0].agl_m if gates else 0.0, 2 * BAND_M, debrief.settings.pattern.downwind_m])
