"""How a made-up canopy flies: trim, density, load factor, brakes, surge, sink lag, bank, flare; and its integrator."""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.air import Air, Column, airspeed_factor

__all__ = ["DT_S", "CanopyModel", "CanopyPath", "Flight", "Pilot", "integrate", "steady"]

Vector = NDArray[np.float64]

DT_S = 0.1
G = 9.80665
LONGEST_S = 3600.0


@dataclass(frozen=True, slots=True)
class CanopyModel:
    """A wing at sea-level density: horizontal trim airspeed and sink [m/s], and how it answers.

    ``brake_loss`` share of the airspeed that full brakes take; half brakes take ``half_brake_sink`` of the sink, full brakes 0.1
    of it; airspeed answers as a second-order system (``period_s``, ``damping``), sink with ``sink_lag_s``, bank with
    ``roll_lag_s``; ``bank_deg`` the steepest usual turn; ``built_in_turn_dps`` turn rate with nobody steering [deg/s].
    """

    airspeed_mps: float = 10.5
    sink_mps: float = 4.0
    brake_loss: float = 0.42
    half_brake_sink: float = 0.25
    bank_deg: float = 32.0
    period_s: float = 4.5
    damping: float = 0.6
    sink_lag_s: float = 0.8
    roll_lag_s: float = 0.6
    built_in_turn_dps: float = 0.0


def steady(canopy: CanopyModel, bank_rad: float, brake: float, factor: float = 1.0) -> tuple[float, float]:
    """Horizontal airspeed and sink [m/s] of the steady turn at ``bank_rad`` with ``brake`` 0…1 and a density ``factor`` 1/√σ.

    Exact steady gliding turn without sideslip at constant lift coefficient: tan γ = tan γ0 / cos φ,
    V² = V0² cos γ / (cos γ0 cos φ).
    """
    v0 = canopy.airspeed_mps * (1.0 - canopy.brake_loss * brake) * factor
    a = 4.0 * canopy.half_brake_sink - 0.1
    c = a - 0.1
    s0 = canopy.sink_mps * (1.0 - a * brake + c * brake * brake) * factor
    t0 = s0 / v0
    cos_bank = math.cos(bank_rad)
    t = t0 / cos_bank
    cos_g0, cos_g = 1.0 / math.sqrt(1.0 + t0 * t0), 1.0 / math.sqrt(1.0 + t * t)
    v = v0 / cos_g0 * math.sqrt(cos_g / (cos_g0 * cos_bank))
    return v * cos_g, v * cos_g * t


class Flight:
    """The state of the flight while it is integrated; the pilot reads it and sets ``bank_cmd``, ``brake`` and ``flare``."""

    __slots__ = (
        "agl", "air_speed", "bank", "bank_cmd", "brake", "canopy", "east", "flare", "heading", "marks", "north", "sink",
        "t", "v_east", "v_north", "wander",
    )  # fmt: skip

    def __init__(self, canopy: CanopyModel, agl: float, heading_rad: float) -> None:
        self.canopy = canopy
        self.t = 0.0
        self.east = self.north = 0.0
        self.agl = agl
        self.heading = heading_rad
        self.bank = self.bank_cmd = 0.0
        self.air_speed = self.sink = 0.0
        self.v_east = self.v_north = 0.0
        self.brake = self.flare = 0.0
        self.wander = 0.0
        self.marks: list[tuple[str, float, float, float, float]] = []

    def mark(self, name: str) -> None:
        """Note time, height and place under a name."""
        self.marks.append((name, self.t, self.agl, self.east, self.north))


Pilot = Generator[None, None, None]


@dataclass(frozen=True, slots=True, eq=False)
class CanopyPath:
    """The canopy flight every 0.1 s, all (n,); ``marks`` (name, t, agl, east, north) as the pilot set them."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    air_east: Vector
    air_north: Vector
    gust_east: Vector
    gust_north: Vector
    heading_deg: Vector
    bank_deg: Vector
    brake: Vector
    marks: tuple[tuple[str, float, float, float, float], ...]

    def mark(self, name: str) -> tuple[str, float, float, float, float] | None:
        """The first mark of that name."""
        return next((m for m in self.marks if m[0] == name), None)


def _normals(rng: np.random.Generator) -> Iterator[tuple[float, float]]:
    while True:
        yield from map(tuple, rng.standard_normal((2048, 2)).tolist())


def _quiet() -> Iterator[tuple[float, float]]:
    while True:
        yield (0.0, 0.0)


def integrate(
    flight: Flight,
    air: Air,
    pilot: Pilot,
    rng: np.random.Generator | None,
    *,
    elevation_m: float = 0.0,
    floor_agl_m: float = 0.0,
) -> CanopyPath:
    """Fly until the pilot's generator ends or the ground (``floor_agl_m``) is reached; steps of 0.1 s, semi-implicit Euler.

    ``rng`` None means no gusts whatever the air says.
    """
    canopy, column = flight.canopy, Column(air)
    noise = _quiet() if rng is None else _normals(rng)
    omega = 2.0 * math.pi / canopy.period_s
    k_v, k_d = omega * omega, 2.0 * canopy.damping * omega
    factor = airspeed_factor(flight.agl + elevation_m)
    if flight.air_speed == 0.0:
        flight.air_speed, flight.sink = steady(canopy, 0.0, flight.brake, factor)
    acceleration = 0.0
    z = next(noise)
    gust = (z[0], z[1])
    bias = math.radians(canopy.built_in_turn_dps)
    rows: list[tuple[float, ...]] = []
    limit = 1.4
    while flight.agl > floor_agl_m and flight.t < LONGEST_S:
        if next(pilot, True):
            break
        agl, speed = flight.agl, flight.air_speed
        factor = airspeed_factor(agl + elevation_m)
        wanted = flight.bank_cmd + math.atan(speed * bias / G)
        step = (wanted - flight.bank) / canopy.roll_lag_s
        flight.bank += min(max(step, -limit), limit) * DT_S
        target_v, target_s = steady(canopy, flight.bank, flight.brake, factor)
        target_v *= 1.0 - 0.6 * flight.flare
        target_s *= 1.0 - 0.92 * flight.flare
        acceleration += (k_v * (target_v - speed) - k_d * acceleration) * DT_S
        flight.air_speed = speed = max(speed + acceleration * DT_S, 0.5)
        flight.sink += (target_s - flight.sink) / canopy.sink_lag_s * DT_S
        flight.heading += G * math.tan(flight.bank) / max(speed, 3.0) * DT_S
        rho = math.exp(-speed * DT_S / column.gust_length(agl))
        z = next(noise)
        spread = math.sqrt(1.0 - rho * rho)
        gust = (rho * gust[0] + spread * z[0], rho * gust[1] + spread * z[1])
        scale = column.gust_scale(agl) if rng is not None else 0.0
        gust_e, gust_n = scale * gust[0], scale * gust[1]
        wind_e, wind_n = column.mean(agl, flight.t)
        air_e, air_n = speed * math.sin(flight.heading), speed * math.cos(flight.heading)
        rows.append(
            (flight.t, flight.east, flight.north, agl, air_e, air_n, gust_e, gust_n, flight.heading, flight.bank, flight.brake + flight.flare)
        )  # fmt: skip
        flight.v_east, flight.v_north = air_e + wind_e + gust_e, air_n + wind_n + gust_n
        flight.east += flight.v_east * DT_S
        flight.north += flight.v_north * DT_S
        flight.agl += (column.up(flight.t) - flight.sink) * DT_S
        flight.t += DT_S
    rows.append((flight.t, flight.east, flight.north, flight.agl, *rows[-1][4:]) if rows else (0.0,) * 11)
    a = np.array(rows)
    return CanopyPath(
        a[:, 0], a[:, 1], a[:, 2], a[:, 3], a[:, 4], a[:, 5], a[:, 6], a[:, 7],
        np.mod(np.degrees(a[:, 8]), 360.0), np.degrees(a[:, 9]), a[:, 10], tuple(flight.marks),
    )  # fmt: skip
