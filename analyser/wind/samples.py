"""What the fit works on: mean ground velocities over steps of about one second, from fixes at any rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Samples", "from_positions", "from_velocities"]

Vector = NDArray[np.float64]

STEP_S = 1.0
MAX_STEP_S = 5.0
SINK_HALF_WINDOW_S = 3.5


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Mean ground velocities between nodes, arrays (n,).

    ``t_s`` middle of each step, ``dt_s`` its length, ``agl_m`` mean height, ``v_east``/``v_north`` mean ground velocity
    [m/s], ``sink_mps`` rate of descent from a local line through the heights. ``linked`` tells whether the step begins
    at the node where the one before ended, ``node_sd_m`` the white error of the node positions (their differences
    share it), ``white_sd`` a further independent error of each velocity component, ``blur_s`` over how long a node was
    averaged.
    """

    t_s: Vector
    dt_s: Vector
    agl_m: Vector
    v_east: Vector
    v_north: Vector
    sink_mps: Vector
    linked: NDArray[np.bool_]
    node_sd_m: float
    white_sd: float
    blur_s: float

    def __len__(self) -> int:
        return int(self.t_s.shape[0])


def from_positions(t_s: Vector, east_m: Vector, north_m: Vector, agl_m: Vector) -> Samples:
    """Differences of positions averaged over about a second: exact means of the ground velocity between nodes."""
    count, nodes = _nodes(t_s, east_m, north_m, agl_m)
    t, e, n, h = nodes
    noise = _white_sd(t_s, east_m, north_m)
    dt = np.diff(t)
    use = dt <= MAX_STEP_S
    linked = np.concatenate([[False], use[:-1]])[use] if dt.size else np.zeros(0, bool)
    mid = 0.5 * (t[1:] + t[:-1])
    per_node = max(1.0, float(np.median(count)))
    rate = per_node / STEP_S
    return Samples(
        mid[use],
        dt[use],
        0.5 * (h[1:] + h[:-1])[use],
        (np.diff(e) / dt)[use],
        (np.diff(n) / dt)[use],
        _sink(t, h, mid)[use],
        linked,
        noise / np.sqrt(per_node),
        0.0,
        0.0 if per_node <= 1.0 else (per_node - 1.0 / per_node) / rate,
    )


def from_velocities(
    t_s: Vector, agl_m: Vector, v_east: Vector, v_north: Vector, sd_mps: float = 0.15
) -> Samples:
    """Velocities that the receiver measured itself (Doppler), averaged over about a second."""
    count, (t, ve, vn, h) = _nodes(t_s, v_east, v_north, agl_m)
    per_node = max(1.0, float(np.median(count)))
    dt = np.diff(t, append=t[-1] + STEP_S) if t.size else np.zeros(0)
    return Samples(
        t,
        np.clip(dt, 0.1, MAX_STEP_S),
        h,
        ve,
        vn,
        _sink(t, h, t),
        np.zeros(t.shape, bool),
        0.0,
        sd_mps,
        0.0 if per_node <= 1.0 else STEP_S,
    )


def _nodes(t: Vector, *values: Vector) -> tuple[Vector, list[Vector]]:
    """Means over bins of ``STEP_S`` (the fixes themselves where they are that far apart): counts, [time, values…]."""
    good = np.isfinite(t)
    for v in values:
        good &= np.isfinite(v)
    t, rows = t[good], [v[good] for v in values]
    if t.size < 2 or float(np.median(np.diff(t))) > 0.7 * STEP_S:
        keep = np.concatenate([[True], np.diff(t) > 0.3 * STEP_S]) if t.size else np.zeros(0, bool)
        return np.ones(int(keep.sum())), [t[keep], *(v[keep] for v in rows)]
    bins = np.floor((t - t[0]) / STEP_S + 0.05).astype(np.int64)
    count = np.bincount(bins)
    used = count >= 0.5 * np.median(count[count > 0])
    means = [np.bincount(bins, v)[used] / count[used] for v in (t, *rows)]
    return count[used].astype(np.float64), means


def _white_sd(t: Vector, east: Vector, north: Vector) -> float:
    """White noise of one position component [m]: median absolute third difference over √20, on evenly spaced fixes."""
    good = np.isfinite(t) & np.isfinite(east) & np.isfinite(north)
    t, e, n = t[good], east[good], north[good]
    if t.size < 12:
        return 0.5
    dt = np.diff(t)
    even = np.abs(dt - np.median(dt)) < 0.05 * np.median(dt)
    run = even[2:] & even[1:-1] & even[:-2]
    if not run.any():
        return 0.5
    third = np.concatenate([np.diff(e, 3)[run], np.diff(n, 3)[run]])
    return float(np.clip(1.4826 * np.median(np.abs(third)) / np.sqrt(20.0), 0.03, 0.6))


def _sink(t: Vector, h: Vector, at: Vector) -> Vector:
    """Slope of a line through the heights within ``SINK_HALF_WINDOW_S`` of each time, downward positive [m/s]."""
    if t.size < 2:
        return np.zeros(at.shape)
    first = np.searchsorted(t, at - SINK_HALF_WINDOW_S, side="left")
    last = np.searchsorted(t, at + SINK_HALF_WINDOW_S, side="right")
    first = np.minimum(first, np.maximum(np.searchsorted(t, at, side="right") - 1, 0))
    last = np.maximum(last, np.minimum(first + 2, t.size))
    first = np.minimum(first, last - 2)
    t0, h0 = t - t[0], h - h[0]
    sums = [np.concatenate([[0.0], np.cumsum(v)]) for v in (np.ones_like(t0), t0, h0, t0 * t0, t0 * h0)]
    c, st, sh, stt, sth = (s[last] - s[first] for s in sums)
    spread = stt - st * st / c
    return np.asarray(-(sth - st * sh / c) / np.maximum(spread, 1e-9))
