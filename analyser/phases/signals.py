"""Smoothed signals of a flight by time stamp, and the one routine that finds edges in labels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mask", "Signals", "Vector", "bridge", "make_signals", "moving_slope", "runs", "window_mean"]

Vector = NDArray[np.float64]
Mask = NDArray[np.bool_]
Edges = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Signals:
    """Fixes with a known height. ``t`` [s], ``e n h`` [m], all (n,).

    ``sink`` and ``speed`` [m/s] over about two seconds, ``slow_sink``, ``slow_speed`` over about ten.
    """

    t: Vector
    e: Vector
    n: Vector
    h: Vector
    sink: Vector
    speed: Vector
    slow_sink: Vector
    slow_speed: Vector

    def near(self, t_s: float) -> int:
        """Index of the first fix at or after ``t_s``, at most the last."""
        return int(min(np.searchsorted(self.t, t_s), self.t.shape[0] - 1))

    def span(self, from_s: float, to_s: float) -> slice:
        """The fixes with ``from_s`` ≤ t < ``to_s``."""
        return slice(int(np.searchsorted(self.t, from_s)), int(np.searchsorted(self.t, to_s)))


def runs(mask: Mask) -> Edges:
    """Edges of the runs of True: (k, 2) of ``start``, ``stop`` (exclusive)."""
    padded = np.zeros(mask.shape[0] + 2, dtype=np.int8)
    padded[1:-1] = mask
    return np.flatnonzero(np.diff(padded)).reshape(-1, 2)


def bridge(edges: Edges, t: Vector, seconds: float) -> Edges:
    """Join runs that are less than ``seconds`` apart."""
    if edges.shape[0] < 2:
        return edges
    apart = t[edges[1:, 0]] - t[edges[:-1, 1] - 1] >= seconds
    starts = edges[np.concatenate([[True], apart]), 0]
    stops = edges[np.concatenate([apart, [True]]), 1]
    return np.column_stack([starts, stops])


def _bounds(t: Vector, half_s: float) -> tuple[Edges, Edges]:
    return np.searchsorted(t, t - half_s - 1e-6), np.searchsorted(t, t + half_s + 1e-6)


def window_mean(t: Vector, y: Vector, half_s: float) -> Vector:
    """Mean of the fixes within ``half_s`` of each fix."""
    low, high = _bounds(t, half_s)
    total = np.concatenate([[0.0], np.cumsum(y - y[0])])
    mean: Vector = (total[high] - total[low]) / (high - low) + y[0]
    return mean


def moving_slope(t: Vector, y: Vector, half_s: float) -> Vector:
    """Least-squares slope of the fixes within ``half_s`` of each fix; where these are too few, the mean slope between the fixes over that time."""
    n = t.shape[0]
    if n < 2:
        return np.zeros(n)
    low, high = _bounds(t, half_s)
    x, v = t - t.mean(), y - y.mean()
    sums = [np.concatenate([[0.0], np.cumsum(a)]) for a in (x, v, x * x, x * v)]
    sx, sy, sxx, sxy = (s[high] - s[low] for s in sums)
    count = high - low
    slope: Vector = (sxy - sx * sy / count) / np.maximum(sxx - sx * sx / count, 1e-9)
    few = np.flatnonzero(count < 3)
    if few.size:
        left, right = np.maximum(t[few] - half_s, t[0]), np.minimum(t[few] + half_s, t[-1])
        slope[few] = (np.interp(right, t, y) - np.interp(left, t, y)) / np.maximum(right - left, 1e-9)
    return slope


def make_signals(t: Vector, e: Vector, n: Vector, h: Vector) -> Signals:
    """Signals of the fixes (all with finite height), by time stamp, whatever the sampling."""
    step = float(np.percentile(np.diff(t), 20)) if t.shape[0] > 1 else 1.0
    half, wide = max(1.0, 1.05 * step), max(5.0, 2.0 * step)
    fast = [moving_slope(t, y, half) for y in (e, n, h)]
    slow = [moving_slope(t, y, wide) for y in (e, n, h)]
    return Signals(
        t,
        e,
        n,
        h,
        -fast[2],
        np.hypot(fast[0], fast[1]),
        -slow[2],
        window_mean(t, np.hypot(fast[0], fast[1]), wide),
    )
