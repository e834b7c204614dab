"""Velocity by weighted local polynomials on real time stamps: pure arrays in, arrays out.

At every fix a cubic is fitted to the positions within a window of ``±half_width`` seconds (biweight weights,
real time stamps, never a sample count), and its slope is the velocity. The window balances noise against the
flattening of a turn (:func:`half_width_s`); it never reaches over a gap, where the fit is one-sided. Weak priors
on acceleration and jerk keep short and one-sided windows sober (Fan & Gijbels, Local Polynomial Modelling, 1996,
for the estimator; the priors are ours).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["LocalFit", "gap_threshold_s", "half_width_s", "local_velocity", "noise_sd", "segments"]

Vector = NDArray[np.float64]

# Equivalent kernel of the slope of a local cubic with biweight weights on [-1, 1]: integral of its square and
# fifth moment / 120, from the moments of (1 - u^2)^2.
_KERNEL_VARIANCE = 15.970279720279720
_KERNEL_BIAS = 8.741258741258741e-4
_SAMPLED = 4000  # stretches of five fixes that the noise is taken from, spread over the recording
_BLOCK = 20_000  # fixes fitted at once: keeps the memory of long recordings down
_MAX_SIDE = 64  # fixes used on either side at most: 2.5 s at 25 Hz


class LocalFit(NamedTuple):
    """Smoothed position, velocity, acceleration, each shaped like the positions, and the sd of a velocity component (n,)."""

    position: Vector
    velocity: Vector
    acceleration: Vector
    velocity_sd: Vector


def gap_threshold_s(t: ArrayLike) -> float:
    """The interval [s] beyond which a recording has a gap: 3 s or three usual (median) intervals.

    A receiver that leaves out fixes in straight flight writes intervals of many lengths; there nine tenths of them are no
    gaps, up to 10 s. Infinite for fewer than two fixes.
    """
    steps = np.diff(np.asarray(t, dtype=np.float64))
    if steps.size == 0:
        return math.inf
    usual, long = np.percentile(steps, [50.0, 90.0])
    return float(max(3.0, 3.0 * usual, min(1.3 * long, 10.0)))


def segments(t: ArrayLike, gap_s: float) -> NDArray[np.intp]:
    """Number of the gapless stretch each fix belongs to, (n,): a new one begins where the interval exceeds ``gap_s``."""
    steps = np.diff(np.asarray(t, dtype=np.float64))
    return np.concatenate([[0], np.cumsum(steps > gap_s)]).astype(np.intp)[: steps.size + 1]


def noise_sd(t: ArrayLike, x: ArrayLike, gap_s: float = math.inf) -> float:
    """White noise of one coordinate [units of ``x``]: robust scale of fourth divided differences.

    The weights follow the time stamps and are scaled to unit length, so white noise passes unchanged while a
    turn of 20°/s at 10 m/s and 1 Hz passes as 0.05 m. NaN with fewer than five fixes.
    """
    t, x = np.asarray(t, dtype=np.float64), np.asarray(x, dtype=np.float64)
    if t.size < 5:
        return math.nan
    first = np.arange(0, t.size - 4, max(1, t.size // _SAMPLED))
    times = [t[first + i] for i in range(5)]
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        scale, weights = (times[4] - times[0]) / 4.0, []
        for i, one in enumerate(times):
            apart = np.ones_like(scale)
            for other in (*times[:i], *times[i + 1 :]):
                apart *= (one - other) / scale
            weights.append(1.0 / apart)
        length = np.sqrt(sum(w * w for w in weights))
        difference = sum((w / length * x[first + i] for i, w in enumerate(weights)), np.zeros(first.size))
    good = np.isfinite(difference) & (np.max(np.diff(times, axis=0), axis=0) <= gap_s)
    if not np.any(good):
        return math.nan
    return float(1.4826 * np.median(np.abs(difference[good])))


def half_width_s(
    noise: float, interval_s: float, *, speed_mps: float = 12.0, turn_deg_s: float = 30.0
) -> float:
    """Half width of the window [s] with the least error in a turn of ``turn_deg_s`` at ``speed_mps``.

    Closed form of variance + bias² of the local cubic: sd² = c₁·noise²·Δt/h³, bias = c₂·v·ω⁴·h⁴. At 20°/s the
    bias is then a fifth of the one allowed for at 30°/s, well below the noise. At least 2.6 intervals and 1 s.
    """
    fifth = speed_mps * math.radians(turn_deg_s) ** 4
    variance = _KERNEL_VARIANCE * max(noise, 0.02) ** 2 * interval_s
    best = (3.0 * variance / (8.0 * (_KERNEL_BIAS * fifth) ** 2)) ** (1.0 / 11.0)
    return float(max(min(best, 5.0), 1.0, 2.6 * interval_s))


def local_velocity(
    t: ArrayLike,
    x: ArrayLike,
    *,
    noise: float | None = None,
    half_width: float | None = None,
    gap_s: float | None = None,
    acceleration_sd: float = 5.0,
    jerk_sd: float = 2.5,
) -> LocalFit:
    """Velocity of positions ``x`` ((n,) or (n, k), metres) at times ``t`` ((n,) seconds, increasing).

    ``noise`` [m] white position noise (default: measured), ``half_width`` [s] (default: :func:`half_width_s`),
    ``gap_s`` [s] the interval that is a gap (default: :func:`gap_threshold_s`); no fit reaches over one.
    Positions that are NaN get no weight; a fix without any other known position in its window has velocity NaN. Where
    fixes are sparse the window grows to the second neighbour on both sides. Time grows linearly with n.
    """
    t = np.asarray(t, dtype=np.float64)
    values = np.asarray(x, dtype=np.float64)
    columns = values[:, None] if values.ndim == 1 else values
    if t.size == 0:
        return LocalFit(values.copy(), values.copy(), values.copy(), t.copy())
    interval = float(np.median(np.diff(t))) if t.size > 1 else 1.0
    gap = gap_threshold_s(t) if gap_s is None else gap_s
    if noise is None:
        scales = [noise_sd(t, column, gap) for column in columns.T]
        noise = float(np.nanmean(scales)) if np.any(np.isfinite(scales)) else 1.0
    noise = max(noise, 0.02)
    width = half_width_s(noise, interval) if half_width is None else half_width
    part = segments(t, gap)
    found = np.empty((3, columns.shape[1], t.size))
    sd = np.empty(t.size)
    for start in range(0, t.size, _BLOCK):
        stop = min(start + _BLOCK, t.size)
        low, high = max(start - _MAX_SIDE, 0), min(stop + _MAX_SIDE, t.size)
        inner = slice(start - low, stop - low)
        fit, slope_sd = _block(
            t[low:high], columns[low:high], part[low:high], width, noise, (acceleration_sd, jerk_sd)
        )
        found[:, :, start:stop], sd[start:stop] = fit[:, :, inner], slope_sd[inner]
    position, velocity, acceleration = (np.ascontiguousarray(f.T).reshape(values.shape) for f in found)
    return LocalFit(position, velocity, acceleration, sd)


def _block(
    t: Vector,
    columns: Vector,
    part: NDArray[np.intp],
    width: float,
    noise: float,
    prior_sd: tuple[float, float],
) -> tuple[Vector, Vector]:
    """Position, velocity, acceleration (3, k, n) and the sd (n,) of a velocity component, for a stretch of fixes."""
    known = np.all(np.isfinite(columns), axis=1)
    spread = _spread(t, part, width)
    window = _Window(t, part, spread, known)
    prior = np.zeros((4, t.size))
    prior[2] = (noise / (0.5 * prior_sd[0] * spread**2)) ** 2
    prior[3] = (noise / (prior_sd[1] / 6.0 * spread**3)) ** 2
    coefficients, slope_sd = _fit(window, np.where(known, columns.T, 0.0), prior)
    lonely, alone = window.support < 1, window.support < 2
    scale = np.stack([np.ones_like(spread), spread, 0.5 * spread**2])
    hidden = np.stack([lonely, lonely | alone, lonely | alone])
    found = np.where(hidden[:, None, :], np.nan, coefficients[:3] / scale[:, None, :])
    return found, np.where(hidden[1], np.nan, noise * slope_sd / spread)


def _spread(t: Vector, part: NDArray[np.intp], width: float) -> Vector:
    """Half width of each fix's window [s]: ``width``, or a little past the second neighbour in the same stretch."""
    spread = np.full(t.shape, width)
    for lag in (1, 2):
        if t.size > lag:
            apart = np.where(part[lag:] == part[:-lag], 1.1 * (t[lag:] - t[:-lag]), 0.0)
            np.maximum(spread[:-lag], apart, out=spread[:-lag])
            np.maximum(spread[lag:], apart, out=spread[lag:])
    return spread


class _Window:
    """The weighted neighbours of every fix, walked offset by offset so that all fixes are served at once."""

    def __init__(self, t: Vector, part: NDArray[np.intp], spread: Vector, known: NDArray[np.bool_]) -> None:
        self.t, self.part, self.spread, self.known = t, part, spread, known
        reach = np.searchsorted(t, t + spread) - np.arange(t.size)
        back = np.arange(t.size) - np.searchsorted(t, t - spread)
        self.side = int(min(_MAX_SIDE, max(np.max(reach), np.max(back)), t.size - 1))
        self.support = known.astype(np.int64)  # positions that carry weight, the fix itself among them

    def pairs(self) -> Iterator[tuple[slice, slice, Vector, Vector]]:
        """(fixes, their neighbours, scaled offset u in [-1, 1], weight), for every offset but zero."""
        for lag in range(1, self.side + 1):
            early, late = slice(None, -lag), slice(lag, None)
            apart = self.t[late] - self.t[early]
            joined = self.part[late] == self.part[early]
            for at, other, sign in ((early, late, 1.0), (late, early, -1.0)):
                u = np.minimum(apart / self.spread[at], 1.0)
                w = (1.0 - u * u) ** 2 * (joined & self.known[other])
                yield at, other, sign * u, w


def _fit(window: _Window, x: Vector, prior: Vector) -> tuple[Vector, Vector]:
    """Coefficients (4, k, n) of the cubic in u about every fix and the sd (n,) of the slope for unit noise; ``x`` (k, n)."""
    k, n = x.shape
    moment = np.zeros((7, n))
    total = np.zeros((4, k + 1, n))
    total[1, k] = 1.0
    moment[0] = window.known
    total[0, :k] = x * window.known
    for at, other, u, w in window.pairs():
        window.support[at] += w > 0.0
        power = w
        for order in range(7):
            moment[order, at] += power
            if order < 4:
                for column in range(k):
                    total[order, column, at] += power * x[column, other]
            power = power * u
    matrix = [[moment[i + j] + (prior[i] if i == j else 0.0) for j in range(4)] for i in range(4)]
    matrix[0][0] = np.maximum(matrix[0][0], 1e-12)
    matrix[1][1] = np.maximum(matrix[1][1], 1e-12)
    solved = _solve(matrix, total)
    row = solved[:, k]
    variance = window.known * row[0] ** 2
    for at, _, u, w in window.pairs():
        kernel = row[3, at] * u
        for order in (2, 1, 0):
            kernel += row[order, at]
            if order:
                kernel *= u
        variance[at] += (kernel * w) ** 2
    return solved[:, :k], np.sqrt(variance)


def _solve(matrix: list[list[Vector]], right: Vector) -> Vector:
    """Solve n symmetric positive 4x4 systems at once: elimination, then back substitution; ``right`` (4, m, n)."""
    a = [list(row) for row in matrix]
    b = [right[i].copy() for i in range(4)]
    for i in range(4):
        pivot = np.maximum(a[i][i], 1e-30)
        for j in range(i + 1, 4):
            factor = a[j][i] / pivot
            for c in range(i, 4):
                a[j][c] = a[j][c] - factor * a[i][c]
            b[j] -= factor * b[i]
    for i in (3, 2, 1, 0):
        for c in range(i + 1, 4):
            b[i] -= a[i][c] * b[c]
        b[i] /= np.maximum(a[i][i], 1e-30)
    return np.stack(b)
