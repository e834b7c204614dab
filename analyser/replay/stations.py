"""The stations of a flown pattern: from where the rest of the plan is flown again, and what lies between two of them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.flight import Air, Order, Start, fly
from analyser.pattern import Gate, LegName, Pattern
from analyser.plan import orders_from
from analyser.replay.parts import FlownLeg, PartName, Shift, flown_leg, leg_parts, minus, plus, times
from analyser.replay.places import established, heading_before
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.covariance import mean_gust_sd

__all__ = ["Again", "Errors", "Station", "between", "draw_errors", "station", "to_the_ground"]

Vector = NDArray[np.float64]
ROW_OF: dict[LegName, str] = {
    "crosswind": "entry",
    "downwind": "downwind leg",
    "base": "base leg",
    "final": "final leg",
}


class Errors(NamedTuple):
    """Drawn errors of places and heights, first row zero: common (n,) and a generator for each gate's own."""

    east: Vector
    north: Vector
    agl: Vector
    position_sd: float
    agl_sd: float
    rng: np.random.Generator


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """One jump to be flown again: the plan, the flight, ``n`` versions of the air, the track, the touchdown.

    ``amounts`` collects, by row and part, the change itself in every version (see :class:`analyser.replay.parts.Part`).
    """

    plan: Pattern
    flown: Pattern
    air: Air
    errors: Errors
    track: Track | None
    landing: Landing
    amounts: dict[str, dict[PartName, Vector]] = field(default_factory=dict)
    heights: dict[LegName, Vector] = field(default_factory=dict)

    def turned_agl(self, gate: Gate) -> Vector:
        """The height where the turn of a gate began, in every version."""
        if gate.name not in self.heights:
            self.heights[gate.name] = _height(gate, self.errors)
        return self.heights[gate.name]

    def note(self, row: str, part: PartName, amount: Vector) -> None:
        """Keep the amount of a part."""
        self.amounts.setdefault(row, {})[part] = amount


NOWHERE: Shift = (np.zeros(1), np.zeros(1))


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """Where the rest of the plan begins: on which leg, from which place and height, and where it ends.

    ``start`` None: the plan's own entry. ``flown``: how the leg was flown straight, None where only its turn is known; ``drifted`` what
    its direction had already brought when the station counts as straight flight.
    """

    leg: LegName
    start: Start | None
    end: Shift
    flown: FlownLeg | None = None
    drifted: Shift = NOWHERE

    @classmethod
    def of_plan(cls, plan: Pattern, end: Shift) -> Station:
        """The plan's own entry."""
        return cls(plan.gates[0].name, None, end)


def draw_errors(rng: np.random.Generator, n: int, position_sd: float, agl_sd: float) -> Errors:
    """``n`` draws of the errors that all places and heights of a track share, none in the first row."""

    def column(sd: float) -> Vector:
        return np.concatenate([[0.0], sd * rng.standard_normal(n)])

    return Errors(column(position_sd), column(position_sd), column(agl_sd), position_sd, agl_sd, rng)


def station(again: Again, name: LegName) -> Station | None:
    """The station on a leg, or None where that leg was not flown or is not in the plan."""
    plan, flown, track = again.plan, again.flown, again.track
    gate = flown.gate(name)
    if gate is None or plan.gate(name) is None:
        return None
    heading, begun = heading_before(flown, name), None
    if track is not None:
        first = plan.gates[0]
        on_leg = established(flown, name, track, first.agl_m if first.name == name else None)
        if on_leg is not None:
            gate, heading, begun = on_leg, on_leg.heading_deg, on_leg.t_s
    start = _start(gate, None if begun is not None else heading, again.errors)
    leg = _flown(again, name, start, begun) or _headed(again, name, start, begun)
    drifted = _drifted(again, name, begun, leg)
    start = start._replace(east_m=start.east_m - drifted[0], north_m=start.north_m - drifted[1])
    end = fly(again.air, start, orders_from(plan, name)).landing
    return Station(name, start, (end.east_m, end.north_m), leg, drifted)


def _drifted(again: Again, name: LegName, begun_s: float | None, leg: FlownLeg | None) -> Shift:
    """What the direction of a leg brought between the turn onto it and its station.

    The nose parts from the heading that holds the track where the toggles are let up, before the place counts as straight flight: what
    it drifts until then belongs to the leg's direction, not to the turn. The plan's entry is a place at a height and stays where it was.
    """
    flown = again.flown.leg(name)
    if leg is None or begun_s is None or again.track is None or name == again.plan.gates[0].name:
        return NOWHERE
    if flown is None or flown.turn is None:
        return NOWHERE
    let_up_s = flown.turn.end_s - REPLAY.let_up_lags * again.air.trim.roll_lag_s
    agl = np.interp([let_up_s, begun_s], again.track.t_s, again.track.agl_m)
    return times(leg.by_direction, max(float(agl[0] - agl[1]), 0.0))


def _start(gate: Gate, heading: float | None, errors: Errors) -> Start:
    """The gate with its errors: the part it shares with the whole track, and the rest of its own."""
    side = math.sqrt(max(gate.lateral_sd_m**2 - errors.position_sd**2, 0.0))
    own = _own(errors, 2)
    return Start(
        gate.east_m + errors.east + side * own[0],
        gate.north_m + errors.north + side * own[1],
        _height(gate, errors),
        heading,
    )


def _own(errors: Errors, rows: int) -> Vector:
    n = errors.east.shape[0] - 1
    return np.concatenate([np.zeros((rows, 1)), errors.rng.standard_normal((rows, n))], axis=1)


def _height(gate: Gate, errors: Errors) -> Vector:
    up = math.sqrt(max(gate.agl_sd_m**2 - errors.agl_sd**2, 0.0))
    agl: Vector = gate.agl_m + errors.agl + up * _own(errors, 1)[0]
    return agl


def between(again: Again, last: Station, here: Station) -> dict[PartName, Shift]:
    """The parts of the row between two stations; they add up to ``here.end`` − ``last.end``."""
    if last.start is None:
        return _entry(again, last, here)
    names = [g.name for g in again.plan.gates]
    if names.index(here.leg) - names.index(last.leg) != 1:
        return {"place": minus(here.end, last.end)}
    return _one_leg(again, last, here)


def _one_leg(again: Again, last: Station, here: Station) -> dict[PartName, Shift]:
    """A leg from its station to the one after the turn at its end."""
    gate, planned = again.flown.gate(here.leg), again.plan.gate(here.leg)
    if gate is None or planned is None or last.start is None:
        return {"place": minus(here.end, last.end)}
    agl = again.turned_agl(gate)
    row = ROW_OF[last.leg]
    again.note(row, "height", agl - planned.agl_m)
    spans = _span(last, planned.agl_m), _span(last, agl)
    leg = last.flown or FlownLeg.as_planned(len(again.air))
    if last.flown is not None:
        again.note(row, "direction", leg.off_deg)
    if last.flown is not None and last.flown.timed:
        again.note(row, "speed", leg.sink_share)
    turned = _rest(again, last, here.leg, agl, 0.0)
    off = tuple(_rest(again, last, here.leg, height, leg.off_deg) for height in (planned.agl_m, agl))
    parts = leg_parts(((last.end, turned), (off[0], off[1])), here.end, leg, spans, last.drifted)
    return parts | {"place": plus(parts["place"], _turn_error(again, here, gate))}


def _turn_error(again: Again, here: Station, gate: Gate) -> Shift:
    """What is not known of a wing's turn, drawn for its place: brakes and swings make its speed another than that of the steady turn.

    It has draws of its own, so that the other errors of a jump do not depend on it.
    """
    if here.start is None:
        return NOWHERE
    lost = max(gate.agl_m - float(np.ravel(here.start.agl_m)[0]), 0.0)
    size = REPLAY.turn_speed_sd * again.air.trim.glide * lost
    own = np.random.default_rng(REPLAY.seed).standard_normal((2, len(again.air)))
    own[:, 0] = 0.0
    return size * own[0], size * own[1]


def _rest(again: Again, last: Station, name: LegName, agl: Vector | float, off_deg: Vector | float) -> Shift:
    """Where the rest of the plan ends from a station with the next turn at another height and the nose off the leg's heading."""
    if last.start is None:
        return last.end
    orders = orders_from(again.plan, last.leg)
    changed = [orders[0]._replace(off_deg=off_deg), *orders[1:]]
    return _ends(again, last.start, [o._replace(turn_agl_m=agl) if o.name == name else o for o in changed])


def _span(last: Station, agl: Vector | float) -> Vector:
    begin = np.asarray(last.start.agl_m if last.start else 0.0)
    return np.maximum(begin - agl, 0.0)


def _ends(again: Again, start: Start, orders: list[Order]) -> Shift:
    end = fly(again.air, start, orders).landing
    return end.east_m, end.north_m


def _flown(again: Again, name: LegName, start: Start, begun_s: float | None) -> FlownLeg | None:
    """The straight part of a leg down to where the next turn began, of the final to the height of the flare; None where it is
    too short or only its gates are known."""
    errors, track, order = again.errors, again.track, orders_from(again.plan, name)
    if track is None or begun_s is None:
        return None
    if len(order) > 1:
        gate = again.flown.gate(order[1].name)
        if gate is None or gate.t_s is None or gate.t_s <= begun_s:
            return None
        end_s, drop = gate.t_s, np.maximum(start.agl_m - again.turned_agl(gate), 0.0)
        to_east, to_north = gate.east_m + errors.east, gate.north_m + errors.north
    else:
        stop = _above_flare(track, begun_s, again.landing.t_s)
        if stop is None:
            return None
        end_s, drop = stop, start.agl_m + np.zeros(len(again.air))
        to_east, to_north = again.landing.east_m + errors.east, again.landing.north_m + errors.north
    if (
        float(drop[0]) >= REPLAY.least_drop_m
    ):  # a drawn height that leaves no leg is no reason to know nothing of it
        drop = np.maximum(drop, REPLAY.least_drop_m)
    moved = to_east - start.east_m, to_north - start.north_m
    leg = flown_leg(again.air, order[0], track, (begun_s, end_s), drop, moved)
    if leg is None:
        return None
    sd_deg = _heading_sd_deg(again.air, float(np.ravel(start.agl_m)[0]), float(drop[0]))
    own_sd = sd_deg, _into_turns_sd(again.flown, name, end_s - begun_s)
    return _with_own_error(leg, (moved[0] / drop, moved[1] / drop), errors, own_sd)


def _into_turns_sd(flown: Pattern, name: LegName, straight_s: float) -> float:
    """How far a heading counts into the turn onto it is not known; beside a short leg that is much of its time."""
    leg = flown.leg(name)
    beside = 0.0 if leg is None or leg.turn is None else (leg.turn.end_s - leg.turn.start_s) / straight_s
    return min(REPLAY.into_turns_sd * beside, REPLAY.into_turns_most_sd)


def _headed(again: Again, name: LegName, start: Start, begun_s: float | None) -> FlownLeg | None:
    """A leg with next to no straight flight between its turns: the heading reached, which the next turn begins from."""
    flown, n = again.flown.leg(name), len(again.air)
    if flown is None or begun_s is None or name == "final":
        return None
    track_deg = float(np.ravel(orders_from(again.plan, name)[0].track_deg)[0])
    heading = flown.heading_deg + REPLAY.reached_sd_deg * _own(again.errors, 1)[0]
    return FlownLeg.headed(again.air, track_deg, np.broadcast_to(start.agl_m, n), heading)


def _heading_sd_deg(air: Air, begin_agl_m: float, drop_m: float) -> float:
    """Error of the heading flown on a leg: what is read wrong, and the gusts, which carry a flight aside as another heading would."""
    middle = begin_agl_m - 0.5 * drop_m
    east, north = (float(v[0, 0]) for v in air.wind(np.full((len(air), 1), REPLAY.low_wind_m)))
    gust = mean_gust_sd(middle, air.trim.glide * drop_m, math.hypot(east, north))
    return math.hypot(REPLAY.heading_sd_deg, math.degrees(gust / air.trim.airspeed_mps))


def _with_own_error(leg: FlownLeg, covered: Shift, errors: Errors, own_sd: tuple[float, float]) -> FlownLeg:
    """The direction with errors of its own: of the heading flown [deg], and of how far it counts into the turns [1]."""
    own, (heading_sd_deg, into_turns_sd) = _own(errors, 2), own_sd
    turned = math.radians(heading_sd_deg) * own[0]
    share = 1.0 + into_turns_sd * own[1]
    off = covered[1] * turned, -covered[0] * turned
    return leg._replace(
        by_direction=plus(times(leg.by_direction, share), off),
        off_deg=leg.off_deg + heading_sd_deg * own[0],
        share=share,
    )


def to_the_ground(again: Again, last: Station, down: Shift) -> dict[PartName, Shift]:
    """The parts of the last row: the final from its station to the touchdown."""
    whole = minus(down, last.end)
    if last.leg != "final" or last.start is None or again.track is None:
        return {"place": whole}
    if last.flown is None:
        return {"speed": whole}
    drop = np.asarray(last.start.agl_m) + np.zeros(len(again.air))
    direction = plus(times(last.flown.by_direction, drop), last.drifted)
    again.note("final leg", "direction", last.flown.off_deg)
    return {"direction": direction, "speed": minus(whole, direction)}


def _above_flare(track: Track, begin_s: float, landing_s: float) -> float | None:
    """When the final came down to the height of the flare, None where that is no later than its beginning."""
    use = (track.t_s >= begin_s) & (track.t_s <= landing_s) & (track.agl_m >= Method().flare_height.value)
    return float(track.t_s[use][-1]) if int(np.count_nonzero(use)) > 2 else None


def _entry(again: Again, last: Station, here: Station) -> dict[PartName, Shift]:
    """The row up to the first station: the height and the place of the entry, and a crosswind leg where the plan has one."""
    plan, first = again.plan, again.plan.gates[0]
    if here.leg == first.name:
        return _first_gate(again, last, here, "entry")
    before = station(again, first.name)
    names = [g.name for g in plan.gates]
    if before is None or names.index(here.leg) != 1:
        return _turn_of_plan(again, last, here)
    parts = _first_gate(again, last, before, "crosswind")
    leg = _one_leg(again, before, here)
    leg["turn"] = leg.pop("place")  # the place of the entry is seen, where its turn carried the flight is not
    for name, shift in leg.items():
        parts[name] = plus(parts[name], shift) if name in parts else shift
    return parts


def _first_gate(again: Again, last: Station, here: Station, row: str) -> dict[PartName, Shift]:
    """The entry is a place at a height, be it joined above or lower on the plan's first leg; below that leg it is a height as well."""
    gate, planned, whole = again.flown.gate(here.leg), again.plan.gates[0], minus(here.end, last.end)
    leg_ends = again.plan.gates[1].agl_m if len(again.plan.gates) > 1 else 0.0
    if gate is None or gate.agl_m >= leg_ends:
        return {"place": whole}
    agl = np.minimum(_height(gate, again.errors), planned.agl_m)
    again.note(row, "height", agl - planned.agl_m)
    low = _ends(again, Start(planned.east_m, planned.north_m, agl), list(orders_from(again.plan, here.leg)))
    high = _ends(
        again, Start(planned.east_m, planned.north_m, planned.agl_m), list(orders_from(again.plan, here.leg))
    )
    height = minus(low, high)
    return {"height": height, "place": minus(whole, height)}


def _turn_of_plan(again: Again, last: Station, here: Station) -> dict[PartName, Shift]:
    """A first leg that was not seen: the height of the turn at its end, and the place for the rest."""
    gate, planned, first = again.flown.gate(here.leg), again.plan.gate(here.leg), again.plan.gates[0]
    whole = minus(here.end, last.end)
    if gate is None or planned is None:
        return {"place": whole}
    agl = np.minimum(_height(gate, again.errors), first.agl_m)
    again.note("entry", "height", agl - planned.agl_m)
    orders = list(orders_from(again.plan, first.name))
    start = Start(first.east_m, first.north_m, first.agl_m)
    turned = _ends(again, start, [o._replace(turn_agl_m=agl) if o.name == here.leg else o for o in orders])
    height = minus(turned, _ends(again, start, orders))
    return {"height": height, "place": minus(whole, height)}
