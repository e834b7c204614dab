"""Figures as plain dicts in SI units, with the quantity of every axis in ``meta``, and their change to display units.

A *spec* is ``{"data": [trace…], "layout": {…}}`` as plotly reads it. What units or a turned map change is written down
beside it, so that Python (exports, notebooks) and the page's script (pictures.js) apply the same rules.

Trace ``meta``: ``x``, ``y`` quantity of the coordinates ("height", "speed", "distance", or absent), which error bars and a bar's
``base`` (where ``base`` names the coordinate) follow; ``color`` quantity of the marker colours; ``custom`` quantities of the
columns of ``customdata``, of which ``rounded`` [column, column of its error, signed] become texts rounded by that error; ``turn`` x, y are east, north and turn with the map; ``labels`` texts go above their points, or
below where the nearest other point lies close above.

Layout ``meta``: ``aspect``, ``narrow``, ``print`` height over width on a wide screen, a phone, paper; ``views`` name → east/north
points that the view must show, in ``view_quantity``; ``ranges`` axis → [from, to, quantity]; ``shapes`` and ``annotations``
[quantity of x, quantity of y] of each; layout ``images`` are distances, north up; ``cursor`` what the moving marker follows.

Texts may hold ``{height}``, ``{speed}``, ``{distance}`` for the unit's label.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.angles import rotate
from analyser.report.pictures.palette import LIGHT
from analyser.units import DISPLAY_SYSTEMS, DisplaySystem, rounded

__all__ = [
    "MAX_POINTS",
    "Spec",
    "axis",
    "base_layout",
    "decimate",
    "displayed",
    "label_sides",
    "numbers",
    "view_range",
]

Spec = dict[str, Any]
MAX_POINTS = 1000
QUANTITIES = ("height", "speed", "distance")


def decimate(start: int, stop: int, at_most: int = MAX_POINTS) -> NDArray[np.intp]:
    """Evenly spaced indices of ``start:stop``, both ends kept, no more than ``at_most``."""
    n = stop - start
    if n <= at_most:
        return np.arange(start, stop)
    return np.unique(np.round(np.linspace(start, stop - 1, at_most)).astype(np.intp))


def numbers(values: ArrayLike, digits: int = 1) -> list[float | None]:
    """Rounded floats for JSON; NaN and infinity become None."""
    rounded = np.round(np.asarray(values, dtype=np.float64), digits)
    return [v if math.isfinite(v) else None for v in rounded.tolist()]


def base_layout(aspect: float, **more: Any) -> dict[str, Any]:
    """The look that all pictures share; ``aspect`` is height over width on a wide page."""
    layout: dict[str, Any] = {
        "paper_bgcolor": LIGHT["sheet"],
        "plot_bgcolor": LIGHT["sheet"],
        "font": {"family": "system-ui, sans-serif", "size": 13, "color": LIGHT["ink"]},
        "margin": {"l": 58, "r": 14, "t": 14, "b": 46},
        "hovermode": "closest",
        "dragmode": False,
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 12}},
        "hoverlabel": {
            "bgcolor": LIGHT["sheet"],
            "bordercolor": LIGHT["rule"],
            "font": {"color": LIGHT["ink"]},
        },
        "meta": {"aspect": aspect},
    }
    meta = more.pop("meta", {})
    layout.update(more)
    layout["meta"] = layout["meta"] | meta
    return layout


def axis(title: str = "", **more: Any) -> dict[str, Any]:
    """An axis in the shared look; ``title`` may hold a unit label in braces."""
    return {
        "title": {"text": title, "standoff": 8, "font": {"size": 13}},
        "exponentformat": "none",
        "gridcolor": LIGHT["grid"],
        "linecolor": LIGHT["rule"],
        "zerolinecolor": LIGHT["rule"],
        "ticks": "outside",
        "tickcolor": LIGHT["rule"],
        "automargin": True,
    } | more


def view_range(
    points: Sequence[Sequence[float]], up_deg: float, si: float, aspect: float
) -> tuple[list[float], list[float]]:
    """x and y range, in display units, that show the east/north ``points`` with ``up_deg`` upward and equal scales."""
    e, n = np.asarray(points, dtype=np.float64).T
    x, y = rotate(e, n, -up_deg)
    width, height = float(np.ptp(x)), float(np.ptp(y))
    pad = 0.1 * max(width, height, 20.0)
    half_w = max(width / 2 + pad, (height / 2 + pad) / aspect)
    half_h = max(height / 2 + pad, half_w * aspect)
    cx, cy = float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2
    return [(cx - half_w) / si, (cx + half_w) / si], [(cy - half_h) / si, (cy + half_h) / si]


def displayed(spec: Spec, units: str = "metric", *, up_deg: float = 0.0, view: str | None = None) -> Spec:
    """The spec in display units with the map turned so that the direction ``up_deg`` points upward.

    Raises KeyError for an unknown display system or view.
    """
    system = DISPLAY_SYSTEMS[units]
    shown = copy.deepcopy(spec)
    for trace in shown["data"]:
        _show_trace(trace, system, up_deg)
    layout = shown["layout"]
    meta = layout.get("meta", {})
    _show_images(layout, system, up_deg)
    _label(shown, system)
    for key in ("shapes", "annotations"):
        for item, quantities in zip(layout.get(key, ()), meta.get(key, ())):
            _show_item(item, quantities, system)
    for name, (low, high, quantity) in meta.get("ranges", {}).items():
        layout[name]["range"] = _scaled([low, high], _si(system, quantity))
    if "views" in meta:
        points = meta["views"][view or next(iter(meta["views"]))]
        si = _si(system, meta["view_quantity"])
        layout["xaxis"]["range"], layout["yaxis"]["range"] = view_range(points, up_deg, si, meta["aspect"])
    return shown


def _show_images(layout: dict[str, Any], system: DisplaySystem, up_deg: float) -> None:
    """A picture under the map in display units; on a turned map it is left out, for the plotting library cannot turn it."""
    if up_deg:
        layout.pop("images", None)
    for image in layout.get("images", ()):
        for key in ("x", "y", "sizex", "sizey"):
            image[key] = image[key] / _si(system, "distance")


def _si(system: DisplaySystem, quantity: str | None) -> float:
    return float(getattr(system, quantity).si) if quantity else 1.0


def _show_trace(trace: dict[str, Any], system: DisplaySystem, up_deg: float) -> None:
    meta = trace.get("meta", {})
    if meta.get("turn") and up_deg:
        trace["x"], trace["y"] = _turned(trace["x"], trace["y"], up_deg)
    if meta.get("labels"):
        trace["textposition"] = label_sides(trace["x"], trace["y"])
    for key in ("x", "y"):
        si = _si(system, meta.get(key))
        if si == 1.0:
            continue
        trace[key] = _scaled(trace[key], si)
        if error := trace.get(f"error_{key}"):
            error["array"] = _scaled(error["array"], si)
        if key == meta.get("base"):
            trace["base"] = _scaled(trace["base"], si)
    if "color" in meta:
        marker, si = trace["marker"], _si(system, meta["color"])
        marker["color"] = _scaled(marker["color"], si)
        marker["cmin"], marker["cmax"] = marker["cmin"] / si, marker["cmax"] / si
    if "custom" in meta:
        factors = [_si(system, q) for q in meta["custom"]]
        trace["customdata"] = [
            [v / f if isinstance(v, (int, float)) else v for v, f in zip(row, factors)]
            for row in trace["customdata"]
        ]
        for column, error, signed in meta.get("rounded", ()):
            step = getattr(system, meta["custom"][column]).step
            for row in trace["customdata"]:
                if row[column] is not None:
                    row[column] = rounded(row[column], row[error], step=step, signed=signed)[0].replace(
                        "-", "−"
                    )


def label_sides(x: Sequence[float], y: Sequence[float]) -> list[str]:
    """Where the label of each point (n,) stands; close is less than 45 % of the extent of the points."""
    span = max(np.ptp(x), np.ptp(y)) if len(x) else 0.0
    sides = []
    for i in range(len(x)):
        others = [(math.hypot(x[j] - x[i], y[j] - y[i]), y[j]) for j in range(len(x)) if j != i]
        close = min(others, default=(math.inf, 0.0))
        sides.append("bottom center" if close[0] < 0.45 * span and close[1] > y[i] else "top center")
    return sides


def _show_item(item: dict[str, Any], quantities: Sequence[str | None], system: DisplaySystem) -> None:
    for key, quantity in zip("xy", quantities):
        for name in (key, f"{key}0", f"{key}1"):
            if quantity and name in item:
                item[name] = item[name] / _si(system, quantity)


def _turned(x: list[Any], y: list[Any], up_deg: float) -> tuple[list[Any], list[Any]]:
    e = np.array([math.nan if v is None else v for v in x], dtype=np.float64)
    n = np.array([math.nan if v is None else v for v in y], dtype=np.float64)
    turned_e, turned_n = rotate(e, n, -up_deg)
    return numbers(turned_e, 3), numbers(turned_n, 3)


def _scaled(values: Any, si: float) -> list[float | None]:
    return [None if v is None else v / si for v in values]


def _labelled(text: str, system: DisplaySystem) -> str:
    for quantity in QUANTITIES:
        text = text.replace("{" + quantity + "}", getattr(system, quantity).label)
    return text


def _label(node: Any, system: DisplaySystem) -> None:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in list(items):
        if key == "meta":
            continue
        if isinstance(value, str):
            node[key] = _labelled(value, system)
        elif isinstance(value, (dict, list)):
            _label(value, system)
