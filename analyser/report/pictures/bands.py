"""The flown path in bands of height: six colours of one scale, the same heights for every jump, so that pages compare."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.report.pictures.palette import HEIGHT_SCALE, LIGHT
from analyser.report.pictures.spec import numbers

__all__ = ["BAND_M", "band_traces", "height_bar"]

BAND_M = 75.0
Vector = NDArray[np.float64]


def band_of(agl_m: Vector) -> NDArray[np.intp]:
    """Index of the height band; everything above the last edge belongs to the last band."""
    known = np.where(np.isfinite(agl_m), agl_m, np.inf)
    return np.clip(np.floor(np.minimum(known, 1e6) / BAND_M), 0, len(HEIGHT_SCALE) - 1).astype(np.intp)


def band_traces(
    x: Vector, y: Vector, agl_m: Vector, meta: dict[str, Any], **more: Any
) -> list[dict[str, Any]]:
    """One line trace per band that occurs, highest first; each piece reaches on to the next fix, so that the line is whole."""
    band = band_of(agl_m)
    traces = []
    for step in range(len(HEIGHT_SCALE) - 1, -1, -1):
        inside = band == step
        if not (inside & np.isfinite(x)).any():
            continue
        drawn = inside | np.concatenate([[False], inside[:-1]])
        drawn &= np.isfinite(x) & np.isfinite(y)
        px, py = np.where(drawn, x, np.nan), np.where(drawn, y, np.nan)
        keep = drawn | np.concatenate([[False], drawn[:-1]])
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": numbers(px[keep]),
                "y": numbers(py[keep]),
                "line": {"color": HEIGHT_SCALE[step], "width": 3},
                "hoverinfo": "skip",
                "showlegend": False,
                "meta": meta,
            }
            | more
        )
    return traces


def height_bar(x: Vector, y: Vector, agl_m: Vector, meta: dict[str, Any], **more: Any) -> dict[str, Any]:
    """An unseen trace over the path: carries the hover text and the scale of heights."""
    n = len(HEIGHT_SCALE)
    steps = [[edge / n, colour] for i, colour in enumerate(HEIGHT_SCALE) for edge in (i, i + 1)]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "flown",
        "x": numbers(x),
        "y": numbers(y),
        "showlegend": False,
        "marker": {
            "opacity": 0,
            "size": 9,
            "color": numbers(np.where(np.isfinite(agl_m), agl_m, n * BAND_M)),
            "colorscale": steps,
            "cmin": 0.0,
            "cmax": n * BAND_M,
            "colorbar": {
                "title": {
                    "text": "height [{height}] (darkest: and above)",
                    "side": "bottom",
                    "font": {"size": 12},
                },
                "orientation": "h",
                "x": 0.5,
                "y": -0.055,
                "yanchor": "top",
                "thickness": 10,
                "len": 0.8,
                "outlinewidth": 0,
                "tickcolor": LIGHT["rule"],
            },
        },
        "meta": meta | {"color": "height"},
    } | more
