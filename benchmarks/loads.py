"""Loads: who was in them, how near two canopies came, who landed first, against the truth of made-up loads of 4 to 8.

Run: python benchmarks/loads.py [LOADS] [FIRST_SEED]. Receivers as everywhere, clocks off by up to 2 s, a sixth of the recordings begin shortly
before the exit. Members are looked for in days of three loads, some of them of a second aeroplane minutes later. The truth of a nearest
approach is taken over the same stretch of the flights as the estimate. No winds are fitted here.
"""

from __future__ import annotations

import sys
from itertools import combinations
from typing import NamedTuple

import numpy as np
import tests_path  # noqa: F401
from numpy.typing import NDArray
from worlds.loads import WorldLoad, make_day, make_load

from analyser.debrief import begin_every
from analyser.load.approach import Approach, approaches, together
from analyser.load.clocks import on_one_clock
from analyser.load.flights import Flight, flights_of
from analyser.load.members import find_loads
from analyser.load.rides import Ride
from analyser.load.thresholds import LOAD

Rides = dict[tuple[int, int], Ride]


class Pair(NamedTuple):
    """One pair of a load: whether below 1,000 ft, truth [m] and estimate."""

    low: bool
    truth_m: float
    found: Approach


def flights_on_one_clock(load: WorldLoad) -> tuple[tuple[Flight, ...], Rides, list[int], bool]:
    """The flights of the largest load found among the jumps, their numbers, and whether that is all of them."""
    raw = flights_of([begin_every(jump.recording)[0] for jump in load.jumps])
    group = max(find_loads(raw), key=lambda one: len(one.members))
    number = {m: k for k, m in enumerate(group.members)}
    rides = {(number[i], number[j]): ride for (i, j), ride in group.rides.items()}
    return on_one_clock(raw, group), rides, list(group.members), len(group.members) == len(raw)


def clock_of(load: WorldLoad, flights: tuple[Flight, ...], who: list[int]) -> float:
    """What the load's clock is ahead of the truth [s], late writing included: the middle one of those whose clocks are known."""
    ahead = [f.clock_s + load.clock_s[k] + load.jumps[k].truth.latency_s for f, k in zip(flights, who)]
    known = [a for a, f in zip(ahead, flights) if f.clock_sd_s < 1.0]
    return float(np.median(known or ahead))


def pairs_of(
    load: WorldLoad, flights: tuple[Flight, ...], rides: Rides, who: list[int], ahead_s: float
) -> list[Pair]:
    rows = []
    for below in (None, LOAD.low_m):
        for one in approaches(flights, rides, below_m=below):
            i, j = one.pair
            t = together(flights[i], flights[j], below)
            true = np.arange(t[0] - ahead_s, t[-1] - ahead_s + 0.01, 0.1)
            gap = load.true_places(who[i], true) - load.true_places(who[j], true)
            rows.append(Pair(below is not None, float(np.linalg.norm(gap, axis=0).min()), one))
    return rows


def wrong_orders(load: WorldLoad, flights: tuple[Flight, ...], who: list[int]) -> tuple[int, int]:
    """Pairs that landed more than 2 s apart, and how many of them were put the wrong way round."""
    every = wrong = 0
    for (f, i), (g, j) in combinations(list(zip(flights, who)), 2):
        between = load.jumps[i].truth.landing_utc_s - load.jumps[j].truth.landing_utc_s
        if f.landed_s is not None and g.landed_s is not None and abs(between) > 2.0:
            every += 1
            wrong += (f.landed_s - g.landed_s) * between <= 0.0
    return every, wrong


def members(first: int, days: int) -> tuple[int, int]:
    """Jumps of days of three loads, and how many stand with everybody of their load and nobody else."""
    every = right = 0
    for seed in range(first, first + days):
        day = make_day(seed)
        jumps = [(n, jump) for n, load in enumerate(day) for jump in load.jumps]
        whose = [n for n, _ in jumps]
        found = find_loads(flights_of([begin_every(jump.recording)[0] for _, jump in jumps]))
        for group in found:
            alike = {whose[k] for k in group.members}
            whole = len(alike) == 1 and whose.count(whose[group.members[0]]) == len(group.members)
            right += len(group.members) if whole else 0
        every += len(jumps)
    return every, right


def show(rows: list[Pair], low: bool) -> None:
    rows = [r for r in rows if r.low == low]
    truth: NDArray[np.float64] = np.array([r.truth_m for r in rows])
    held = np.array([r.found.low_m <= r.truth_m <= r.found.high_m for r in rows])
    close, said = truth < LOAD.close_m, np.array([r.found.close for r in rows])
    named = np.array([r.found.maybe_close for r in rows])
    print(
        f"{'below 1,000 ft' if low else 'under canopy'}: {len(rows)} pairs, median error {np.median([r.found.sd_m for r in rows]):.1f} m (1 sd)"
    )
    print(f"  inside the 95 % interval: {held.mean():.1%}")
    print(
        f"  nearer than {LOAD.close_m:.0f} m: {close.sum()}; listed {(close & named).sum() / max(close.sum(), 1):.1%}, called nearer {(close & said).sum() / max(close.sum(), 1):.1%}"
    )
    print(f"  called nearer: {said.sum()}, of them false {(said & ~close).sum() / max(said.sum(), 1):.1%}")


def main() -> None:
    loads, first = (
        int(sys.argv[1]) if len(sys.argv) > 1 else 200,
        int(sys.argv[2]) if len(sys.argv) > 2 else 823000,
    )
    rows: list[Pair] = []
    whole = every = wrong = 0
    for seed in range(first, first + loads):
        load = make_load(seed)
        flights, rides, who, complete = flights_on_one_clock(load)
        whole += complete
        rows += pairs_of(load, flights, rides, who, clock_of(load, flights, who))
        n, w = wrong_orders(load, flights, who)
        every, wrong = every + n, wrong + w
    print(f"{loads} loads of 4 to 8: {whole} whole")
    show(rows, False)
    show(rows, True)
    print(
        f"landings more than 2 s apart: {every} pairs, order wrong in {wrong} ({wrong / max(every, 1):.2%})"
    )
    n, right = members(first + 100_000, max(loads // 3, 1))
    print(f"days of three loads: {n} jumps, {right / n:.1%} stand with all of their load and nobody else")


if __name__ == "__main__":
    main()
