"""study_load: the jumps of one load -> everything a load can tell; load_of: some tracks -> the jumps that belong together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analyser.debrief import finish
from analyser.frame import LocalFrame
from analyser.jump import Debrief, SharedWind
from analyser.load.agreement import Agreement, Wind, agreement
from analyser.load.approach import Approach, approaches
from analyser.load.clocks import on_one_clock
from analyser.load.directions import OtherTurn, OtherWay, hand_of, main_direction, other_turns, other_ways
from analyser.load.flights import Flight, common_frame, flights_of
from analyser.load.members import Group, find_loads, same_jumper
from analyser.load.order import EVENTS, Event, Moment, order_of
from analyser.load.rides import Ride
from analyser.load.thresholds import LOAD
from analyser.load.winds import HeldWind, LoadWind, held_wind, load_wind, shared_airspeed
from analyser.pattern import Hand
from analyser.stages import with_wind
from analyser.threads import one_thread
from analyser.wind.estimate import WindEstimate
from analyser.wind.profile import WindProfile

__all__ = ["Load", "in_shared_wind", "loads_of", "study_load", "winds_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Load:
    """Everyone of one load. ``jumps`` in order of their exits, each debriefed in the load's wind where there is one; ``alone`` the same with
    the wind of its own track; ``flights`` in one ``frame`` on one clock; ``rides`` what pairs had in common in the aeroplane.

    ``order`` of exits, openings and landings; ``hand`` of the pattern and ``hand_from`` ("site", "plan", "load", ""); ``direction_deg`` most landed
    in; ``near`` and ``near_low`` the nearest approaches under canopy and below 1,000 ft; ``wind`` None where fewer than two tracks tell one;
    ``twins`` tracks left out because another was recorded on the same body.
    """

    jumps: tuple[Debrief, ...]
    alone: tuple[Debrief, ...]
    flights: tuple[Flight, ...]
    frame: LocalFrame
    rides: dict[tuple[int, int], Ride]
    order: dict[Event, tuple[Moment, ...]]
    direction_deg: float | None
    hand: Hand | None
    hand_from: str
    turns: tuple[OtherTurn, ...]
    ways: tuple[OtherWay, ...]
    near: tuple[Approach, ...]
    near_low: tuple[Approach, ...]
    wind: LoadWind | None
    agreement: Agreement
    twins: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """One line."""
        return f"<Load of {len(self.jumps)}: {', '.join(f.name for f in self.flights)}>"[:200]


def loads_of(begun: Sequence[Debrief]) -> tuple[tuple[int, ...], ...]:
    """The loads among some jumps, by their numbers, in order of time; only their tracks and phases are looked at."""
    flown = [k for k, jump in enumerate(begun) if jump.phases.canopy() is not None]
    if not flown:
        return ()
    flights = flights_of([begun[k] for k in flown])
    return tuple(tuple(flown[m] for m in load.members) for load in find_loads(flights))


@one_thread
def study_load(begun: Sequence[Debrief]) -> Load:
    """Everything a load can tell, from its jumps of which track and phases are known (:func:`analyser.debrief.begin_every`)."""
    flights, rides, kept, twins = _flights(begun)
    alone = tuple(finish(begun[k]) for k in kept)
    held = [held_wind(_profile(jump), flight) for jump, flight in zip(alone, flights)]
    wind = load_wind(held)
    agreed = winds_agree(held)
    shared = sum(wind.used) >= 2
    jumps = alone
    if shared:
        jumps = tuple(
            in_shared_wind(begun[k], jump, wind.profiles[n], _told(wind, agreed))
            for n, (k, jump) in enumerate(zip(kept, alone))
        )
    direction = main_direction(jumps)
    hand, hand_from = hand_of(jumps, direction)
    return Load(
        jumps,
        alone,
        flights,
        common_frame([begun[k] for k in kept]),
        rides,
        {event: order_of(flights, event) for event in EVENTS},
        direction,
        hand,
        hand_from,
        other_turns(jumps, flights, hand),
        other_ways(jumps, flights),
        approaches(flights, rides),
        approaches(flights, rides, below_m=LOAD.low_m),
        wind if shared else None,
        agreed,
        twins,
    )


def _flights(
    begun: Sequence[Debrief],
) -> tuple[tuple[Flight, ...], dict[tuple[int, int], Ride], list[int], tuple[str, ...]]:
    """Flights on one clock in order of their exits, rides by their numbers, whose they are, and the names of tracks that are another's double."""
    raw = flights_of(begun)
    found = find_loads(raw)
    rides = {pair: ride for group in found for pair, ride in group.rides.items()}
    timed = on_one_clock(raw, Group(tuple(range(len(raw))), rides))
    double = {j for i, j in combinations(range(len(raw)), 2) if same_jumper(timed[i], timed[j])}
    order = sorted(
        (k for k in range(len(raw)) if k not in double),
        key=lambda k: next(
            t for t in (timed[k].exit_s, timed[k].opened_s, float(timed[k].t_s[-1])) if t is not None
        ),
    )
    number = {k: n for n, k in enumerate(order)}
    ordered = {
        (min(number[i], number[j]), max(number[i], number[j])): ride
        for (i, j), ride in rides.items()
        if i in number and j in number
    }
    return tuple(timed[k] for k in order), ordered, order, tuple(timed[k].name for k in sorted(double))


def _profile(jump: Debrief) -> WindProfile:
    """The jumper's own wind; one of nothing where there is none."""
    if jump.wind is not None:
        return jump.wind.profile
    nothing = np.zeros(1)
    return WindProfile(nothing, nothing.copy(), nothing.copy(), np.eye(2) * 100.0, ("undetermined",), ("",))


def winds_of(held: HeldWind, agl_m: Sequence[float] = LOAD.heights_m) -> list[Wind]:
    """The winds of a profile at some heights, where it is determined."""
    found = []
    for h in agl_m:
        if not held.profile.agl_m[0] <= h <= held.profile.agl_m[-1]:
            continue
        at = held.profile.at(h)
        if at.status != "undetermined":
            c = at.covariance
            when = float(np.interp(h, held.profile.agl_m, held.t_s))
            found.append(Wind(h, at.east, at.north, (float(c[0, 0]), float(c[0, 1]), float(c[1, 1])), when))
    return found


def winds_agree(held: Sequence[HeldWind]) -> Agreement:
    """Whether the winds of the jumpers' own tracks agree within their errors."""
    return agreement([winds_of(one) for one in held])


def _told(wind: LoadWind, agreed: Agreement) -> SharedWind:
    return SharedWind(sum(wind.used), agreed.pairs, agreed.within, wind.change_mps, wind.widened)


def in_shared_wind(begun: Debrief, alone: Debrief, profile: WindProfile, told: SharedWind) -> Debrief:
    """A jump debriefed once more in the wind of its load; as it was where it has no wind of its own to be set beside."""
    own = alone.wind
    if own is None:
        return alone
    canopy = shared_airspeed(own.canopy, own.profile, profile)
    part = alone.phases.canopy()
    track = alone.track
    if part is None:
        return alone
    span = slice(part.start, part.stop)
    east, north = profile.vector(track.agl_m[span])
    wind = WindEstimate(
        profile,
        canopy,
        own.t_s,
        own.residual_mps,
        "",
        own.details,
        track.v_east[span] - east,
        track.v_north[span] - north,
        own.settled,
        own.check,
        own.stays,
    )
    return finish(begun.knowing(shared=told), with_wind(wind))
