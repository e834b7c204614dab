"""advise: the change of one gate that would have put the landing on the target, everything else as flown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.flight import Air, Flight, Order, Start, Trim, fly, wind_known, wind_over_airspeed
from analyser.frame import LocalFrame
from analyser.pattern import Gate, LegName, Pattern
from analyser.plan.areas import crossed
from analyser.replay.budget import Advice
from analyser.replay.places import heading_before
from analyser.score import Landing
from analyser.sentences import fill
from analyser.settings import Method, Site
from analyser.wind.profile import WindProfile

__all__ = ["advise"]

Vector = NDArray[np.float64]
Values = dict[str, float | str | None]
CHANGES_M = np.arange(-150.0, 150.1, 1.0)
ROOM_M = 30.0
PATTERN_M = 300.0
GOOD_ENOUGH = 0.25
DRAWS, SEED = 60, 5
STRONG = (
    "The wind came to {share:percent} of the canopy's airspeed at pattern height. No gate moves that away: in such a wind the "
    "answer is to stay on the ground."
)
SMALL = "The miss of {offset_m:distance} is not larger than its error: nothing to change."
GUSTY = "The miss of {offset_m:distance} is no larger than what gusts alone move a landing by from flight to flight: nothing to change."
HEIGHT = (
    "With the turn onto {gate:text} begun {way:text}, at {agl_m:height~} instead of {turn_agl_m:height~}, the same flight would have "
    "ended {rest_m:distance} from the target."
)
PLACE = "The same flight begun {moves} (seen in the direction of landing) at the turn onto {{gate:text}} would have ended on the target."
BACK = "{along_m:distance~} farther {fore:text}"
ASIDE = "{across_m:distance~} farther {side:text}"
AGAIN_LOW = "the same flight would again turn onto final below the site's minimum"
BLOCKED = "A change at the turn onto {gate:text} is not advised: {why:text}."


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    """One jump to be flown again with a change: all in metres from the target."""

    flown: Pattern
    landing: Landing
    air: Air
    drawn: Air
    site: Site
    method: Method
    frame: LocalFrame
    lowest_final_m: float
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


def advise(
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    *,
    site: Site,
    method: Method,
    frame: LocalFrame,
    plan: Pattern | None = None,
) -> tuple[Advice, ...]:
    """What one gate could have done about the miss, the best first; empty without a target, a flown gate or a known wind.

    Everything else stays as flown: the landing is the real one, moved by the difference between the forward model with and
    without the change. Never a last turn below the site's minimum nor, moved down, below the plan's height; never a path over a
    keep-out area; nothing at all where the miss is within its error or within what gusts alone make; and in a wind near the airspeed
    only the advice to stay on the ground.
    """
    if landing.along_m is None or landing.across_m is None or landing.offset_m is None or not flown.gates:
        return ()
    top = max(g.agl_m for g in flown.gates)
    share, share_sd = wind_over_airspeed(trim, wind, top)
    if share >= method.strong_wind_ratio.value:
        return (_say(None, STRONG, {"share": share, "share_sd": share_sd}, blocked="wind near the airspeed"),)
    if not wind_known(wind, min(top, PATTERN_M)):
        return ()
    too_small = _too_small(landing, method)
    if too_small is not None:
        return (too_small,)
    planned = plan.gate("final") if plan else None
    lowest = max(site.min_final_turn_m, planned.agl_m if planned else 0.0)
    air = Air.still(trim, wind)
    drawn = Air.drawn(trim, wind, np.random.default_rng(SEED), DRAWS)
    case = _Case(flown, landing, air, drawn, site, method, frame, lowest, landing.along_m, landing.across_m)
    options = [o for o in (_height(case, "final"), _height(case, "base"), _place(case)) if o is not None]
    return tuple(o.advice for o in sorted(options, key=lambda o: _rank(case, o)))


def _too_small(landing: Landing, method: Method) -> Advice | None:
    """The answer to a miss that says nothing of the gates."""
    offset, sd = landing.offset_m or 0.0, landing.offset_sd_m or 0.0
    within_error = offset <= method.certainty.value * sd
    if not within_error and offset > method.advice_least.value:
        return None
    return _say(None, SMALL if within_error else GUSTY, {"offset_m": offset, "offset_sd_m": sd})


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


def _orders(flown: Pattern, name: LegName) -> tuple[Order, ...]:
    """The legs as flown from ``name`` on: turn heights, tracks, hand of each turn."""
    orders = []
    for gate in flown.gates:
        leg = flown.leg(gate.name)
        turn = leg.turn if leg else None
        hand = flown.hand if turn is None else ("right" if turn.change_deg > 0 else "left")
        orders.append(Order(gate.name, gate.agl_m, gate.track_deg, hand))
    names = [o.name for o in orders]
    return tuple(orders[names.index(name) :])


class _Turn(NamedTuple):
    """A turn whose height may move: the gate, the flown gate before it (where the flight starts again) and the gate after it."""

    gate: Gate
    before: Gate
    after: Gate | None


def _turn(case: _Case, name: LegName) -> _Turn | None:
    """The turn onto ``name`` with its neighbours, or None where it was not flown or is the first."""
    gates = case.flown.gates
    i = next((i for i, g in enumerate(gates) if g.name == name), 0)
    return _Turn(gates[i], gates[i - 1], gates[i + 1] if i + 1 < len(gates) else None) if i else None


def _height(case: _Case, name: LegName) -> _Option | None:
    """The best height of the turn onto ``name``, flown from the gate before it."""
    turn = _turn(case, name)
    if turn is None:
        return None
    if turn.after is not None and _final_too_low(case):
        return _blocked(name, AGAIN_LOW)
    agl = turn.gate.agl_m + CHANGES_M
    agl = agl[(agl > 0.0) & (agl < turn.before.agl_m - ROOM_M)]
    if agl.size == 0:
        return None
    rest = np.hypot(*_landings(case, turn, agl)[:2])
    allowed = np.where(agl >= _floor(case, turn), rest, np.inf)
    best, good = (
        int(np.argmin(allowed)),
        (1.0 - case.method.advice_cut.value) * (case.landing.offset_m or 0.0),
    )
    if allowed[best] > good:
        lower = float(np.min(rest)) <= good and turn.after is None
        return _blocked(name, "it would have to be lower than the site or the plan allows") if lower else None
    return _height_option(case, turn, float(agl[best]), float(allowed[best]))


def _floor(case: _Case, turn: _Turn) -> float:
    """The lowest height a turn may be moved to [m]: room above the next turn, or for the last turn what site and plan allow."""
    if turn.after is not None:
        return turn.after.agl_m + ROOM_M
    return max(case.site.min_final_turn_m, min(turn.gate.agl_m, case.lowest_final_m))


def _final_too_low(case: _Case) -> bool:
    last = case.flown.gate("final")
    return last is not None and last.agl_m < case.site.min_final_turn_m


def _landings(case: _Case, turn: _Turn, agl: Vector) -> tuple[Vector, Vector, Flight]:
    """Where the flight would have ended with the turn at each of the heights (n,), and those flights."""
    start, orders, moved = _again(case, turn, agl)
    flight = fly(case.air.repeat(agl.shape[0]), start, moved)
    return *case.from_target(flight, fly(case.air, start, orders)), flight


def _again(
    case: _Case, turn: _Turn, agl: Vector | float
) -> tuple[Start, tuple[Order, ...], tuple[Order, ...]]:
    """The start at the gate before the turn, the orders as flown, and those with the turn at another height."""
    before = turn.before
    start = Start(before.east_m, before.north_m, before.agl_m, heading_before(case.flown, before.name))
    orders = _orders(case.flown, before.name)
    moved = tuple(o._replace(turn_agl_m=agl) if o.name == turn.gate.name else o for o in orders)
    return start, orders, moved


def _rest_sd(case: _Case, turn: _Turn, agl: float) -> float:
    """Standard deviation of the distance that would be left [m]: errors of wind, trim and landing place."""
    start, orders, moved = _again(case, turn, agl)
    east, north = case.from_target(fly(case.drawn, start, moved), fly(case.drawn, start, orders))
    noise = (case.landing.offset_sd_m or 0.0) * np.random.default_rng(SEED).standard_normal((2, DRAWS))
    return float(np.std(np.hypot(east + noise[0], north + noise[1])))


def _whole(case: _Case, name: LegName, agl: float) -> Flight:
    """The flight from its first gate with one turn at another height."""
    first = case.flown.gates[0]
    start = Start(first.east_m, first.north_m, first.agl_m, heading_before(case.flown, first.name))
    orders = _orders(case.flown, first.name)
    return fly(case.air, start, [o._replace(turn_agl_m=agl) if o.name == name else o for o in orders])


def _height_option(case: _Case, turn: _Turn, agl: float, rest: float) -> _Option | None:
    change = agl - turn.gate.agl_m
    if abs(change) < 1.0:
        return None
    east, north, flight = _landings(case, turn, np.array([agl]))
    whole = _whole(case, turn.gate.name, agl)
    over = [*_areas(case, (flight, whole), float(east[0]), float(north[0])), *_before(case, turn.before.name)]
    if over:
        return _blocked(turn.gate.name, f"it would lead over {', '.join(sorted(set(over)))}")
    evidence: Values = {
        "gate": turn.gate.name,
        "turn_agl_m": turn.gate.agl_m,
        "change_m": abs(change),
        "way": "higher" if change > 0 else "lower",
        "agl_m": agl,
        "rest_m": rest,
        "rest_sd_m": _rest_sd(case, turn, agl),
    }
    return _Option(_say(turn.gate.name, HEIGHT, evidence, agl=change), rest)


def _place(case: _Case) -> _Option | None:
    """The first flown gate moved by the miss: the same pattern, begun elsewhere."""
    gate = case.flown.gates[0]
    start = Start(
        gate.east_m - case.landing.east_m,
        gate.north_m - case.landing.north_m,
        gate.agl_m,
        heading_before(case.flown, gate.name),
    )
    if _final_too_low(case):
        return _blocked(gate.name, AGAIN_LOW)
    flight = fly(case.air, start, _orders(case.flown, gate.name))
    over = _areas(case, (flight,), 0.0, 0.0)
    if over:
        return _blocked(gate.name, f"it would lead over {', '.join(over)}")
    evidence: Values = {
        "gate": gate.name,
        "along_m": abs(case.along),
        "across_m": abs(case.across),
        "fore": "back" if case.along > 0 else "forward",
        "side": "left" if case.across > 0 else "right",
    }
    text = PLACE.format(moves=" and ".join(_moves(case)))
    return _Option(_say(gate.name, text, evidence, place=(-case.along, -case.across)), 0.0)


def _moves(case: _Case) -> list[str]:
    """The parts of the move that stand out of the landing's error."""
    least = case.method.certainty.value * (case.landing.offset_sd_m or 0.0)
    parts = [(abs(case.along), BACK), (abs(case.across), ASIDE)]
    return [text for size, text in parts if size > least] or [max(parts)[1]]


def _areas(case: _Case, paths: Sequence[Flight], east: float, north: float) -> Sequence[str]:
    """Areas under the paths as the model flies them, and under the same paths moved to end at the expected landing."""
    names: set[str] = set()
    for flight in paths:
        path = np.array([(e, n, h) for _, e, n, h in flight.path()])
        moved = path + np.array([east - path[-1, 0], north - path[-1, 1], 0.0])
        for rows in (path, moved):
            names |= set(crossed(case.site.keep_outs, case.frame, [tuple(r) for r in rows]))
    return sorted(names)


def _before(case: _Case, name: LegName) -> Sequence[str]:
    """Areas under the flight as flown from its first gate to the turn onto ``name``, by its gates."""
    gates = case.flown.gates
    stop = next(i for i, g in enumerate(gates) if g.name == name)
    path = [(g.east_m, g.north_m, g.agl_m) for g in gates[: stop + 1]]
    return crossed(case.site.keep_outs, case.frame, path)
