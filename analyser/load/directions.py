"""Hands and landing directions of a load against each other: one direction, one hand, and who turned or landed otherwise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from analyser.angles import circular_mean_deg, signed_difference_deg
from analyser.jump import Debrief
from analyser.load.flights import Flight
from analyser.load.thresholds import LOAD
from analyser.pattern import Hand

__all__ = [
    "OtherTurn",
    "OtherWay",
    "hand_of",
    "landing_deg",
    "landing_deg_sd",
    "main_direction",
    "other_turns",
    "other_ways",
]


@dataclass(frozen=True, slots=True)
class OtherTurn:
    """A turn against the pattern's hand: whose, onto which leg, height where it begins [m] with its error, change [deg, right positive]."""

    who: int
    leg: str
    agl_m: float
    agl_sd_m: float | None
    change_deg: float
    t_s: float


@dataclass(frozen=True, slots=True)
class OtherWay:
    """Two who landed different ways: angle between their directions [deg] and seconds between their landings."""

    pair: tuple[int, int]
    apart_deg: float
    seconds: float


def landing_deg(jump: Debrief) -> float | None:
    """Direction of one landing [deg true]; None where it is not known."""
    return jump.flown.landing_deg if jump.flown is not None else None


def landing_deg_sd(jump: Debrief) -> float | None:
    """Its standard deviation [deg]; None where the flight does not know it, or where the landing has another direction than the final."""
    landing = jump.landing
    return (
        landing.landing_deg_sd if landing is not None and landing.landing_deg == landing_deg(jump) else None
    )


def main_direction(jumps: Sequence[Debrief]) -> float | None:
    """The direction that most of a load landed in: the landing that is nearest to all the others, averaged with those near it [deg true]."""
    known = [d for d in map(landing_deg, jumps) if d is not None]
    if not known:
        return None
    off = [sum(abs(float(signed_difference_deg(d, other))) for other in known) for d in known]
    middle = known[off.index(min(off))]
    return float(
        circular_mean_deg([d for d in known if abs(float(signed_difference_deg(d, middle))) < LOAD.other_deg])
    )


def hand_of(jumps: Sequence[Debrief], direction: float | None) -> tuple[Hand | None, str]:
    """The hand of the pattern, and where it is from: "site", "plan", "load" (most flew it) or "" where nothing tells."""
    for jump in jumps:
        if direction is None:
            break
        for way in jump.settings.site.directions:
            if (
                way.hand is not None
                and abs(float(signed_difference_deg(way.landing_deg, direction))) <= LOAD.field_deg
            ):
                return way.hand, "site"
    for jump in jumps:
        asked = jump.settings.pattern.hand
        if asked != "as flown":
            return asked, "plan"
    flown = [jump.flown.hand for jump in jumps if jump.flown is not None and jump.flown.hand is not None]
    left, right = flown.count("left"), flown.count("right")
    if left == right:
        return None, ""
    return ("left" if left > right else "right"), "load"


def other_turns(
    jumps: Sequence[Debrief], flights: Sequence[Flight], hand: Hand | None
) -> tuple[OtherTurn, ...]:
    """The turns of every pattern onto downwind, base and final that go against the hand, in order of time."""
    if hand is None:
        return ()
    sign = 1.0 if hand == "right" else -1.0
    found = []
    for k, (jump, flight) in enumerate(zip(jumps, flights)):
        start = jump.track.start_utc_s + flight.clock_s
        for leg in jump.flown.legs if jump.flown is not None else ():
            turn = leg.turn
            if turn is None or leg.name == "crosswind" or abs(turn.change_deg) < LOAD.turn_deg:
                continue
            if turn.change_deg * sign < 0.0:
                height = leg.turn_agl_m if leg.turn_agl_m is not None else turn.start_agl_m
                found.append(
                    OtherTurn(k, leg.name, height, leg.turn_agl_sd_m, turn.change_deg, start + turn.start_s)
                )
    return tuple(sorted(found, key=lambda one: one.t_s))


def other_ways(jumps: Sequence[Debrief], flights: Sequence[Flight]) -> tuple[OtherWay, ...]:
    """Every pair that landed more than 60° apart in direction, the shortest time between them first."""
    found = []
    for i, j in combinations(range(len(jumps)), 2):
        a, b = landing_deg(jumps[i]), landing_deg(jumps[j])
        first, second = flights[i].landed_s, flights[j].landed_s
        if a is None or b is None or first is None or second is None:
            continue
        apart = abs(float(signed_difference_deg(a, b)))
        if apart >= LOAD.other_deg and math.isfinite(apart):
            found.append(OtherWay((i, j), apart, abs(second - first)))
    return tuple(sorted(found, key=lambda one: one.seconds))
