"""Between opening and pattern: the control check and the holding styles of a made-up pilot."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from analyser.synthetic.canopy import Flight, Pilot
from analyser.synthetic.pilot import Habits, lasting, straight, turn, wrap

__all__ = ["AMBIGUOUS_STYLES", "HOLDING_STYLES", "control_check", "hold"]


def control_check(flight: Flight, rng: np.random.Generator, habits: Habits, floor: float) -> Pilot:
    """After opening: brakes still stowed for some seconds, then released, a turn to either side."""
    flight.brake = 0.5
    yield from straight(
        flight, flight.heading, lasting(flight, float(rng.uniform(4.0, 9.0)), floor), rng, habits
    )
    flight.brake = 0.0
    yield from straight(flight, flight.heading, lasting(flight, 3.0, floor), rng, habits)
    side = _side(rng)
    for s in (side, -side):
        goal = flight.heading + s * math.radians(rng.uniform(60.0, 120.0))
        yield from turn(flight, goal, s, _bank(flight, rng), floor=floor)
        yield from straight(flight, goal, lasting(flight, float(rng.uniform(1.0, 3.0)), floor), rng, habits)


def hold(
    flight: Flight, style: str, upwind_deg: float, floor: float, rng: np.random.Generator, habits: Habits
) -> Pilot:
    """Hold in one of the :data:`HOLDING_STYLES` (or :data:`AMBIGUOUS_STYLES`) down to ``floor`` metres; ``upwind_deg`` heading into the wind."""
    step = _STYLES[style]
    side = _side(rng)
    while flight.agl > floor:
        yield from step(_Holding(flight, math.radians(upwind_deg), floor, rng, habits), side)
        flight.brake = 0.0
        side = -side


class _Holding:
    """What every style needs: the flight, the way upwind, where to stop, chance and habits."""

    __slots__ = ("flight", "floor", "habits", "rng", "upwind")

    def __init__(
        self, flight: Flight, upwind: float, floor: float, rng: np.random.Generator, habits: Habits
    ) -> None:
        self.flight, self.upwind, self.floor, self.rng, self.habits = flight, upwind, floor, rng, habits

    def turn(self, goal: float, side: int, extra: float = 0.0) -> Pilot:
        return turn(self.flight, goal, side, _bank(self.flight, self.rng), extra=extra, floor=self.floor)

    def straight(self, goal: float, shortest_s: float, longest_s: float) -> Pilot:
        seconds = float(self.rng.uniform(shortest_s, longest_s))
        return straight(self.flight, goal, lasting(self.flight, seconds, self.floor), self.rng, self.habits)

    def maybe_brake(self) -> None:
        braked = self.rng.random() < self.habits.brake_share
        self.flight.brake = float(self.rng.uniform(0.2, 0.6)) if braked else 0.0


def _eight(h: _Holding, side: int) -> Pilot:
    goal = h.flight.heading + side * math.radians(h.rng.uniform(270.0, 359.0))
    yield from h.turn(goal, side)
    h.maybe_brake()
    yield from h.straight(goal, 3.0, 8.0)


def _spiral(h: _Holding, side: int) -> Pilot:
    goal = h.upwind + math.radians(h.rng.uniform(-40.0, 40.0))
    yield from h.turn(goal, side, extra=2.0 * math.pi * int(h.rng.integers(1, 4)))
    h.maybe_brake()
    yield from h.straight(goal, 6.0, 15.0)


def _wind_check(h: _Holding, side: int) -> Pilot:
    goal = h.upwind + math.radians(h.rng.normal(0.0, 8.0))
    yield from h.turn(goal, side)
    h.flight.brake = float(h.rng.uniform(0.4, 0.8))
    yield from h.straight(goal, 8.0, 15.0)
    h.flight.brake = 0.0
    yield from h.straight(goal, 1.0, 4.0)
    away = goal + side * math.radians(h.rng.uniform(80.0, 190.0))
    yield from h.turn(away, side)
    yield from h.straight(away, 6.0, 18.0)


def _crab(h: _Holding, side: int) -> Pilot:
    goal = h.upwind + side * math.radians(h.rng.uniform(65.0, 100.0))
    through = 1 if wrap(h.upwind - h.flight.heading) >= 0.0 else -1
    yield from h.turn(goal, through)
    h.maybe_brake()
    yield from h.straight(goal, 12.0, 28.0)


def _into_wind(h: _Holding, side: int) -> Pilot:
    goal = h.upwind + math.radians(h.rng.normal(0.0, 15.0))
    yield from h.turn(goal, 0)
    h.maybe_brake()
    yield from h.straight(goal, 15.0, 35.0)


def _straight_on(h: _Holding, side: int) -> Pilot:
    yield from h.straight(h.flight.heading, 20.0, 40.0)


def _there_and_back(h: _Holding, side: int) -> Pilot:
    goal = h.flight.heading + math.pi
    yield from h.straight(h.flight.heading, 18.0, 30.0)
    yield from turn(h.flight, goal, side, 1.2 * h.flight.canopy.bank_deg, floor=h.floor)


def _two_headings(h: _Holding, side: int) -> Pilot:
    goal = h.flight.heading + side * math.radians(h.rng.uniform(15.0, 30.0))
    yield from turn(h.flight, goal, side, 8.0, floor=h.floor)
    yield from h.straight(goal, 15.0, 30.0)


def _side(rng: np.random.Generator) -> int:
    return 1 if rng.random() < 0.5 else -1


def _bank(flight: Flight, rng: np.random.Generator) -> float:
    return float(flight.canopy.bank_deg * rng.uniform(0.75, 1.0))


_STYLES: dict[str, Callable[[_Holding, int], Pilot]] = {
    "figures of eight": _eight,
    "spirals": _spiral,
    "wind checks": _wind_check,
    "crabbing": _crab,
    "into wind": _into_wind,
    "straight on": _straight_on,
    "there and back": _there_and_back,
    "two headings": _two_headings,
}
HOLDING_STYLES = ("figures of eight", "spirals", "wind checks", "crabbing", "into wind")
AMBIGUOUS_STYLES = ("straight on", "there and back", "two headings")
