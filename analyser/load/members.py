"""Which jumps belong to one load: those who sat in one aeroplane; where tracks do not show that, by time and place of the exits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.load.flights import Flight
from analyser.load.rides import Ride, ride_of
from analyser.load.thresholds import LOAD

__all__ = ["Group", "find_loads", "same_jumper"]


@dataclass(frozen=True, slots=True)
class Group:
    """The flights of one load by their numbers, and what pairs of them had in common in the aeroplane."""

    members: tuple[int, ...]
    rides: dict[tuple[int, int], Ride]


def find_loads(flights: Sequence[Flight]) -> tuple[Group, ...]:
    """The loads of some flights, in order of time; a flight that nobody shares is a load of its own.

    Who sat in one aeroplane is one load. A track that does not hold enough of the way up joins the load whose run its exit fits: within
    150 s of its exits, and where the aeroplane was then. Flights without exit or opening are left alone.
    """
    rides: dict[tuple[int, int], Ride] = {}
    apart: set[tuple[int, int]] = set()
    group = list(range(len(flights)))
    for i, j in _pairs(flights):
        ride = ride_of(flights[i], flights[j])
        if ride is None:
            continue
        if ride.one_aeroplane:
            rides[i, j] = ride
            group = [group[i] if g == group[j] else g for g in group]
        else:
            apart.add((i, j))
    group = _by_run(flights, group, apart)
    found = [tuple(k for k, g in enumerate(group) if g == one) for one in sorted(set(group))]
    loads = [Group(m, {p: r for p, r in rides.items() if p[0] in m}) for m in found]
    return tuple(sorted(loads, key=lambda load: min(_when(flights[k]) for k in load.members)))


def _when(flight: Flight) -> float:
    """When a flight counts as leaving the aeroplane [s]; the end of the track where that is not known."""
    for moment in (flight.exit_s, flight.opened_s, flight.landed_s):
        if moment is not None:
            return moment
    return float(flight.t_s[-1])


def _pairs(flights: Sequence[Flight]) -> list[tuple[int, int]]:
    """Pairs that may belong to one load by their times alone."""
    order = sorted(range(len(flights)), key=lambda k: _when(flights[k]))
    found = []
    for n, i in enumerate(order):
        for j in order[n + 1 :]:
            if _when(flights[j]) - _when(flights[i]) > LOAD.other_run * LOAD.run_s:
                break
            found.append((min(i, j), max(i, j)))
    return found


def _by_run(flights: Sequence[Flight], group: list[int], apart: set[tuple[int, int]]) -> list[int]:
    """Flights that the aeroplane did not place, put with the exits they fit best."""
    group = list(group)
    links = []
    for i, j in _pairs(flights):
        fit = _misfit(flights[i], flights[j])
        if fit is not None:
            links.append((fit, i, j))
    for _, i, j in sorted(links):
        if group[i] == group[j]:
            continue
        mine = [k for k, g in enumerate(group) if g == group[i]]
        theirs = [k for k, g in enumerate(group) if g == group[j]]
        if any((min(a, b), max(a, b)) in apart for a in mine for b in theirs):
            continue
        group = [group[i] if g == group[j] else g for g in group]
    return group


def _misfit(a: Flight, b: Flight) -> float | None:
    """How badly two exits fit one run of an aeroplane (0 well, 1 just so); None where they do not."""
    moments = [f.exit_s if f.exit_s is not None else f.opened_s for f in (a, b)]
    if moments[0] is None or moments[1] is None:
        return None
    first, second = moments[0], moments[1]
    between = abs(first - second)
    if between > LOAD.run_s or _apart(a, b) > LOAD.field_m:
        return None
    places = [f.place(np.array(m))[:2] for f, m in ((a, first), (b, second))]
    way = float(np.hypot(*(places[1] - places[0])))
    both = a.exit_s is not None and b.exit_s is not None
    room = LOAD.off_run_m if both else LOAD.off_run_opened * LOAD.off_run_m
    low, high = LOAD.run_mps * max(between - LOAD.most_s, 0.0), LOAD.fastest_mps * (between + LOAD.most_s)
    off = max(low - way, way - high, 0.0) if both else max(way - high, 0.0)
    if off > room:
        return None
    heights = [float(f.place(np.array(m))[2]) for f, m in ((a, first), (b, second))]
    if both and abs(heights[0] - heights[1]) > LOAD.level_run_m + LOAD.level_run_mps * between:
        return None
    return 0.5 * between / LOAD.run_s + 0.5 * off / room


def _apart(a: Flight, b: Flight) -> float:
    return math.hypot(float(a.east_m[-1] - b.east_m[-1]), float(a.north_m[-1] - b.north_m[-1]))


def same_jumper(a: Flight, b: Flight) -> bool:
    """Whether two tracks were recorded on one body: beside each other from opening to landing, and landing at one moment."""
    spans = a.under_canopy, b.under_canopy
    if spans[0] is None or spans[1] is None or abs(spans[0][1] - spans[1][1]) > LOAD.twin_landed_s:
        return False
    begin, end = max(spans[0][0], spans[1][0]), min(spans[0][1], spans[1][1])
    if end - begin < LOAD.twin_s:
        return False
    t = np.arange(begin, end, 1.0)
    level = np.hypot(*(a.place(t) - b.place(t))[:2])
    return bool(np.percentile(level, 90.0) < LOAD.twin_m)
