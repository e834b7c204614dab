"""The pictures of a season, one jumper at a time: landings about the target, offsets over time and wind, gates, causes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analyser.logbook.jump_columns import CAUSES
from analyser.pattern import LEG_NAMES
from analyser.report.pictures.map import map_layout, ring
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec, axis, base_layout, numbers
from analyser.report.plain import escape
from analyser.season.figures import rolling
from analyser.season.jumps import Jumps
from analyser.season.robust import robust_sd
from analyser.season.summarise import GroupSeason

__all__ = ["Part", "jumper_pictures"]

LIGHT_AIR_MPS: Final = 1.5  # below it the wind gives no direction and the landing direction points up
MOST_BARS: Final = 60
LOOKS: Final = (("circle", "flown"), ("diamond", "planned"), ("square", "redrawn"), ("x", "keep-out"))
CAUSE_COLOURS: Final = ("wind", "keep-out", "planned", "redrawn", "flown")
Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One canopy of a jumper: its name as shown, its jumps and figures, and for every jump its place in the jumper's order of
    landing (from 1), a label and a link (or "")."""

    name: str
    jumps: Jumps
    group: GroupSeason
    places: tuple[int, ...]
    labels: tuple[str, ...]
    links: tuple[str, ...]


def jumper_pictures(parts: list[Part], *, dates: bool = True) -> dict[str, Spec]:
    """Every picture the jumps can fill, by name; ``dates`` False counts jumps on the time axis instead."""
    made = {
        "landings": _landings(parts),
        "over-time": _over_time(parts, dates),
        "over-wind": _over_wind(parts),
        "gates": _gates(parts, dates),
        "causes": _causes(parts),
        "turn-height": _turn_height(parts),
    }
    return {name: spec for name, spec in made.items() if spec is not None}


def into_wind(jumps: Jumps) -> tuple[Vector, Vector]:
    """Offsets [m] with the wind coming from above: right of and beyond the target; in light air the landing direction is up."""
    landing = np.radians(jumps["landing_deg"])
    along, across = jumps["along_m"], jumps["across_m"]
    east = along * np.sin(landing) + across * np.cos(landing)
    north = along * np.cos(landing) - across * np.sin(landing)
    windy = jumps["wind_speed_mps"] >= LIGHT_AIR_MPS
    up = np.where(windy, np.radians(jumps["wind_from_deg"]), landing)
    return east * np.cos(up) - north * np.sin(up), east * np.sin(up) + north * np.cos(up)


def _look(i: int) -> dict[str, Any]:
    symbol, role = LOOKS[i % len(LOOKS)]
    return {"symbol": symbol, "size": 8, "color": LIGHT[role]}


def _named(part: Part, r: int) -> list[Any]:
    """Name and link of one jump, in the places where every point has them."""
    return [escape(part.labels[r]), None, None, None, part.links[r]]


def _points(part: Part, i: int, x: Any, y: Any, good: NDArray[np.bool_], **more: Any) -> dict[str, Any]:
    rows = np.flatnonzero(good)
    along, across, wind = (numbers(part.jumps[n][rows], 2) for n in ("along_m", "across_m", "wind_speed_mps"))
    custom = [
        [escape(part.labels[r]), a, c, w, part.links[r]]
        for r, a, c, w in zip(rows, along, across, wind, strict=True)
    ]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": escape(part.name),
        "x": x,
        "y": y,
        "customdata": custom,
        "marker": _look(i),
        "hovertemplate": "%{customdata[0]}<br>along %{customdata[1]:+.0f} {distance}, across %{customdata[2]:+.0f} {distance}"
        "<br>wind %{customdata[3]:.0f} {speed}<extra></extra>",
    } | more


_CUSTOM: Final = [None, "distance", "distance", "speed", None]


def _landings(parts: list[Part]) -> Spec | None:
    style = {"color": LIGHT["doubt"], "width": 1, "dash": "dot"}
    data: list[dict[str, Any]] = [ring(0.0, 0.0, r, line=style) for r in (10.0, 20.0, 50.0, 100.0)]
    seen = [[-20.0, -20.0], [20.0, 20.0]]
    places = [into_wind(part.jumps) for part in parts]
    far = _far([np.hypot(right, up) for right, up in places])
    beyond = 0
    for i, (part, (right, up)) in enumerate(zip(parts, places, strict=True)):
        good = np.isfinite(right) & np.isfinite(up)
        if not np.any(good):
            continue
        x, y = right[good], up[good]
        near = np.hypot(x, y) <= far
        beyond += int(np.sum(~near))
        seen += [[float(f(x[near])), float(f(y[near]))] for f in (np.min, np.max) if np.any(near)]
        meta = {"x": "distance", "y": "distance", "custom": _CUSTOM}
        data.append(_points(part, i, numbers(x), numbers(y), good, meta=meta))
        if part.group.accuracy is not None:
            data += _ellipses(x, y, i)
            seen += [[f(data[-1]["x"]), f(data[-1]["y"])] for f in (min, max)]
    if len(data) == 4:
        return None
    cross = {"symbol": "cross-thin", "size": 16, "line": {"width": 2.5, "color": LIGHT["ink"]}}
    data.append(
        {
            "type": "scatter",
            "mode": "markers",
            "name": "target",
            "x": [0.0],
            "y": [0.0],
            "marker": cross,
            "hoverinfo": "name",
        }
    )
    layout = map_layout({"landings": seen})
    del layout["meta"]["cursor"]
    if beyond:
        layout["annotations"] = [_corner(f"{beyond} farther out, see the table of jumps")]
    return {"data": data, "layout": layout}


def _far(radii: list[Vector]) -> float:
    """The distance [m] up to which landings fit into the first view: twice that which holds 95 % of them."""
    known = np.concatenate(radii)
    known = known[np.isfinite(known)]
    return 2.0 * float(np.quantile(known, 0.95)) if known.size else 0.0


def _corner(text: str) -> dict[str, Any]:
    place = {"xref": "paper", "yref": "paper", "x": 1.0, "y": 1.0, "xanchor": "right", "yanchor": "top"}
    return place | {"text": text, "showarrow": False, "font": {"size": 12, "color": LIGHT["doubt"]}}


def _ellipses(x: Vector, y: Vector, i: int) -> list[dict[str, Any]]:
    """Where half and 95 % of the landings of a normal scatter with these robust spreads lie, about the medians."""
    a, b = (x + y) / np.sqrt(2.0), (x - y) / np.sqrt(2.0)
    sx, sy, sa, sb = (robust_sd(v) for v in (x, y, a, b))
    # the correlation from the spreads along the diagonals (Gnanadesikan & Kettenring, Biometrics 28 (1972) 81)
    r = float(np.clip((sa**2 - sb**2) / max(2.0 * sx * sy, 1e-9), -0.98, 0.98))
    values, vectors = np.linalg.eigh([[sx**2, r * sx * sy], [r * sx * sy, sy**2]])
    turn = np.linspace(0.0, 2.0 * np.pi, 73)
    unit = vectors @ (np.sqrt(np.maximum(values, 0.0))[:, None] * np.array([np.cos(turn), np.sin(turn)]))
    rows = []
    for share, dash in ((0.5, "solid"), (0.95, "dash")):
        size = float(np.sqrt(-2.0 * np.log(1.0 - share)))
        rows.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": f"{100 * share:.0f} % of them",
                "showlegend": False,
                "x": numbers(np.median(x) + size * unit[0]),
                "y": numbers(np.median(y) + size * unit[1]),
                "line": {"color": LIGHT[LOOKS[i % len(LOOKS)][1]], "width": 1.5, "dash": dash},
                "hoverinfo": "skip",
                "meta": {"x": "distance", "y": "distance"},
            }
        )
    return rows


def _when(part: Part, good: NDArray[np.bool_], dates: bool) -> list[Any]:
    if not dates:
        return [part.places[i] for i in np.flatnonzero(good)]
    return [datetime.fromtimestamp(float(t), UTC).strftime("%Y-%m-%d %H:%M:%S") for t in part.jumps.t_s[good]]


def _time_axis(dates: bool) -> dict[str, Any]:
    return axis("", type="date") if dates else axis("jump number")


def _over_time(parts: list[Part], dates: bool) -> Spec | None:
    data: list[dict[str, Any]] = []
    for i, part in enumerate(parts):
        along = part.jumps["along_m"]
        good = np.isfinite(along)
        if not np.any(good):
            continue
        when = _when(part, good, dates)
        meta = {"y": "distance", "custom": _CUSTOM}
        data.append(_points(part, i, when, numbers(along[good]), good, meta=meta))
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": "median of ten",
                "showlegend": i == 0,
                "x": when,
                "y": numbers(rolling(along)[good]),
                "line": {"color": LIGHT[LOOKS[i % len(LOOKS)][1]], "width": 2.5},
                "hoverinfo": "skip",
                "meta": {"y": "distance"},
            }
        )
    return _plot(data, _time_axis(dates), axis("short ← along [{distance}] → long", **_ZERO))


_ZERO: Final[dict[str, Any]] = {"zerolinewidth": 2, "zerolinecolor": LIGHT["ink"]}


def _plot(data: list[dict[str, Any]], x: dict[str, Any], y: dict[str, Any], **more: Any) -> Spec | None:
    if not data:
        return None
    layout = base_layout(0.5, xaxis=x, yaxis=y, meta={"narrow": 0.8, "print": 0.45}, **more)
    return {"data": data, "layout": layout}


def _over_wind(parts: list[Part]) -> Spec | None:
    data: list[dict[str, Any]] = []
    for i, part in enumerate(parts):
        wind, along = part.jumps["wind_speed_mps"], part.jumps["along_m"]
        good = np.isfinite(wind) & np.isfinite(along)
        if not np.any(good):
            continue
        meta = {"x": "speed", "y": "distance", "custom": _CUSTOM}
        data.append(
            _points(part, i, numbers(wind[good], 2), numbers(along[good]), good, meta=meta, opacity=0.65)
        )
        bands = [
            b for b in part.group.conditions.get("wind", ()) if b.along is not None and b.low is not None
        ]
        if bands:
            data.append(_levels(part, i, bands))
    return _plot(
        data,
        axis("wind [{speed}], mean of the lowest 150 m", rangemode="tozero"),
        axis("short ← along [{distance}] → long", **_ZERO),
    )


def _levels(part: Part, i: int, bands: list[Any]) -> dict[str, Any]:
    wind = part.jumps["wind_speed_mps"]
    middles = [float(np.nanmedian(wind[(wind >= b.low) & (wind < (b.high or np.inf))])) for b in bands]
    half = [b.along.half for b in bands]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "level of a wind band, 95 %",
        "showlegend": i == 0,
        "x": numbers(middles, 2),
        "y": numbers([b.along.value for b in bands]),
        "error_y": {
            "type": "data",
            "array": numbers(half),
            "thickness": 2.5,
            "width": 7,
            "color": LIGHT["ink"],
        },
        "marker": {"symbol": "line-ew", "size": 18, "line": {"width": 3, "color": LIGHT["ink"]}},
        "hoverinfo": "skip",
        "meta": {"x": "speed", "y": "distance"},
    }


def _gates(parts: list[Part], dates: bool) -> Spec | None:
    data: list[dict[str, Any]] = []
    for g, gate in enumerate(reversed(LEG_NAMES)):
        x: list[Any] = []
        y: list[Any] = []
        custom: list[list[Any]] = []
        for part in parts:
            error = part.jumps[f"{gate}_agl_error_m"]
            good = np.isfinite(error)
            x += _when(part, good, dates)
            y += numbers(error[good])
            custom += [_named(part, int(r)) for r in np.flatnonzero(good)]
        if x:
            data.append(
                {
                    "type": "scatter",
                    "mode": "markers",
                    "name": f"turn onto {gate}",
                    "x": x,
                    "y": y,
                    "customdata": custom,
                    "marker": _look(g),
                    "hovertemplate": f"%{{customdata[0]}}<br>{gate} %{{y:+.0f}} {{height}}<extra></extra>",
                    "meta": {"y": "height"},
                }
            )
    return _plot(data, _time_axis(dates), axis("lower ← against the plan [{height}] → higher", **_ZERO))


def _causes(parts: list[Part]) -> Spec | None:
    names = [f"cause_{cause.replace(' ', '_')}_along_m" for cause in CAUSES]
    table = np.concatenate([np.array([part.jumps[n] for n in names]) for part in parts], axis=1)
    order = np.argsort([place for part in parts for place in part.places])
    order = order[np.all(np.isfinite(table[:, order]), axis=0)]
    custom = [_named(part, r) for part in parts for r in range(len(part.places))]
    table, custom = table[:, order], [custom[i] for i in order]
    n = table.shape[1]
    if n == 0:
        return None
    edges = np.unique(np.linspace(0, n, min(n, MOST_BARS) + 1).astype(int))
    x = [f"{a + 1}" if b - a == 1 else f"{a + 1} to {b}" for a, b in pairwise(edges)]
    data = []
    for cause, row, role in zip(CAUSES, table, CAUSE_COLOURS, strict=True):
        means = [float(np.mean(row[a:b])) for a, b in pairwise(edges)]
        data.append(
            {
                "type": "bar",
                "name": cause,
                "x": x,
                "y": numbers(means),
                "customdata": [
                    custom[a] if b - a == 1 else ["", None, None, None, ""] for a, b in pairwise(edges)
                ],
                "marker": {"color": LIGHT[role]},
                "hovertemplate": f"jump %{{x}}: {cause} %{{y:+.0f}} {{distance}}<extra></extra>",
                "meta": {"y": "distance"},
            }
        )
    side = axis("short ← along [{distance}] → long", **_ZERO)
    return _plot(data, axis("jump", type="category", nticks=12), side, barmode="relative", bargap=0.15)


def _turn_height(parts: list[Part]) -> Spec | None:
    data: list[dict[str, Any]] = []
    for i, part in enumerate(parts):
        found = part.group.turn_height
        if found is None:
            continue
        error, along = part.jumps["final_agl_error_m"], part.jumps["along_m"]
        good = np.isfinite(error) & np.isfinite(along)
        meta = {"x": "height", "y": "distance", "custom": _CUSTOM}
        data.append(
            _points(part, i, numbers(error[good]), numbers(along[good]), good, meta=meta, opacity=0.65)
        )
        ends = np.array([float(np.min(error[good])), float(np.max(error[good]))])
        middle = (float(np.median(error[good])), float(np.median(along[good])))
        slope = found.fitted.slope.value
        fitted = found.fitted.intercept + slope * ends
        predicted = middle[1] + found.predicted * (ends - middle[0])
        for name, y, dash in (("fitted", fitted, "solid"), ("physics predicts", predicted, "dash")):
            data.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": name,
                    "showlegend": i == 0,
                    "x": numbers(ends),
                    "y": numbers(y),
                    "line": {"color": LIGHT[LOOKS[i % len(LOOKS)][1]], "width": 2, "dash": dash},
                    "hoverinfo": "skip",
                    "meta": {"x": "height", "y": "distance"},
                }
            )
    return _plot(
        data,
        axis("turn to final, lower ← against the plan [{height}] → higher", **_ZERO),
        axis("short ← along [{distance}] → long", **_ZERO),
    )
