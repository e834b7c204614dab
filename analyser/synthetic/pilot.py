"""What a made-up pilot does: straight flight, turns, the legs of a pattern, the final and the flare.

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
    "Habits", "LegPlan", "final", "flare", "lasting", "pattern", "straight", "turn", "turned_in_roll_out", "wrap",
]  # fmt: skip

FLARE_S = 1.6
LOWEST_BRAKE_M = 8.0
QUICKNESS_S = 1.6
STEER_BANK_DEG = 18.0
WANDER_S = 6.0
LEVEL_RAD = 0.05

Until = Callable[[Flight], bool]
Heading = Callable[[Flight], float]


@dataclass(frozen=True, slots=True)
class Habits:
    """How steady a pilot is: heading wander [deg, 1 sigma], share of holding legs and of finals flown in brakes.

    ``final_brake`` brakes all along final instead; ``flares`` False: straight into the ground, as a plan on paper does.
    """

    wander_deg: float = 2.0
    brake_share: float = 0.35
    final_brake_share: float = 0.4
    final_brake: float | None = None
    flares: bool = True


@dataclass(frozen=True, slots=True)
class LegPlan:
    """One leg to fly: height where the turn onto it begins [m above the landing area], heading [deg true], side of that turn
    (+1 right, −1 left, 0 the shorter way), its bank [deg] and brakes.

    ``weave_deg`` and ``weaves``: S-turns after the turn. ``counts`` False: not a leg by name (part of a long arc), so no gate.
    """

    name: str
    agl_m: float
    heading_deg: float
    side: int = 0
    bank_deg: float = 25.0
    turn_brake: float = 0.0
    weave_deg: float = 0.0
    weaves: int = 0
    counts: bool = True

    @property
    def mark(self) -> str:
        """The name under which the turn onto this leg is marked; in brackets where the leg does not count."""
        return self.name if self.counts else f"({self.name})"


def wrap(angle: float) -> float:
    """An angle brought into −π…π."""
    return (angle + math.pi) % (2.0 * math.pi) - math.pi


def steer(flight: Flight, heading: float) -> None:
    """Bank towards a heading, gently."""
    rate = wrap(heading - flight.heading) / QUICKNESS_S
    limit = math.radians(STEER_BANK_DEG)
    flight.bank_cmd = min(max(math.atan(max(flight.air_speed, 3.0) * rate / G), -limit), limit)


def lasting(flight: Flight, seconds: float, floor: float = -1e9) -> Until:
    """Until so many seconds have passed, or a height is reached."""
    end = flight.t + seconds
    return lambda f: f.t >= end or f.agl <= floor


def straight(
    flight: Flight, heading: float | Heading, until: Until, rng: np.random.Generator, habits: Habits
) -> Pilot:
    """Hold a heading (or what ``heading`` says each step), with a slow wander, until ``until`` says so."""
    keep = math.exp(-DT_S / WANDER_S)
    kick = math.radians(habits.wander_deg) * math.sqrt(1.0 - keep * keep)
    while not until(flight):
        for z in rng.standard_normal(64).tolist():
            flight.wander = keep * flight.wander + kick * z
            steer(flight, (heading if isinstance(heading, float) else heading(flight)) + flight.wander)
            yield
            if until(flight):
                break


def _rule_of_thumb(flight: Flight) -> float:
    return abs(flight.turn_rate) * flight.canopy.roll_lag_s


def turned_in_roll_out(flight: Flight) -> float:
    """How far the heading still turns [rad] once the toggles are let up: the bank φ dies away as φ·exp(−t/lag), the rate goes
    with its tangent, and ∫ tan x / x dx from 0 to φ = φ + φ³/9 + 2φ⁵/75 + …"""
    bank = abs(flight.bank)
    series = bank + bank**3 / 9.0 + 2.0 * bank**5 / 75.0
    return G * series / max(math.hypot(flight.air_speed, flight.sink), 3.0) * flight.canopy.roll_lag_s


def turn(
    flight: Flight,
    heading: float,
    side: int,
    bank_deg: float,
    extra: float = 0.0,
    floor: float = -1e9,
    lead: Heading = _rule_of_thumb,
) -> Pilot:
    """Turn to ``heading`` over ``side`` with ``bank_deg``, after ``extra`` radians more than the plain turn (whole circles).

    Begins to roll out ``lead`` radians ahead so as not to overshoot: by a rule of thumb that stops a few degrees early out of a
    steep bank, or exactly (:func:`turned_in_roll_out`). Gives up below ``floor`` metres.
    """
    short = wrap(heading - flight.heading)
    if side == 0:
        side = 1 if short >= 0.0 else -1
    left = short * side
    if left < math.radians(-5.0):
        left += 2.0 * math.pi
    left = max(left, 0.0) + extra
    previous = flight.heading
    while flight.agl > floor and left > lead(flight):
        flight.bank_cmd = side * math.radians(bank_deg)
        yield
        left -= (flight.heading - previous) * side
        previous = flight.heading
    latest = flight.t + 3.0 * flight.canopy.roll_lag_s
    while flight.agl > floor and flight.bank * side > LEVEL_RAD and flight.t < latest:
        flight.bank_cmd = 0.0
        yield


def _at_height(agl_m: float) -> Until:
    return lambda f: f.agl <= agl_m


def pattern(flight: Flight, legs: tuple[LegPlan, ...], rng: np.random.Generator, habits: Habits) -> Pilot:
    """Fly the legs by heading and height: straight until the height of a gate, then the turn onto its leg.

    Marks the beginning of each turn with the name of the leg and its end with ``<name> end``.
    """
    heading = flight.heading
    for leg in legs:
        yield from straight(flight, heading, _at_height(leg.agl_m), rng, habits)
        flight.mark(leg.mark)
        heading = math.radians(leg.heading_deg)
        flight.brake = leg.turn_brake
        yield from turn(flight, heading, leg.side, leg.bank_deg)
        flight.brake = 0.0
        flight.mark(f"{leg.mark} end")
        yield from _weave(flight, heading, leg, rng, habits)
    yield from final(flight, heading, rng, habits)


def _weave(flight: Flight, heading: float, leg: LegPlan, rng: np.random.Generator, habits: Habits) -> Pilot:
    side = 1 if rng.random() < 0.5 else -1
    floor = 15.0
    if leg.weaves:
        yield from straight(flight, heading, lasting(flight, 2.5, floor), rng, habits)
    for i in range(leg.weaves):
        goal = heading + side * math.radians(leg.weave_deg)
        yield from turn(flight, goal, side, leg.bank_deg, floor=floor)
        yield from straight(flight, goal, lasting(flight, 1.5, floor), rng, habits)
        side = -side
        if i == leg.weaves - 1:
            yield from turn(flight, heading, side, leg.bank_deg, floor=floor)


def final(flight: Flight, heading: float | Heading, rng: np.random.Generator, habits: Habits) -> Pilot:
    """Straight to the flare, at times with brakes for part of the way (``final_brake``: all the way), then the flare."""
    if habits.final_brake is not None:
        flight.brake = habits.final_brake
    elif rng.random() < habits.final_brake_share:
        top = max(flight.agl * float(rng.uniform(0.5, 0.95)), LOWEST_BRAKE_M)
        bottom = max(top * float(rng.uniform(0.2, 0.7)), LOWEST_BRAKE_M)
        yield from straight(flight, heading, _at_height(top), rng, habits)
        flight.brake = float(rng.uniform(0.15, 0.5))
        yield from straight(flight, heading, _at_height(bottom), rng, habits)
        flight.brake = 0.0
    seconds = FLARE_S if habits.flares else 0.0
    yield from straight(flight, heading, lambda f: f.agl <= seconds * f.sink, rng, habits)
    yield from flare(flight, heading)


def flare(flight: Flight, heading: float | Heading) -> Pilot:
    """Both toggles down over two seconds, straight ahead, until the feet are down; let up a little if it lasts."""
    flight.mark("flare")
    begin = flight.t
    while flight.agl > 0.0:
        flight.flare = min(flight.flare + DT_S / 2.0, 1.0)
        if flight.t - begin > 5.0:
            flight.flare = 0.5
        steer(flight, heading if isinstance(heading, float) else heading(flight))
        yield
