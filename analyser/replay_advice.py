"""advise: the change of one gate that would have put the landing on the target, everything else as flown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analyser.findings_text import fill
from analyser.flight import Air, Flight, Order, Start, Trim, fly
from analyser.frame import LocalFrame
from analyser.pattern import LegName, Pattern
from analyser.plan_areas import crossed
from analyser.replay import Advice, heading_before
from analyser.score import Landing
from analyser.settings import Method, Site
from analyser.wind.profile import WindProfile

__all__ = ["advise", "wind_over_airspeed"]

Vector = NDArray[np.float64]
Values = dict[str, float | str | None]
CHANGES_M = np.arange(-150.0, 150.1, 1.0)
ROOM_M = 30.0
GOOD_ENOUGH = 0.25
STRONG = (
    "The wind came to {share:percent~} of the canopy's airspeed at pattern height. No gate moves that away: in such a wind the "
    "answer is to stay on the ground."
)
SMALL = "The miss of {offset_m:distance} is not larger than its error: nothing to change."
HEIGHT = (
    "With the turn onto {gate:text} begun {change_m:height~} {way:text}, at {agl_m:height~}, the same flight would have ended "
    "about {rest_m:distance~} from the target."
)
PLACE = (
    "The same flight begun {along_m:distance~} farther {fore:text} and {across_m:distance~} farther {side:text} (seen in the "
    "direction of landing) at the turn onto {gate:text} would have ended on the target."
)
BLOCKED = "A change at the turn onto {gate:text} is not advised: {why:text}."


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    """One jump to be flown again with a change: all in metres from the target."""

    flown: Pattern
    landing: Landing
    air: Air
    site: Site
    method: Method
    frame: LocalFrame
    along: float
    across: float

    def from_target(self, flight: Flight, as_flown: Flight) -> tuple[Vector, Vector]:
        """Landings east/north: the real one, moved by as much as the model moves."""
        a, b = flight.landing, as_flown.landing
        return self.landing.east_m + a.east_m - b.east_m, self.landing.north_m + a.north_m - b.north_m


@dataclass(frozen=True, slots=True)
class _Option:
    advice: Advice
    rest_m: float = field(default=math.inf)


def wind_over_airspeed(trim: Trim, wind: WindProfile, top_m: float) -> float:
    """The largest share of the canopy's airspeed that the wind reaches between the ground and ``top_m``, where it is known."""
    heights = [h for h in np.linspace(0.0, top_m, 13) if wind.at(float(h)).status != "undetermined"]
    if not heights:
        return 0.0
    east, north = wind.vector(np.array(heights))
    return float(np.max(np.hypot(east, north) / (trim.airspeed_mps * trim.factor(np.array(heights)))))


def advise(
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    *,
    site: Site,
    method: Method,
    frame: LocalFrame,
) -> tuple[Advice, ...]:
    """What one gate could have done about the miss, the best first; empty without a target or without a flown gate.

    Everything else stays as flown: the landing is the real one, moved by the difference between the forward model with and
    without the change. Never a last turn below the site's minimum, never a path over a keep-out area, nothing at all where the
    miss is within its error, and in a wind near the airspeed only the advice to stay on the ground.
    """
    if landing.along_m is None or landing.across_m is None or landing.offset_m is None or not flown.gates:
        return ()
    share = wind_over_airspeed(trim, wind, max(g.agl_m for g in flown.gates))
    if share >= method.strong_wind_ratio.value:
        return (_say(None, STRONG, {"share": share}, blocked="wind near the airspeed"),)
    if landing.offset_m <= method.certainty.value * (landing.offset_sd_m or 0.0):
        small: Values = {"offset_m": landing.offset_m, "offset_sd_m": landing.offset_sd_m}
        return (_say(None, SMALL, small),)
    case = _Case(
        flown, landing, Air.still(trim, wind), site, method, frame, landing.along_m, landing.across_m
    )
    options = [o for o in (_height(case, "final"), _height(case, "base"), _place(case)) if o is not None]
    return tuple(o.advice for o in sorted(options, key=lambda o: _rank(case, o)))


def _rank(case: _Case, option: _Option) -> tuple[bool, bool, float]:
    """Open before blocked; a height that does nearly all of it before a place, which needs two numbers."""
    miss, sd = case.landing.offset_m or 0.0, case.landing.offset_sd_m or 0.0
    enough = option.rest_m <= max(sd, GOOD_ENOUGH * miss) and option.advice.change_agl_m is not None
    return option.advice.blocked_by is not None, not enough, option.rest_m


def _say(
    gate: LegName | None,
    template: str,
    evidence: Values,
    *,
    agl: float | None = None,
    place: tuple[float | None, float | None] = (None, None),
    blocked: str | None = None,
) -> Advice:
    return Advice(gate, agl, *place, fill(template, evidence), blocked, template, evidence)


def _blocked(gate: LegName, why: str) -> _Option:
    return _Option(_say(gate, BLOCKED, {"gate": gate, "why": why}, blocked=why))


def _orders(flown: Pattern, name: LegName, final_m: float | Vector | None = None) -> tuple[Order, ...]:
    """The legs as flown from ``name`` on: turn heights, tracks, hand of each turn."""
    orders = []
    for gate in flown.gates:
        leg = flown.leg(gate.name)
        turn = leg.turn if leg else None
        hand = flown.hand if turn is None else ("right" if turn.change_deg > 0 else "left")
        orders.append(Order(gate.name, gate.agl_m, gate.track_deg, hand))
    names = [o.name for o in orders]
    return tuple(orders[names.index(name) :])


def _height(case: _Case, name: LegName) -> _Option | None:
    """The best height of the turn onto ``name``, flown from the gate before it."""
    names = [g.name for g in case.flown.gates]
    if name not in names or names.index(name) == 0:
        return None
    before = case.flown.gates[names.index(name) - 1]
    after = case.flown.gates[names.index(name) + 1] if names.index(name) + 1 < len(names) else None
    gate = case.flown.gates[names.index(name)]
    start = Start(before.east_m, before.north_m, before.agl_m, heading_before(case.flown, before.name))
    floor = case.site.min_final_turn_m if name == "final" else (after.agl_m + ROOM_M if after else 0.0)
    agl = gate.agl_m + CHANGES_M
    agl = agl[(agl > 0.0) & (agl < before.agl_m - ROOM_M)]
    if agl.size == 0:
        return None
    flights = _fly(case, start, before.name, name, np.append(gate.agl_m, agl))
    rest = np.hypot(*case.from_target(*flights))[1:]
    free = np.where(agl >= floor, rest, np.inf)
    best = int(np.argmin(free))
    miss = case.landing.offset_m or 0.0
    if not free[best] <= (1.0 - case.method.advice_cut.value) * miss:
        lower = float(np.min(rest)) <= (1.0 - case.method.advice_cut.value) * miss
        return _blocked(name, "it would lie below the minimum height") if lower and name == "final" else None
    return _height_option(
        case, name, float(agl[best]) - gate.agl_m, float(agl[best]), float(free[best]), start
    )


def _fly(case: _Case, start: Start, first: LegName, name: LegName, agl: Vector) -> tuple[Flight, Flight]:
    """All heights of one turn side by side, and the first of them (as flown) beside each."""
    orders = tuple(o._replace(turn_agl_m=agl) if o.name == name else o for o in _orders(case.flown, first))
    flight = fly(case.air.repeat(agl.shape[0]), start, orders)
    as_flown = fly(case.air, start, _orders(case.flown, first))
    return flight, as_flown


def _height_option(
    case: _Case, name: LegName, change: float, agl: float, rest: float, start: Start
) -> _Option | None:
    if abs(change) < 1.0:
        return None
    names = [g.name for g in case.flown.gates]
    first = case.flown.gates[names.index(name) - 1].name
    flight, as_flown = _fly(case, start, first, name, np.array([agl]))
    east, north = case.from_target(flight, as_flown)
    over = _areas(case, flight, float(east[0]), float(north[0]))
    if over:
        return _blocked(name, f"it would lead over {', '.join(over)}")
    evidence: Values = {
        "gate": name,
        "change_m": abs(change),
        "way": "higher" if change > 0 else "lower",
        "agl_m": agl,
        "rest_m": rest,
    }
    return _Option(_say(name, HEIGHT, evidence, agl=change), rest)


def _place(case: _Case) -> _Option | None:
    """The first flown gate moved by the miss: the same pattern, begun elsewhere."""
    gate = case.flown.gates[0]
    start = Start(
        gate.east_m - case.landing.east_m,
        gate.north_m - case.landing.north_m,
        gate.agl_m,
        heading_before(case.flown, gate.name),
    )
    last = case.flown.gate("final")
    if last is not None and last.agl_m < case.site.min_final_turn_m:
        return _blocked(gate.name, "the same flight would again turn onto final below the minimum height")
    flight = fly(case.air, start, _orders(case.flown, gate.name))
    over = _areas(case, flight, 0.0, 0.0)
    if over:
        return _blocked(gate.name, f"it would lead over {', '.join(over)}")
    evidence: Values = {
        "gate": gate.name,
        "along_m": abs(case.along),
        "across_m": abs(case.across),
        "fore": "back" if case.along > 0 else "forward",
        "side": "left" if case.across > 0 else "right",
    }
    return _Option(_say(gate.name, PLACE, evidence, place=(-case.along, -case.across)), 0.0)


def _areas(case: _Case, flight: Flight, east: float, north: float) -> Sequence[str]:
    """Areas under the path as the model flies it, and under the same path moved to end at the expected landing."""
    path = np.array([(e, n, h) for _, e, n, h in flight.path()])
    moved = path + np.array([east - path[-1, 0], north - path[-1, 1], 0.0])
    names = [
        n for p in (path, moved) for n in crossed(case.site.keep_outs, case.frame, [tuple(r) for r in p])
    ]
    return sorted(set(names))
