"""How a made-up canopy flies: trim, density, load factor, brakes, surge, sink lag, bank, flare; and its integrator."""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.air import Air, Column, Gusts, airspeed_factor

__all__ = ["DT_S", "CanopyModel", "CanopyPath", "Flight", "Mark", "Pilot", "integrate", "steady"]

Vector = NDArray[np.float64]

DT_S = 0.1
G = 9.80665
LONGEST_S = 3600.0
ROLL_LIMIT_RPS = 1.4


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


class Mark(NamedTuple):
    """A moment the pilot noted: name, time of canopy flight, height, place from where the canopy flight began."""

    name: str
    t_s: float
    agl_m: float
    east_m: float
    north_m: float


class Flight:
    """The state of the flight while it is integrated; the pilot reads it and sets ``bank_cmd``, ``brake`` and ``flare``.

    Angles in radians; ``east``, ``north`` from where the canopy flight began.
    """

    __slots__ = (
        "acceleration", "agl", "air_speed", "bank", "bank_cmd", "brake", "canopy", "east", "flare", "heading", "marks",
        "north", "sink", "t", "wander",
    )  # fmt: skip

    def __init__(self, canopy: CanopyModel, agl: float, heading_rad: float) -> None:
        self.canopy = canopy
        self.t = self.east = self.north = 0.0
        self.agl = agl
        self.heading = heading_rad
        self.bank = self.bank_cmd = 0.0
        self.air_speed = self.sink = self.acceleration = 0.0
        self.brake = self.flare = 0.0
        self.wander = 0.0
        self.marks: list[Mark] = []

    def mark(self, name: str) -> None:
        """Note time, height and place under a name."""
        self.marks.append(Mark(name, self.t, self.agl, self.east, self.north))

    @property
    def turn_rate(self) -> float:
        """Rate of turn [rad/s] without sideslip: ω = g tan φ / V."""
        return G * math.tan(self.bank) / max(math.hypot(self.air_speed, self.sink), 3.0)

    def trim(self, factor: float) -> None:
        """Start in the steady flight of the present brakes."""
        self.air_speed, self.sink = steady(self.canopy, 0.0, self.brake, factor)

    def respond(self, factor: float) -> None:
        """One step of 0.1 s: bank follows the command, airspeed (second order) and sink (first order) follow the trim."""
        canopy = self.canopy
        bias = math.atan(self.air_speed * math.radians(canopy.built_in_turn_dps) / G)
        roll = (self.bank_cmd + bias - self.bank) / canopy.roll_lag_s
        self.bank += min(max(roll, -ROLL_LIMIT_RPS), ROLL_LIMIT_RPS) * DT_S
        speed, sink = steady(canopy, self.bank, self.brake, factor)
        speed *= 1.0 - 0.6 * self.flare
        sink *= 1.0 - 0.92 * self.flare
        omega = 2.0 * math.pi / canopy.period_s
        self.acceleration += (
            omega * omega * (speed - self.air_speed) - 2.0 * canopy.damping * omega * self.acceleration
        ) * DT_S
        self.air_speed = max(self.air_speed + self.acceleration * DT_S, 0.5)
        self.sink += (sink - self.sink) / canopy.sink_lag_s * DT_S
        self.heading += self.turn_rate * DT_S


Pilot = Generator[None, None, None]


@dataclass(frozen=True, slots=True, eq=False)
class CanopyPath:
    """The canopy flight every 0.1 s, all (n,); ``marks`` as the pilot set them."""

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
    marks: tuple[Mark, ...]

    def mark(self, name: str) -> Mark | None:
        """The first mark of that name."""
        return next((m for m in self.marks if m.name == name), None)


def integrate(
    flight: Flight,
    air: Air,
    pilot: Pilot,
    rng: np.random.Generator | None,
    *,
    elevation_m: float = 0.0,
    floor_agl_m: float = 0.0,
) -> CanopyPath:
    """Fly until the pilot's generator ends or the height ``floor_agl_m`` is reached; semi-implicit Euler steps of 0.1 s.

    ``rng`` drives the gusts; None means no gusts whatever the air says.
    """
    column, gusts = Column(air), Gusts(air, rng)
    if flight.air_speed == 0.0:
        flight.trim(airspeed_factor(flight.agl + elevation_m))
    rows: list[tuple[float, ...]] = []
    while flight.agl > floor_agl_m and flight.t < LONGEST_S:
        if next(pilot, True):
            break
        t, agl, east, north = flight.t, flight.agl, flight.east, flight.north
        flight.respond(airspeed_factor(agl + elevation_m))
        gust_e, gust_n = gusts.step(flight.air_speed * DT_S, agl)
        wind_e, wind_n = column.mean(agl, t)
        air_e = flight.air_speed * math.sin(flight.heading)
        air_n = flight.air_speed * math.cos(flight.heading)
        flight.east += (air_e + wind_e + gust_e) * DT_S
        flight.north += (air_n + wind_n + gust_n) * DT_S
        flight.agl += (column.up(t) - flight.sink) * DT_S
        flight.t = t + DT_S
        rows.append(
            (
                t,
                east,
                north,
                agl,
                air_e,
                air_n,
                gust_e,
                gust_n,
                flight.heading,
                flight.bank,
                flight.brake + flight.flare,
            )
        )
    return _path(flight, rows)


def _path(flight: Flight, rows: list[tuple[float, ...]]) -> CanopyPath:
    if not rows:
        raise ValueError("a canopy flight needs at least one step above its floor")
    rows.append((flight.t, flight.east, flight.north, flight.agl, *rows[-1][4:]))
    t, east, north, agl, air_e, air_n, gust_e, gust_n, heading, bank, brake = np.array(rows).T.copy()
    heading_deg, bank_deg = np.mod(np.degrees(heading), 360.0), np.degrees(bank)
    return CanopyPath(
        t,
        east,
        north,
        agl,
        air_e,
        air_n,
        gust_e,
        gust_n,
        heading_deg,
        bank_deg,
        np.minimum(brake, 1.0),
        tuple(flight.marks),
    )
