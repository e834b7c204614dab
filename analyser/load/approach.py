"""How near two canopies came: the least distance, its error, when and where.

The error is that of both receivers and both clocks, drawn many times and put onto the flown paths: slow errors of place and height
that keep for some minutes, as large as the same two receivers showed in the aeroplane, where that was recorded.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from analyser.load.flights import Flight
from analyser.load.rides import Ride, usual_scale_sd
from analyser.load.thresholds import LOAD

__all__ = [
    "Approach",
    "PairError",
    "approaches",
    "nearest",
    "pair_error",
    "together",
    "usual_error",
]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PairError:
    """Errors of the difference of two tracks: variance of one axis of place, and of height [m²], each known as well as from ``free``
    values; ``clock_sd_s`` of the difference of their clocks; ``scale_sd`` of that of the scales of their heights."""

    level_m2: float
    level_free: float
    height_m2: float
    height_free: float
    clock_sd_s: float
    scale_sd: float = 0.0


@dataclass(frozen=True, slots=True)
class Approach:
    """The nearest that two flights ``pair`` came.

    ``distance_m`` with ``sd_m`` and its 95 % interval ``low_m`` … ``high_m``; ``level_m``, ``height_m`` the recorded parts of it (second minus first in height);
    at ``t_s`` [s since 1970, UTC], ``before_landing_s`` before the first of the two landed; ``agl_m`` the lower one's height; ``first``, ``second`` the places
    east, north [m] and height; ``chance_close`` the probability that it was less than ``LOAD.close_m``.
    """

    pair: tuple[int, int]
    distance_m: float
    sd_m: float
    low_m: float
    high_m: float
    level_m: float
    height_m: float
    t_s: float
    before_landing_s: float
    agl_m: float
    first: tuple[float, float, float]
    second: tuple[float, float, float]
    chance_close: float

    @property
    def close(self) -> bool:
        """Whether it was nearer than ``LOAD.close_m``, sure enough to say so."""
        return self.chance_close >= LOAD.sure_close

    @property
    def maybe_close(self) -> bool:
        """Whether it may have been."""
        return self.chance_close >= LOAD.maybe


def usual_error(flights: Sequence[Flight], rides: Mapping[tuple[int, int], Ride]) -> tuple[float, float]:
    """Variance of one axis of place, and of height [m²], of the difference of two of these receivers on that day.

    The usual errors count as ``LOAD.free`` independent values, every receiver of the aeroplane with what it showed there.
    """
    level = 2.0 * float(np.mean([f.position_sd_m**2 for f in flights]))
    height = 2.0 * float(np.mean([f.agl_sd_m**2 for f in flights]))
    receivers = {k for pair in rides for k in pair}
    found = []
    for usual, seen, free in (
        (level, [r.variance_m2 for r in rides.values()], [r.free for r in rides.values()]),
        (height, [r.height_m2 for r in rides.values()], [r.height_free for r in rides.values()]),
    ):
        weight = float(sum(free))
        news = weight / max(len(free), 1) * len(receivers) / 2.0
        mean = sum(s * f for s, f in zip(seen, free)) / weight if weight > 0.0 else usual
        found.append((LOAD.free * usual + news * mean) / (LOAD.free + news))
    return found[0], found[1]


def pair_error(a: Flight, b: Flight, ride: Ride | None, usual: tuple[float, float]) -> PairError:
    """The day's ``usual`` errors (:func:`usual_error`), and what these two receivers showed in the aeroplane."""
    level, height = usual
    clock = math.hypot(a.clock_sd_s, b.clock_sd_s)
    if ride is None:
        level_part, height_part = _known(level, 0.0, 0.0), _known(height, 0.0, 0.0)
        return PairError(*level_part, *height_part, clock, usual_scale_sd(a, b))
    return PairError(
        *_known(level, ride.variance_m2, ride.free),
        *_known(height, ride.height_m2, ride.height_free),
        min(ride.clock_sd_s, clock),
        ride.scale_sd,
    )


def _known(usual: float, seen: float, free: float) -> tuple[float, float]:
    """Scale of a variance and how many values it is known from; the usual one is the mean over receivers, which are not all alike (Gelman et al.,
    Bayesian Data Analysis, 2013, section 2.6: the mean of a scaled inverse chi squared is ν / (ν − 2) times its scale)."""
    return ((LOAD.free - 2.0) * usual + free * seen) / (LOAD.free + free), LOAD.free + free


def approaches(
    flights: Sequence[Flight], rides: Mapping[tuple[int, int], Ride], *, below_m: float | None = None
) -> tuple[Approach, ...]:
    """The nearest approach of every pair that flew at one time, nearest first; ``rides`` by the numbers of ``flights``.

    ``below_m`` only while both were lower than that.
    """
    found = []
    usual = usual_error(flights, rides)
    for i, j in combinations(range(len(flights)), 2):
        error = pair_error(flights[i], flights[j], rides.get((i, j)), usual)
        one = nearest(flights[i], flights[j], error, (i, j), below_m=below_m)
        if one is not None:
            found.append(one)
    return tuple(sorted(found, key=lambda one: one.distance_m))


def nearest(
    a: Flight,
    b: Flight,
    error: PairError,
    pair: tuple[int, int] = (0, 1),
    *,
    below_m: float | None = None,
    seed: int = 20,
) -> Approach | None:
    """The nearest approach of two flights under canopy; None where they never flew at one time."""
    t = together(a, b, below_m)
    if t.size == 0:
        return None
    at_a, at_b = a.place(t), b.place(t)
    apart = np.linalg.norm(at_b - at_a, axis=0)
    if not np.isfinite(apart).all():
        return None
    k = int(np.argmin(apart))
    draws = _drawn(a, b, error, t, apart, np.random.default_rng(seed))
    weight = np.maximum(draws, LOAD.nearest_m) ** -LOAD.plane
    low, left, middle, right, high = _quantiles(draws, weight, (0.025, 0.159, 0.5, 0.841, 0.975))
    landings = [f.landed_s for f in (a, b) if f.landed_s is not None]
    gap = at_b[:, k] - at_a[:, k]
    return Approach(
        pair,
        middle,
        0.5 * (right - left),
        low,
        high,
        float(np.hypot(gap[0], gap[1])),
        float(gap[2]),
        float(t[k]),
        (min(landings) if landings else float(t[-1])) - float(t[k]),
        float(max(min(at_a[2, k], at_b[2, k]), 0.0)),
        (float(at_a[0, k]), float(at_a[1, k]), float(at_a[2, k])),
        (float(at_b[0, k]), float(at_b[1, k]), float(at_b[2, k])),
        float(np.sum(weight[draws < LOAD.close_m]) / np.sum(weight)),
    )


def together(a: Flight, b: Flight, below_m: float | None) -> Vector:
    """Every half second that both canopies flew."""
    spans = a.under_canopy, b.under_canopy
    if spans[0] is None or spans[1] is None:
        return np.zeros(0)
    begin, end = max(spans[0][0], spans[1][0]), min(spans[0][1], spans[1][1])
    if end <= begin:
        return np.zeros(0)
    t = np.arange(begin, end, LOAD.step_s)
    if below_m is None:
        return t
    low: Vector = t[(a.place(t)[2] < below_m) & (b.place(t)[2] < below_m)]
    return low


def _drawn(
    a: Flight, b: Flight, error: PairError, t: Vector, apart: Vector, rng: np.random.Generator
) -> Vector:
    """The least distance (LOAD.draws,) for as many draws of the errors."""
    scaled = error.scale_sd * float(np.max(a.place(t)[2]))
    wide = math.sqrt(2.0 * error.level_m2 + error.height_m2 + scaled**2) + 15.0 * error.clock_sd_s
    use = np.flatnonzero(apart < apart.min() + 5.0 * wide)
    if use.size > LOAD.most_times:
        use = np.union1d(use[:: -(-use.size // LOAD.most_times)], [int(np.argmin(apart))])
    t = t[use]
    scale = error.scale_sd * rng.standard_normal(LOAD.draws)
    sds = [
        np.sqrt(v * free / rng.chisquare(free, LOAD.draws))
        for v, free in (
            (error.level_m2, error.level_free),
            (error.height_m2, error.height_free),
        )
    ]
    ground = math.sqrt(LOAD.level_m2) * rng.standard_normal(LOAD.draws)
    clock = error.clock_sd_s * rng.standard_normal(LOAD.draws)
    moved = b.place((t[None, :] + clock[:, None]).ravel()).reshape(3, LOAD.draws, t.size)
    gap = moved - a.place(t)[:, None, :]
    keep = np.exp(-np.diff(t, prepend=t[0]) / LOAD.slow_s)
    state = rng.standard_normal((3, LOAD.draws))
    grown, high = _grown(a, b, t), np.maximum(a.place(t)[2], 0.0)
    for n in range(t.size):
        if n:
            kick = math.sqrt(max(1.0 - keep[n] ** 2, 0.0))
            state = keep[n] * state + kick * rng.standard_normal((3, LOAD.draws))
        gap[:2, :, n] += sds[0] * state[:2]
        gap[2, :, n] += sds[1] * grown[n] * state[2] + ground + scale * high[n]
    return np.asarray(np.sqrt(np.min(np.sum(gap**2, axis=0), axis=1)))


def _grown(a: Flight, b: Flight, t: Vector) -> Vector:
    """What part (n,) of its slow error a height shows that is counted from the ground: the less, the sooner the touchdown follows."""
    landings = [f.landed_s if f.landed_s is not None else float(f.t_s[-1]) for f in (a, b)]
    left: Vector = np.maximum(0.5 * sum(landings) + LOAD.rest_s - t, 0.0)
    return np.asarray(np.sqrt(1.0 - np.exp(-left / LOAD.slow_s)))


def _quantiles(values: Vector, weight: Vector, shares: Sequence[float]) -> list[float]:
    order = np.argsort(values)
    summed = np.cumsum(weight[order])
    where = (summed - 0.5 * weight[order]) / summed[-1]
    return [float(np.interp(share, where, values[order])) for share in shares]
