"""What a made-up pilot does: straight flight, turns, holding styles, the legs of a pattern, the flare.

Every manoeuvre is a generator that sets the controls of a :class:`~analyser.synthetic.canopy.Flight` once a step (0.1 s).
Angles inside are radians clockwise from north; ``side`` is +1 for right, −1 for left.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyser.synthetic.canopy import DT_S, Flight, G, Pilot

__all__ = [
    "HOLDING_STYLES",
    "Habits",
    "LegPlan",
    "control_check",
    "final",
    "hold",
    "pattern",
    "straight",
    "turn",
    "wrap",
]

HOLDING_STYLES = ("figures of eight", "spirals", "wind checks", "crabbing", "into wind")
FLARE_AGL_M = 5.0


@dataclass(frozen=True, slots=True)
class Habits:
    """How steady a pilot is: heading wander [deg, 1 sigma], share of holding legs and of finals flown in brakes."""

    wander_deg: float = 2.0
    brake_share: float = 0.35
    final_brake_share: float = 0.4


@dataclass(frozen=True, slots=True)
class LegPlan:
    """One leg to fly: where the turn onto it begins [m above the landing area], the heading [deg true], the side of the turn
    (+1 right, −1 left, 0 the shorter way), the bank of that turn [deg]."""

    name: str
    agl_m: float
    heading_deg: float
    side: int = 0
    bank_deg: float = 25.0


Until = Callable[[Flight], bool]


def wrap(angle: float) -> float:
    """An angle brought into −π…π."""
    return (angle + math.pi) % (2.0 * math.pi) - math.pi


def _steer(flight: Flight, error: float, quickness_s: float = 1.6) -> None:
    rate = error / quickness_s
    limit = math.radians(18.0)
    flight.bank_cmd = min(max(math.atan(max(flight.air_speed, 3.0) * rate / G), -limit), limit)


def straight(flight: Flight, heading: float, until: Until, rng: np.random.Generator, habits: Habits) -> Pilot:
    """Hold ``heading`` (with a slow wander) until ``until`` says so."""
    keep = math.exp(-DT_S / 6.0)
    kick = math.radians(habits.wander_deg) * math.sqrt(1.0 - keep * keep)
    while not until(flight):
        noise = rng.standard_normal(64).tolist()
        for z in noise:
            flight.wander = keep * flight.wander + kick * z
            _steer(flight, wrap(heading + flight.wander - flight.heading))
            yield
            if until(flight):
                break


def turn(
    flight: Flight, heading: float, side: int, bank_deg: float, extra: float = 0.0, floor: float = -1e9
) -> Pilot:
    """Turn to ``heading`` over ``side`` with ``bank_deg``, after ``extra`` radians more than the plain turn (whole circles…).

    Rolls out ahead so as not to overshoot; gives up below ``floor`` metres.
    """
    short = wrap(heading - flight.heading)
    if side == 0:
        side = 1 if short >= 0.0 else -1
    left = short * side
    if left < math.radians(-5.0):
        left += 2.0 * math.pi
    left = max(left, 0.0) + extra
    previous = flight.heading
    while left > 0.0 and flight.agl > floor:
        rate = abs(G * math.tan(flight.bank) / max(flight.air_speed, 3.0))
        if left < rate * flight.canopy.roll_lag_s:
            break
        flight.bank_cmd = side * math.radians(bank_deg)
        yield
        left -= (flight.heading - previous) * side
        previous = flight.heading


def _for(flight: Flight, seconds: float, floor: float) -> Until:
    end = flight.t + seconds
    return lambda f: f.t >= end or f.agl <= floor


def control_check(flight: Flight, rng: np.random.Generator, habits: Habits, floor: float) -> Pilot:
    """After opening: brakes stowed for some seconds, then released, a turn to either side and a practice flare."""
    flight.brake = 0.5
    yield from straight(flight, flight.heading, _for(flight, rng.uniform(4.0, 9.0), floor), rng, habits)
    flight.brake = 0.0
    yield from straight(flight, flight.heading, _for(flight, 3.0, floor), rng, habits)
    side = 1 if rng.random() < 0.5 else -1
    for s in (side, -side):
        goal = flight.heading + s * math.radians(rng.uniform(60.0, 120.0))
        yield from turn(flight, goal, s, flight.canopy.bank_deg * rng.uniform(0.7, 1.0), floor=floor)
        yield from straight(flight, goal, _for(flight, rng.uniform(1.0, 3.0), floor), rng, habits)


def hold(
    flight: Flight, style: str, upwind_deg: float, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    """Hold in one of the :data:`HOLDING_STYLES` down to ``floor`` metres; ``upwind_deg`` heading into the wind."""
    upwind = math.radians(upwind_deg)
    step = _STYLES[style]
    side = 1 if rng.random() < 0.5 else -1
    while flight.agl > floor:
        yield from step(flight, upwind, side, floor, rng, habits)
        flight.brake = 0.0
        side = -side


def _maybe_brake(flight: Flight, rng: np.random.Generator, habits: Habits) -> None:
    flight.brake = float(rng.uniform(0.2, 0.6)) if rng.random() < habits.brake_share else 0.0


def _eight(
    flight: Flight, upwind: float, side: int, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    goal = flight.heading + side * math.radians(rng.uniform(270.0, 360.0))
    extra = abs(goal - flight.heading) - (wrap(goal - flight.heading) * side) % (2.0 * math.pi)
    yield from turn(flight, goal, side, _bank(flight, rng), extra=max(extra, 0.0), floor=floor)
    _maybe_brake(flight, rng, habits)
    yield from straight(flight, goal, _for(flight, rng.uniform(3.0, 8.0), floor), rng, habits)


def _spiral(
    flight: Flight, upwind: float, side: int, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    turns = int(rng.integers(1, 4))
    goal = upwind + math.radians(rng.uniform(-40.0, 40.0))
    yield from turn(flight, goal, side, _bank(flight, rng), extra=2.0 * math.pi * turns, floor=floor)
    _maybe_brake(flight, rng, habits)
    yield from straight(flight, goal, _for(flight, rng.uniform(6.0, 15.0), floor), rng, habits)


def _wind_check(
    flight: Flight, upwind: float, side: int, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    goal = upwind + math.radians(rng.normal(0.0, 8.0))
    yield from turn(flight, goal, side, _bank(flight, rng), floor=floor)
    flight.brake = float(rng.uniform(0.4, 0.8))
    yield from straight(flight, goal, _for(flight, rng.uniform(8.0, 15.0), floor), rng, habits)
    flight.brake = 0.0
    away = goal + side * math.radians(rng.uniform(80.0, 190.0))
    yield from straight(flight, goal, _for(flight, rng.uniform(1.0, 4.0), floor), rng, habits)
    yield from turn(flight, away, side, _bank(flight, rng), floor=floor)
    yield from straight(flight, away, _for(flight, rng.uniform(6.0, 18.0), floor), rng, habits)


def _crab(
    flight: Flight, upwind: float, side: int, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    goal = upwind + side * math.radians(rng.uniform(65.0, 100.0))
    through = 1 if wrap(upwind - flight.heading) >= 0.0 else -1
    yield from turn(flight, goal, through, _bank(flight, rng), floor=floor)
    _maybe_brake(flight, rng, habits)
    yield from straight(flight, goal, _for(flight, rng.uniform(12.0, 28.0), floor), rng, habits)


def _into_wind(
    flight: Flight, upwind: float, side: int, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    goal = upwind + math.radians(rng.normal(0.0, 15.0))
    yield from turn(flight, goal, 0, _bank(flight, rng), floor=floor)
    _maybe_brake(flight, rng, habits)
    yield from straight(flight, goal, _for(flight, rng.uniform(15.0, 35.0), floor), rng, habits)


def _bank(flight: Flight, rng: np.random.Generator) -> float:
    return float(flight.canopy.bank_deg * rng.uniform(0.75, 1.0))


_STYLES = {
    "figures of eight": _eight,
    "spirals": _spiral,
    "wind checks": _wind_check,
    "crabbing": _crab,
    "into wind": _into_wind,
}


def pattern(flight: Flight, legs: tuple[LegPlan, ...], rng: np.random.Generator, habits: Habits) -> Pilot:
    """Fly the legs by heading and height: straight until the height of a gate, then the turn onto its leg.

    Marks the beginning of each turn with the name of the leg, its end with ``<name> end``.
    """
    heading = flight.heading
    for leg in legs:
        yield from straight(flight, heading, lambda f, h=leg.agl_m: f.agl <= h, rng, habits)  # type: ignore[misc]
        flight.mark(leg.name)
        heading = math.radians(leg.heading_deg)
        yield from turn(flight, heading, leg.side, leg.bank_deg)
        flight.mark(f"{leg.name} end")
    yield from final(flight, heading, rng, habits)


def final(flight: Flight, heading: float, rng: np.random.Generator, habits: Habits) -> Pilot:
    """Straight to the flare, at times with brakes for part of the way, then the flare down to the ground."""
    if rng.random() < habits.final_brake_share:
        top = flight.agl * rng.uniform(0.5, 0.95)
        bottom = top * rng.uniform(0.2, 0.7)
        yield from straight(flight, heading, lambda f: f.agl <= max(top, FLARE_AGL_M), rng, habits)
        flight.brake = float(rng.uniform(0.15, 0.5))
        yield from straight(flight, heading, lambda f: f.agl <= max(bottom, FLARE_AGL_M), rng, habits)
        flight.brake = 0.0
    yield from straight(flight, heading, lambda f: f.agl <= FLARE_AGL_M, rng, habits)
    yield from flare(flight, heading, rng, habits)


def flare(flight: Flight, heading: float, rng: np.random.Generator, habits: Habits) -> Pilot:
    """Both toggles down over two seconds, straight ahead, until the feet are down."""
    flight.mark("flare")
    while flight.agl > 0.0:
        flight.flare = min(flight.flare + DT_S / 2.0, 1.0)
        if flight.t - flight.marks[-1][1] > 5.0:
            flight.flare = max(flight.flare - 2.0 * DT_S, 0.5)
        _steer(flight, wrap(heading - flight.heading))
        yield
