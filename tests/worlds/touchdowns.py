"""Last minutes of a landing, with what happens after contact: feet down and still, a run-out, a slide; fixes as receivers give them.

Kinematic: the flare bleeds speed off from a few metres, the feet touch at what is left of it, friction or steps take the rest.
A run of a few steps slows by 1.5 to 3 m/s², a slide on grass by 3 to 5 m/s² (friction 0.3 to 0.5; common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
DT = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Approach:
    """Fixes (t [s], east, north, height [m]) and the truth: time and place of contact, ground speed then, direction [rad], receiver's latency [s]."""

    t: Vector
    east: Vector
    north: Vector
    agl: Vector
    contact_s: float
    place: tuple[float, float]
    speed_mps: float
    direction: float
    latency_s: float


def approach(seed: int, *, ground_speed: float | None = None, drift_m: float = 0.0) -> Approach:
    """A straight final from 120 m; ``ground_speed`` [m/s] before the flare (drawn: 0.5 to 16), ``drift_m`` slow error of the place."""
    rng = np.random.default_rng([seed, 733])
    speed = float(rng.uniform(0.5, 16.0)) if ground_speed is None else ground_speed
    airspeed, sink = float(rng.uniform(8.5, 14.0)), float(rng.uniform(3.2, 5.2))
    direction = float(rng.uniform(0.0, 2.0 * math.pi))
    flare_s = float(rng.uniform(1.5, 3.0))
    flare_m = 0.3 * sink * flare_s + float(rng.uniform(-1.0, 0.7))
    bleeds = airspeed * float(rng.uniform(0.3, 0.6))
    slows = float(rng.choice([rng.uniform(1.5, 3.0), rng.uniform(3.0, 5.0), 8.0]))
    slows = max(slows, 2.5) if speed > 7.0 else slows  # nobody runs that fast
    h, s, v, t, down, rows = 120.0, 0.0, speed, 0.0, math.inf, []
    flared: float | None = None
    while t < down + 40.0:
        rows.append((t, s, max(h, 0.0)))
        if h > 0.0:
            flared = t if flared is None and h < flare_m else flared
            part = 0.0 if flared is None else min((t - flared) / flare_s, 1.0)
            v = max(speed - bleeds * part, -1.0)
            h -= max(sink * (1.0 - 1.1 * math.sin(0.5 * math.pi * part)), 0.5) * DT
            contact = (t + DT, s + v * DT, abs(v))
        elif math.isinf(down):
            down = t
        if h <= 0.0:
            v = math.copysign(max(abs(v) - slows * DT, 0.0), v)
            if t > down + 20.0:
                v = 0.9
        s += v * DT
        t += DT
    clock, along, agl = np.array(rows).T
    return _received(rng, (clock, along, agl), contact, direction, drift_m)


def _received(
    rng: np.random.Generator,
    path: tuple[Vector, Vector, Vector],
    contact: tuple[float, float, float],
    direction: float,
    drift_m: float,
) -> Approach:
    clock, along, agl = path
    rate = float(rng.choice([1.0, 1.0, 2.0, 5.0, 10.0]))
    t = np.arange(float(rng.uniform(0.0, 1.0)), clock[-1], 1.0 / rate)
    late, smooth = float(rng.uniform(0.0, 1.2)), float(rng.choice([0.0, 0.0, 0.6]))
    x, z = np.interp(t - late, clock, along), np.interp(t - late, clock, agl)
    if smooth > 0.0:
        x, z = _low_pass(x, rate, smooth), _low_pass(z, rate, smooth)
    white, rough = float(rng.uniform(0.05, 0.35)), float(rng.uniform(0.2, 0.8))
    off = drift_m * rng.standard_normal(2)
    slow = (
        float(rng.uniform(0.0, 1.5)) * np.cumsum(rng.standard_normal(t.size)) * math.sqrt(2.0 / rate / 60.0)
    )
    east = x * math.sin(direction) + off[0] + white * rng.standard_normal(t.size)
    north = x * math.cos(direction) + off[1] + white * rng.standard_normal(t.size)
    place = (contact[1] * math.sin(direction), contact[1] * math.cos(direction))
    z = z + slow - slow[-1] + rough * rng.standard_normal(t.size)
    return Approach(t, east, north, z, contact[0], place, contact[2], direction, late + smooth)


def _low_pass(x: Vector, rate: float, seconds: float) -> Vector:
    keep, out, now = math.exp(-1.0 / rate / seconds), np.empty_like(x), x[0]
    for i, value in enumerate(x):
        now = keep * now + (1.0 - keep) * value
        out[i] = now
    return out
