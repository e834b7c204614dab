"""A canopy without forces: tables of speed and sink by brakes, first-order answers, an airspeed that wanders, slow openings.

Speeds go with √(load factor/density ratio), sink with the load factor to 3/2: the steady level turn at constant lift coefficient
(any text on flight mechanics). The opening is a smooth step from free fall to the glide in stowed brakes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from .craft import DT_S, RHO0, Craft, G
from .sky import Sky

__all__ = ["Kinematic", "Tables", "draw_tables", "ornstein"]

BRAKES = (0.0, 0.25, 0.5, 0.75, 1.0)


def ornstein(
    rng: np.random.Generator, n: int, sd: float, tau_s: float, dt: float = DT_S
) -> NDArray[np.float64]:
    """A wander of standard deviation ``sd`` and exponential correlation over ``tau_s``, (n,)."""
    keep = math.exp(-dt / tau_s)
    kicks = rng.standard_normal(n) * sd
    kicks[1:] *= math.sqrt(1.0 - keep * keep)
    return np.asarray(lfilter([1.0], [1.0, -keep], kicks))


@dataclass(frozen=True, slots=True)
class Tables:
    """Trim at sea level [m/s], shares of both at brakes 0, ¼, ½, ¾ and 1, lags [s], wander (share, s), opening [s]."""

    airspeed_mps: float = 10.5
    sink_mps: float = 4.0
    speeds: tuple[float, ...] = (1.0, 0.87, 0.72, 0.6, 0.48)
    sinks: tuple[float, ...] = (1.0, 0.86, 0.8, 0.85, 1.05)
    front: tuple[float, float] = (1.12, 1.45)
    rear: tuple[float, float] = (0.88, 0.95)
    speed_lag_s: float = 1.3
    sink_lag_s: float = 0.8
    turn_lag_s: float = 0.6
    wander: float = 0.02
    wander_s: float = 30.0
    opening_s: float = 7.0

    def steady(self, brake: float = 0.0, riser: float = 0.0) -> tuple[float, float]:
        """Airspeed and sink at sea level, straight."""
        v = self.airspeed_mps * _between(self.speeds, brake)
        s = self.sink_mps * _between(self.sinks, brake)
        ends = self.front if riser > 0.0 else self.rear
        x = abs(riser)
        return v * (1.0 + (ends[0] - 1.0) * x), s * (1.0 + (ends[1] - 1.0) * x)


def _between(values: tuple[float, ...], brake: float) -> float:
    x = min(max(brake, 0.0), 1.0) * 4.0
    i = min(int(x), 3)
    return values[i] + (values[i + 1] - values[i]) * (x - i)


class Kinematic(Craft):
    """Follows its tables; starts at line stretch."""

    def __init__(
        self,
        tables: Tables,
        sky: Sky,
        agl: float,
        heading: float,
        rng: np.random.Generator,
        fall_mps: float = 50.0,
    ) -> None:
        super().__init__(sky, agl, heading)
        self.tables, self.fall = tables, fall_mps
        self.rate, self._level, self._down = 0.0, 0.0, fall_mps
        self._wander = ornstein(rng, 40_000, tables.wander, tables.wander_s).tolist()

    def fly_now(self, brake: float = 0.0) -> None:
        """Put the canopy into steady flight at once (for checks)."""
        self._level, self._down = self.tables.steady(brake)
        self.t, self.inflated_s, self.brake, self.hands.brake = 1e3, 0.0, brake, brake

    def brake_for(self, share: float) -> float:
        return float(np.interp(-share, [-s for s in self.tables.speeds], BRAKES))

    def trim(self) -> tuple[float, float]:
        return self.tables.airspeed_mps, self.tables.sink_mps

    def move(self, dt: float) -> None:
        self.follow_hands(dt)
        tables, sky = self.tables, self.sky
        self.rate += (self.hands.rate + self.hands.spin - self.rate) * dt / tables.turn_lag_s
        load = math.hypot(1.0, self._level * self.rate / G)
        thin = math.sqrt(RHO0 / sky.rho)
        v, s = tables.steady(self.brake, self.riser)
        v *= thin * math.sqrt(load) * (1.0 + self._wander[min(self.step_no, 39_999)])
        s *= thin * load**1.5
        x = self.t / tables.opening_s
        if x < 1.0:
            step = x * x * (3.0 - 2.0 * x)
            self._level, self._down = v * step, s + (self.fall - s) * (1.0 - step)
        else:
            self.inflated_s = tables.opening_s if self.inflated_s is None else self.inflated_s
            change = (v - self._level) / tables.speed_lag_s
            self._level += change * dt
            # speed lost is height kept, and the other way round: the flare, and the dive after brakes are let up
            self._down += (s + self._level * change / G - self._down) * dt / tables.sink_lag_s
        self.heading += self.rate * dt
        self.bank = math.atan(self._level * self.rate / G)
        e, n = self._level * math.sin(self.heading), self._level * math.cos(self.heading)
        sky.step(dt, self.t, self.agl, e, n, math.hypot(self._level, self._down))
        self.speed = self._level
        self.ve, self.vn = e + sky.mean_e + sky.gust_e, n + sky.mean_n + sky.gust_n
        self.vu = sky.up - self._down
        self.east += self.ve * dt
        self.north += self.vn * dt
        self.agl += self.vu * dt
        self.t += dt
        self.step_no += 1


def draw_tables(rng: np.random.Generator) -> Tables:
    """Canopies of 8 to 14 m/s, glide 2.2 to 3.2, openings of 4 to 10 s."""
    speed, glide = float(rng.uniform(8.0, 14.0)), float(rng.uniform(2.2, 3.2))
    half = float(rng.uniform(0.66, 0.8))
    full = float(rng.uniform(0.42, 0.52))
    flat = float(rng.uniform(0.72, 0.9))
    rise = float(rng.uniform(0.9, 1.15))
    return Tables(
        airspeed_mps=speed,
        sink_mps=speed / glide,
        speeds=(1.0, 1.0 - 0.45 * (1.0 - half), half, 0.5 * (half + full), full),
        sinks=(1.0, 1.0 - 0.7 * (1.0 - flat), flat, flat + 0.3 * (rise - flat), rise),
        front=(float(rng.uniform(1.06, 1.18)), float(rng.uniform(1.25, 1.7))),
        rear=(float(rng.uniform(0.82, 0.94)), float(rng.uniform(0.85, 1.05))),
        speed_lag_s=float(rng.uniform(0.8, 2.0)),
        sink_lag_s=float(rng.uniform(0.5, 1.2)),
        turn_lag_s=float(rng.uniform(0.4, 0.9)),
        wander=float(rng.uniform(0.01, 0.03)),
        wander_s=float(rng.uniform(15.0, 60.0)),
        opening_s=float(rng.uniform(4.0, 10.0)),
    )
