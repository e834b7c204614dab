"""What two tracks have in common in the aeroplane: whether it was one, what their clocks and heights differ by, how far their errors go.

Two receivers in one aeroplane are at one place, so what lies between them is their errors, measured on the very day: the
times they are apart (of both clocks, and of how late each receiver writes), the scale of their heights, and the slow errors of place
and height that are left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.load.flights import Flight
from analyser.load.thresholds import LOAD

__all__ = ["Ride", "ride_of", "usual_scale_sd"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ride:
    """Two tracks in the aeroplane: ``b`` beside ``a``.

    ``seconds`` of it in common; ``clock_s`` what has to be added to the times of ``b`` to be on the clock of ``a``, ``clock_sd_s``; ``apart_m``
    median distance left; ``variance_m2`` of one axis of the places' difference, known as well as from ``free`` independent
    values; the same of the heights' difference (``height_m2``, ``height_free``), once those of ``b`` are multiplied by ``scale``.
    """

    seconds: float
    clock_s: float
    clock_sd_s: float
    apart_m: float
    variance_m2: float
    free: float
    scale: float
    scale_sd: float
    height_m2: float
    height_free: float

    @property
    def one_aeroplane(self) -> bool:
        """Whether both sat in the same."""
        return self.apart_m <= LOAD.one_aeroplane_m


def ride_of(a: Flight, b: Flight) -> Ride | None:
    """What two tracks have in common in the aeroplane; None where that is too little to tell."""
    t = _flying(a, b)
    if t.size < LOAD.shortest_s:
        return None
    clock, furthest = _coarse(a, b, t), LOAD.most_s + LOAD.step_s
    for _ in range(3):
        left, speed = _left(a, b, t, clock)
        more = float(np.sum(left * speed) / max(np.sum(speed**2), 1.0))
        clock = min(max(clock + more, -furthest), furthest)  # two aeroplanes have no clock in common
    left, speed = _left(a, b, t, clock)
    apart = float(np.median(np.hypot(*left)))
    alike = max(1.0, t.size / (2.0 * LOAD.slow_s))
    free = max(2.0 * alike - 1.0, 0.5)
    variance = float(np.mean(left**2)) * 2.0 * alike / (2.0 * alike - 0.5)
    fastest = max(math.sqrt(float(np.mean(np.sum(speed**2, axis=0)))), LOAD.flying_mps)
    usual = math.hypot(a.position_sd_m, b.position_sd_m)
    sd = (
        math.hypot(math.sqrt((variance * free + 2.0 * usual**2) / (free + 2.0) / alike), LOAD.seats_m)
        / fastest
    )
    return Ride(float(t.size), clock, sd, apart, variance, free, *_heights(a, b, t, clock))


def _flying(a: Flight, b: Flight) -> Vector:
    """Every second that both are in the air in an aeroplane, on the clock of ``a``."""
    ends = [(f.exit_s if f.exit_s is not None else float(f.t_s[0])) - LOAD.before_exit_s for f in (a, b)]
    begin, end = max(float(a.t_s[0]), float(b.t_s[0])) + 1.0, min(ends)
    if end - begin < LOAD.shortest_s:
        return np.zeros(0)
    t = np.arange(begin, end, 1.0)
    flying = np.ones(t.size, dtype=bool)
    for flight in (a, b):
        before, after = flight.place(t - 1.0), flight.place(t + 1.0)
        speed = np.hypot(*(after - before)[:2]) / 2.0
        flying &= (speed > LOAD.flying_mps) & (flight.place(t)[2] > LOAD.flying_m)
    return t[flying]


def _left(a: Flight, b: Flight, t: Vector, clock: float) -> tuple[Vector, Vector]:
    """Place of ``b`` less that of ``a`` (2, n) [m] at times of ``a``, and the speed of ``b`` (2, n) [m/s]."""
    at = t - clock
    speed = (b.place(at + 1.0) - b.place(at - 1.0))[:2] / 2.0
    return (b.place(at) - a.place(t))[:2], speed


def _coarse(a: Flight, b: Flight, t: Vector) -> float:
    """The clock that brings both nearest together, to half a second."""
    tries = np.arange(-LOAD.most_s, LOAD.most_s + 0.1, LOAD.step_s)
    misses = [float(np.median(np.hypot(*_left(a, b, t, c)[0]))) for c in tries]
    return float(tries[int(np.argmin(misses))])


def usual_scale_sd(a: Flight, b: Flight) -> float:
    """Error of the scale of one's heights against the other's, before a ride tells."""
    return LOAD.scale_sd if a.barometric != b.barometric else LOAD.scale_alike * LOAD.scale_sd


def _heights(a: Flight, b: Flight, t: Vector, clock: float) -> tuple[float, float, float, float]:
    """Scale of the heights of ``b``, its sd; variance and freedom of what is left of their difference."""
    high_a, high_b = a.place(t)[2], b.place(t - clock)[2]
    usual = a.agl_sd_m**2 + b.agl_sd_m**2
    prior = usual_scale_sd(a, b)
    if not (np.isfinite(high_a).all() and np.isfinite(high_b).all()) or np.ptp(high_b) < LOAD.fewest_rise_m:
        return 1.0, prior, usual, 0.0
    alike = max(1.0, t.size / (3.0 * LOAD.slow_s))
    middle = float(high_b.mean())
    rise = high_b - middle
    gap = high_a - high_b
    slope = float(np.sum(rise * (gap - gap.mean())) / np.sum(rise**2))
    rest = gap - slope * high_b
    left = float(np.mean((rest - rest.mean()) ** 2))
    variance = (left * alike + usual * 2.0) / (alike + 2.0)
    slope_sd = math.sqrt(variance / (np.mean(rise**2) * alike))
    keep = prior**2 / (prior**2 + slope_sd**2)
    return 1.0 + keep * slope, math.sqrt(keep) * slope_sd, left, max(alike - 1.0, 0.0)
