"""What the fit works on: mean ground velocities over steps of about one second, from fixes at any rate."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["Samples", "from_positions", "from_velocities"]

Vector = NDArray[np.float64]

STEP_S = 1.0
# Longer steps hide too much of a turn: at 5 s intervals held 81 % instead of 95 % of the truth.
MAX_STEP_S = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Mean ground velocities between nodes, arrays (n,).

    ``t_s`` middle of each step, ``dt_s`` its length, ``agl_m`` mean height, ``v_east``/``v_north`` mean ground velocity and
    ``sink_mps`` mean rate of descent over the step [m/s]. ``linked`` tells whether the step begins at the node where the one
    before ended. ``node_sd_m``, ``height_sd_m`` the white errors of the nodes (neighbouring steps share them), ``white_sd``
    a further independent error of each velocity component [m/s], ``blur_s`` the width over which a node was averaged.
    """

    t_s: Vector
    dt_s: Vector
    agl_m: Vector
    v_east: Vector
    v_north: Vector
    sink_mps: Vector
    linked: NDArray[np.bool_]
    node_sd_m: float
    height_sd_m: float
    white_sd: float
    blur_s: float

    def __len__(self) -> int:
        return int(self.t_s.shape[0])

    def part(self, where: slice) -> Samples:
        """A stretch of the samples as samples of their own."""
        linked = self.linked[where].copy()
        linked[:1] = False
        names = ("t_s", "dt_s", "agl_m", "v_east", "v_north", "sink_mps")
        return replace(self, linked=linked, **{n: getattr(self, n)[where] for n in names})

    def thinned(self) -> Samples:
        """Pairs of linked steps merged into one: half as many samples, exact means."""
        i = np.arange(len(self))
        since = i - np.maximum.accumulate(np.where(self.linked, 0, i))
        first = since % 2 == 0
        group = np.cumsum(first) - 1
        dt = np.asarray(np.bincount(group, self.dt_s), dtype=np.float64)

        def mean(values: Vector) -> Vector:
            return np.asarray(np.bincount(group, values * self.dt_s) / dt)

        return replace(
            self,
            t_s=mean(self.t_s),
            dt_s=dt,
            agl_m=mean(self.agl_m),
            v_east=mean(self.v_east),
            v_north=mean(self.v_north),
            sink_mps=mean(self.sink_mps),
            linked=self.linked[first],
        )


def from_positions(t_s: Vector, east_m: Vector, north_m: Vector, agl_m: Vector) -> Samples:
    """Differences of positions averaged over about a second: exact means of the ground velocity between nodes.

    Nothing of the positions is lost but their common origin. Fixes with a value that is not finite are left out.
    """
    per_node, (t, e, n, h) = _nodes(t_s, east_m, north_m, agl_m)
    dt = np.diff(t)
    use = dt <= MAX_STEP_S
    return Samples(
        (0.5 * (t[1:] + t[:-1]))[use],
        dt[use],
        (0.5 * (h[1:] + h[:-1]))[use],
        (np.diff(e) / dt)[use],
        (np.diff(n) / dt)[use],
        (-np.diff(h) / dt)[use],
        np.concatenate([[False], use])[:-1][use] if dt.size else np.zeros(0, bool),
        position_noise(t_s, east_m, north_m) / np.sqrt(per_node),
        height_noise(t_s, agl_m) / np.sqrt(per_node),
        0.0,
        _width(per_node),
    )


def from_velocities(
    t_s: Vector, agl_m: Vector, v_east: Vector, v_north: Vector, sd_mps: float = 0.15
) -> Samples:
    """Velocities that the receiver measured itself (Doppler), averaged over about a second; ``sd_mps`` their white error."""
    per_node, (t, ve, vn, h) = _nodes(t_s, v_east, v_north, agl_m)
    dt = np.clip(np.diff(t, append=t[-1:] + STEP_S), 0.1, MAX_STEP_S)
    sink = -np.gradient(h, t) if t.size > 1 else np.zeros(t.shape)
    return Samples(
        t,
        np.minimum(dt, STEP_S),
        h,
        ve,
        vn,
        sink,
        np.zeros(t.shape, bool),
        0.0,
        height_noise(t_s, agl_m) / np.sqrt(per_node),
        sd_mps,
        _width(per_node),
    )


def _width(per_node: float) -> float:
    """Width [s] of the boxcar with the same spread as ``per_node`` evenly spaced fixes in ``STEP_S``."""
    return float(STEP_S * np.sqrt(max(1.0 - 1.0 / per_node**2, 0.0)))


def _nodes(t: Vector, *values: Vector) -> tuple[float, list[Vector]]:
    """Fixes per node, and [time, values…] averaged over bins of ``STEP_S`` (single fixes where they are that far apart)."""
    good = np.isfinite(t)
    for v in values:
        good &= np.isfinite(v)
    t, rows = t[good], [v[good] for v in values]
    if t.size < 2 or float(np.median(np.diff(t))) > 0.7 * STEP_S:
        keep = np.concatenate([[True], np.diff(t) > 0.3 * STEP_S]) if t.size else np.zeros(0, bool)
        return 1.0, [t[keep], *(v[keep] for v in rows)]
    bins = np.floor((t - t[0]) / STEP_S + 0.05).astype(np.int64)
    _, bins, count = np.unique(bins, return_inverse=True, return_counts=True)
    usual = max(float(np.median(count)), 1.0)
    used = count >= 0.5 * usual
    return usual, [(np.bincount(bins, v) / count)[used] for v in (t, *rows)]


def position_noise(t: Vector, east: Vector, north: Vector) -> float:
    """White noise of one position component [m].

    Median third difference over √20 (a constant acceleration has none), on evenly spaced fixes where the path bends
    least: a turn has third differences of its own. 0.3 m where there are too few.
    """
    good = np.isfinite(t) & np.isfinite(east) & np.isfinite(north)
    t, e, n = t[good], east[good], north[good]
    run = _even(t)
    if run.size < 12:
        return 0.3
    third = np.hypot(np.diff(e, 3)[run], np.diff(n, 3)[run])
    bend = np.hypot(_rolling(np.diff(e, 2)[:-1]), _rolling(np.diff(n, 2)[:-1]))[run]
    calm = bend <= np.quantile(bend, 0.4)
    rayleigh_median = 1.1774
    return float(np.clip(np.median(third[calm]) / rayleigh_median / np.sqrt(20.0), 0.02, 0.8))


def height_noise(t: Vector, h: Vector) -> float:
    """White noise of the heights [m], from third differences; 0.5 m where there are too few."""
    good = np.isfinite(t) & np.isfinite(h)
    run = _even(t[good])
    if run.size < 12:
        return 0.5
    third = np.abs(np.diff(h[good], 3)[run])
    return float(np.clip(1.4826 * np.median(third) / np.sqrt(20.0), 0.05, 2.0))


def _even(t: Vector) -> NDArray[np.int64]:
    """Indices of third differences whose four fixes are evenly spaced."""
    if t.size < 4:
        return np.zeros(0, dtype=np.int64)
    dt = np.diff(t)
    even = np.abs(dt - np.median(dt)) < 0.05 * np.median(dt)
    return np.flatnonzero(even[2:] & even[1:-1] & even[:-2])


def _rolling(x: Vector) -> Vector:
    return np.convolve(x, np.full(7, 1.0 / 7.0), mode="same")
