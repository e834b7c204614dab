"""What a made-up receiver makes of the true flight: rate, white and slow errors, smoothing, lost fixes, digits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Receiver", "Sampled", "sample"]

Vector = NDArray[np.float64]

DRIFT_TAU_S = 180.0


@dataclass(frozen=True, slots=True)
class Receiver:
    """Errors of a receiver. ``drift_m`` is the standard deviation of the change of the slow error over a minute, per axis."""

    rate_hz: float = 5.0
    white_m: float = 0.15
    drift_m: float = 1.2
    height_white_m: float = 0.4
    height_drift_m: float = 1.8
    height_offset_m: float = 0.0
    smooth_s: float = 0.0
    lag_s: float = 0.0
    lost: float = 0.0
    digits: int = 7
    height_digits: int = 1
    doppler: bool = False
    speed_white_mps: float = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """Fixes in local metres: ``t_s`` on the clock of the flight, places, height above the ground, Doppler speed or None."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    speed_mps: Vector | None
    course_deg: Vector | None


def _drift(rng: np.random.Generator, t: Vector, change_per_minute: float) -> Vector:
    """A slow error: exponential correlation over three minutes, scaled to change by that much over one."""
    sd = change_per_minute / math.sqrt(2.0 * (1.0 - math.exp(-60.0 / DRIFT_TAU_S)))
    step = 2.0
    n = int((t[-1] - t[0]) / step) + 3
    keep = math.exp(-step / DRIFT_TAU_S)
    z = rng.standard_normal(n) * sd
    weights = keep ** np.arange(min(n, 600))
    kicks = z * math.sqrt(1.0 - keep * keep)
    kicks[0] = z[0]
    walk = np.convolve(kicks, weights)[:n]
    return np.interp(t - t[0], np.arange(n) * step, walk)


def _smooth(values: Vector, dt: float, smooth_s: float) -> Vector:
    if smooth_s <= 0.0:
        return values
    half = max(int(4.0 * smooth_s / dt), 1)
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * dt / smooth_s) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    return np.convolve(padded, kernel, mode="valid")


def sample(
    rng: np.random.Generator, receiver: Receiver, t: Vector, east: Vector, north: Vector, agl: Vector
) -> Sampled:
    """Fixes of the true path given on an even grid ``t`` (0.1 s)."""
    dt = float(t[1] - t[0])
    east, north, agl = (_smooth(v, dt, receiver.smooth_s) for v in (east, north, agl))
    start = math.ceil(t[0] * receiver.rate_hz - 1e-9) / receiver.rate_hz
    count = int((t[-1] - start) * receiver.rate_hz + 1e-9) + 1
    clock = start + np.arange(count) / receiver.rate_hz
    if receiver.lost > 0.0:
        clock = clock[rng.random(count) >= receiver.lost]
    seen = clock - receiver.lag_s
    n = clock.shape[0]
    fixes = []
    for values, white, drift in (
        (east, receiver.white_m, receiver.drift_m),
        (north, receiver.white_m, receiver.drift_m),
        (agl, receiver.height_white_m, receiver.height_drift_m),
    ):
        fixes.append(np.interp(seen, t, values) + white * rng.standard_normal(n) + _drift(rng, clock, drift))
    speed = course = None
    if receiver.doppler:
        v = [
            np.interp(seen, t, np.gradient(values, dt)) + receiver.speed_white_mps * rng.standard_normal(n)
            for values in (east, north)
        ]
        speed, course = np.hypot(v[0], v[1]), np.mod(np.degrees(np.arctan2(v[0], v[1])), 360.0)
    return Sampled(clock, fixes[0], fixes[1], fixes[2] + receiver.height_offset_m, speed, course)
