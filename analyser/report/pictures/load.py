"""Pictures of a load: every flight in one plan view and one side view, numbered by their exits, and the columns of the moving marks."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analyser.angles import rotate
from analyser.load.flights import Flight
from analyser.load.study import Load
from analyser.report.pictures.aerial import lay_under
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.parts import MAP, map_layout
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers
from analyser.report.plain import escape
from analyser.wind.profile import WindProfile

__all__ = ["load_marks", "load_plan_view", "load_side_view", "load_winds"]

Vector = NDArray[np.float64]

COLOURS: Final = ("flown", "planned", "redrawn", "wind", "keep-out")
DASHES: Final = ("solid", "dash", "dot")
SIDE: Final = {"x": "distance", "y": "height"}
LATE_M: Final = 450.0
MOST: Final = 700


def load_marks(load: Load) -> dict[str, Any] | None:
    """Where everybody was at every second from the first opening to the last landing, for the page's slider, which starts at the
    nearest approach; None where nobody flew."""
    spans = [s for s in (f.under_canopy for f in load.flights) if s is not None]
    if not spans:
        return None
    begin, end = min(s[0] for s in spans), max(s[1] for s in spans)
    step = max(1.0, np.ceil((end - begin) / MOST))
    t = np.arange(begin, end + step, step)
    first = min(s[1] for s in spans)
    rows = []
    for n, flight in enumerate(load.flights):
        span = flight.under_canopy
        if span is None:
            continue
        flying = (t >= span[0]) & (t <= span[1])
        e, north, h = (np.where(flying, v, np.nan) for v in flight.place(t))
        rows.append(
            {
                "no": n + 1,
                "name": flight.name,
                "colour": _look(n)[0],
                "e": numbers(e),
                "n": numbers(north),
                "s": numbers(_along(load, e, north)),
                "agl": numbers(h),
            }
        )
    marks: dict[str, Any] = {"t": numbers(t - first), "flights": rows}
    if load.near:
        nearest = load.near[0].t_s - first
        marks["start"] = min(range(len(t)), key=lambda i: abs(marks["t"][i] - nearest))
    return marks


def load_plan_view(load: Load) -> Spec | None:
    """All flights from above."""
    data: list[dict[str, Any]] = []
    whole: list[list[float]] = []
    low: list[list[float]] = []
    for n, flight in enumerate(load.flights):
        flown = _flown(flight)
        if flown is None:
            continue
        e, north, h = flown
        data += _traces(n, flight, e, north, h, MAP)
        whole += [[float(x), float(y)] for x, y in zip(e[::10], north[::10])]
        late = h < LATE_M
        low += [[float(x), float(y)] for x, y in zip(e[late][::5], north[late][::5])]
    if not data:
        return None
    data += _closest(load, None)
    layout = map_layout({"whole": whole, "pattern": low or whole})
    layout["meta"]["cursor"] = [{"x": "e", "y": "n", "turn": True, "qx": "distance", "qy": "distance"}]
    pictures = (jump.settings.site.picture for jump in load.jumps)
    return lay_under({"data": data, "layout": layout}, next(filter(None, pictures), None), load.frame)


def load_side_view(load: Load) -> Spec | None:
    """All flights from the side, the direction of landing to the right."""
    data: list[dict[str, Any]] = []
    for n, flight in enumerate(load.flights):
        flown = _flown(flight)
        if flown is not None:
            e, north, h = flown
            data += _traces(n, flight, _along(load, e, north), h, h, SIDE)
    if not data:
        return None
    data += _closest(load, load.direction_deg or 0.0)
    layout = base_layout(
        0.62,
        xaxis=axis("along the direction of landing [{distance}]"),
        yaxis=axis("height [{height}]", rangemode="tozero"),
        meta={
            "narrow": 0.95,
            "print": 0.5,
            "cursor": [{"x": "s", "y": "agl", "qx": "distance", "qy": "height"}],
        },
    )
    return {"data": data, "layout": layout}


def load_winds(load: Load) -> Spec | None:
    """Wind speed by height: thin lines what every track found alone, one bold line the middle one of the load's."""
    if load.wind is None:
        return None
    data: list[dict[str, Any]] = []
    for n, jump in enumerate(load.alone):
        if jump.wind is not None and load.wind.used[n]:
            data.append(_wind(f"{n + 1} alone", jump.wind.profile, n, 1.2))
    best = max(range(len(load.jumps)), key=lambda k: load.wind.profiles[k].agl_m.size if load.wind else 0)
    profile = load.wind.profiles[best]
    line = _wind("all together", profile, 0, 3.5)
    line["line"] = {"color": LIGHT["accent"], "width": 3.5}
    line["mode"] = "lines+markers"
    line["marker"] = {"color": LIGHT["accent"], "size": 6}
    line["error_x"] = {
        "array": numbers([profile.at(h).speed_sd for h in _known(profile)], 2),
        "color": LIGHT["accent"],
        "thickness": 1.5,
        "width": 3,
    }
    layout = base_layout(
        0.62,
        xaxis=axis("speed [{speed}]", rangemode="tozero"),
        yaxis=axis("height [{height}]", rangemode="tozero"),
        meta={"narrow": 0.95, "print": 0.5},
    )
    return {"data": [*data, line], "layout": layout}


def _known(profile: WindProfile) -> list[float]:
    """The heights of a profile at which its wind is known [m]."""
    return [float(h) for h, s in zip(profile.agl_m, profile.status) if s != "undetermined"]


def _wind(name: str, profile: WindProfile, n: int, width: float) -> dict[str, Any]:
    colour, dash = _look(n)
    agl = _known(profile)
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": numbers([profile.at(h).speed for h in agl], 2),
        "y": numbers(agl),
        "line": {"color": colour, "width": width, "dash": dash},
        "hovertemplate": name + ": %{x:.1f} {speed} at %{y:.0f} {height}<extra></extra>",
        "meta": {"x": "speed", "y": "height"},
    }


def _look(n: int) -> tuple[str, str]:
    """Colour and dash of a flight by its number from 0; the number beside it tells more than fifteen apart."""
    return LIGHT[COLOURS[n % len(COLOURS)]], DASHES[n // len(COLOURS) % len(DASHES)]


def _flown(flight: Flight) -> tuple[Vector, Vector, Vector] | None:
    span = flight.under_canopy
    if span is None:
        return None
    step = max(0.5, (span[1] - span[0]) / MOST)
    e, n, h = flight.place(np.append(np.arange(span[0], span[1], step), span[1]))
    return e, n, h


def _along(load: Load, east: Vector, north: Vector) -> Vector:
    return np.asarray(rotate(east, north, -(load.direction_deg or 0.0))[1])


def _traces(
    n: int, flight: Flight, x: Vector, y: Vector, h: Vector, meta: dict[str, Any]
) -> list[dict[str, Any]]:
    """The line of one flight, and its number where it opened and where it landed."""
    colour, dash = _look(n)
    name = f"{n + 1} {escape(flight.name)}"
    line = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": numbers(x),
        "y": numbers(y),
        "customdata": [[v] for v in numbers(h)],
        "line": {"color": colour, "width": 2, "dash": dash},
        "hovertemplate": name + ": %{customdata[0]:.0f} {height}<extra></extra>",
        "meta": meta | {"custom": ["height"]},
    }
    ends = {
        "type": "scatter",
        "mode": "markers+text",
        "name": name,
        "showlegend": False,
        "x": numbers(x[[0, -1]]),
        "y": numbers(y[[0, -1]]),
        "text": [str(n + 1)] * 2,
        "textposition": "top center",
        "textfont": {"color": LIGHT["ink"], "size": 12, "shadow": LIGHT["halo"]},
        "hoverinfo": "skip",
        "marker": {
            "symbol": ["circle-open", "x-thin"],
            "size": 9,
            "color": colour,
            "line": {"width": 2, "color": colour},
        },
        "meta": meta,
    }
    return [line, ends]


def _closest(load: Load, direction_deg: float | None) -> list[dict[str, Any]]:
    """The places of the nearest approach of all, joined."""
    if not load.near:
        return []
    one = load.near[0]
    e, n, h = (np.array([a, b]) for a, b in zip(one.first, one.second))
    x, y = (e, n) if direction_deg is None else (_along(load, e, n), h)
    return [
        {
            "type": "scatter",
            "mode": "lines+markers",
            "name": f"nearest: {one.pair[0] + 1} and {one.pair[1] + 1}",
            "x": numbers(x),
            "y": numbers(y),
            "hoverinfo": "skip",
            "line": {"color": LIGHT["ink"], "width": 2},
            "marker": {
                "symbol": "diamond-open",
                "size": 12,
                "color": LIGHT["ink"],
                "line": {"width": 2, "color": LIGHT["ink"]},
            },
            "meta": MAP if direction_deg is None else SIDE,
        }
    ]
