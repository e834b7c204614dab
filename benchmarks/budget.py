"""Injected single errors: does the budget of the miss put the metres on the right cause, and do its intervals hold?

Run: python benchmarks/budget.py [JUMPS] [FIRST_SEED]. Every jump is a made-up one (gusty, sheared air; a drawn canopy and
receiver) whose pilot follows a plan with one error; the debrief gets the recording and the plan, nothing else. Four ways to count:
the right row along the miss; its part of the metres of the rows that stand out of their error; of the metres by which the rows differ
from those of the same flight without the error; and of the metres of all rows, errors of estimate and gusts included.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from one_error import ERRORS, Injected, injected, profile_of

from analyser.flight import Trim
from analyser.pattern import Gate, Leg, to_landing_frame
from analyser.replay import CAUSES, BudgetRow, Cause, budget

CHI2_95 = 5.991


class Shares(NamedTuple):
    """The right cause's part of the miss along itself, of the rows that stand out, of all rows."""

    along: float
    standing_out: float
    of_all: float


def shares(case: Injected) -> Shares:
    """The right cause's part of a debrief's budget."""
    return shares_of(case.debrief.budget, case.cause)


def shares_of(rows: Iterable[BudgetRow], cause: Cause) -> Shares:
    """The same of any budget."""
    rows = tuple(rows)
    metres = {r.cause: np.array([r.along_m, r.across_m]) for r in rows}
    total, right = sum(metres.values()), metres[cause]
    return Shares(
        float(right @ total / max(float(total @ total), 1e-9)),
        part({r.cause: metres[r.cause] for r in rows if stands_out(r)}, cause),
        part(metres, cause),
    )


def part(metres: dict[Cause, np.ndarray], cause: Cause) -> float:
    """The length of one vector over the sum of the lengths of all; 0 where it is not among them."""
    lengths = {name: float(np.hypot(*v)) for name, v in metres.items()}
    return lengths.get(cause, 0.0) / max(sum(lengths.values()), 1e-9)


def stands_out(row: BudgetRow) -> bool:
    """Whether a row lies outside its own 95 % ellipse about zero."""
    z = np.array([row.along_m, row.across_m]) / np.maximum([row.along_sd_m, row.across_sd_m], 1e-6)
    return float(z @ z) > CHI2_95


def against_twin(case: Injected) -> float | None:
    """The right cause's part of the metres by which the budget differs from that of the same flight without the error."""
    rows, twin = (
        {r.cause: np.array([r.along_m, r.across_m]) for r in b}
        for b in (case.debrief.budget, case.twin_budget())
    )
    if not twin:
        return None
    return part({name: rows[name] - twin[name] for name in rows}, case.cause)


def true_budget(case: Injected) -> dict[Cause, BudgetRow]:
    """The same sum with nothing estimated: true wind, true trim, true flight, turns where they truly ended."""
    truth, seen = case.jump.truth, case.debrief
    t = truth.t_utc_s - seen.track.start_utc_s
    track = replace(
        seen.track,
        t_s=t,
        east_m=truth.east_m.copy(),
        north_m=truth.north_m.copy(),
        agl_m=truth.agl_m.copy(),
        v_east=np.gradient(truth.east_m, t),
        v_north=np.gradient(truth.north_m, t),
        v_up=np.gradient(truth.agl_m, t),
        agl_sd_m=0.0,
        position_sd_m=0.0,
    )
    landing_s = float((truth.landing_utc_s or 0.0) - seen.track.start_utc_s)
    begins = [g.utc_s - seen.track.start_utc_s for g in truth.gates] + [landing_s]
    legs, gates = [], []
    for g, begin, end in zip(truth.gates, begins, begins[1:], strict=False):
        start = float(np.interp(-g.end_agl_m, -truth.agl_m, t))
        figures = (g.heading_deg, g.track_deg)
        legs.append(Leg(g.name, start, end, g.agl_m, 0.0, g.end_agl_m, 0.0, *figures, 0.0, 0.0, 0.0))
        gates.append(Gate(g.name, g.agl_m, g.east_m, g.north_m, *figures, t_s=begin))
    flown = replace(seen.flown, legs=tuple(legs), gates=tuple(gates))
    along, across = to_landing_frame(truth.landing_east_m, truth.landing_north_m, seen.landing.landing_deg)
    landing = replace(
        seen.landing,
        east_m=truth.landing_east_m,
        north_m=truth.landing_north_m,
        along_m=along,
        across_m=across,
    )
    wing = case.setup.canopy
    trim = Trim(wing.airspeed_mps, wing.sink_mps, case.setup.turn_bank_deg, case.setup.elevation_m)
    rows = budget(case.plan, flown, landing, trim, profile_of(case.setup.air), track=track, draws=2)
    return {r.cause: r for r in rows}


def deviations(case: Injected) -> list[tuple[Cause, float, float]]:
    """Cause, estimate minus truth [m], and stated standard deviation, for along and across of every row that was told apart."""
    truth = true_budget(case)
    out = []
    for r in case.debrief.budget:
        if not r.reason:
            out.append((r.cause, r.along_m - truth[r.cause].along_m, r.along_sd_m))
            out.append((r.cause, r.across_m - truth[r.cause].across_m, r.across_sd_m))
    return out


def report_intervals(cases: list[Injected]) -> None:
    """Print how far the rows lie from the truth and how often the intervals hold it."""
    rows = [d for c in cases for d in deviations(c)]
    print("\nrow            error rms   stated sd   95 % holds   50 % holds")
    for cause in (*CAUSES, "all"):
        error = np.array([e for name, e, _ in rows if cause in (name, "all")])
        sd = np.array([s for name, _, s in rows if cause in (name, "all")])
        z = np.abs(error) / np.maximum(sd, 1e-9)
        print(
            f"{cause:13s} {np.sqrt(np.mean(error**2)):7.1f} m {np.sqrt(np.mean(sd**2)):9.1f} m {np.mean(z <= 1.96):11.0%} {np.mean(z <= 0.674):12.0%}"
        )


def seconds_of_one(case: Injected, calls: int = 20) -> float:
    """CPU seconds of one budget with its draws (aim: 0.3 s at most)."""
    seen = case.debrief
    begin = time.process_time()
    for _ in range(calls):
        budget(case.plan, seen.flown, seen.landing, seen.trim, seen.wind.profile, track=seen.track)
    return (time.process_time() - begin) / calls


def main(jumps: int = 20, first: int = 110_000) -> None:
    """Print both tables: the right cause's part for each injected error, and the intervals of all rows."""
    print(
        "jumps in which the right row holds 70 % or more (median part)\n"
        f"{'injected error':24s} jumps  miss  along the miss  standing out   against twin      of all rows   nothing estimated: along, of all"
    )
    everything: list[Injected] = []
    for number, (error, _) in enumerate(ERRORS):
        cases = [injected(first + 1000 * number + i, number) for i in range(jumps)]
        used = [c for c in cases if c.debrief.budget]
        found = np.array([shares(c) for c in used])
        twin = [s for c in used if (s := against_twin(c)) is not None]
        known = np.array([shares_of(true_budget(c).values(), c.cause) for c in used])
        miss = np.median([c.debrief.landing.offset_m for c in used])
        columns = [found[:, 0], found[:, 1], np.array(twin), found[:, 2], known[:, 0], known[:, 2]]
        print(
            f"{error:24s} {len(used):3d}/{len(cases):3d} {miss:4.0f}  "
            + "   ".join(
                f"{np.mean(v >= 0.7):5.0%} ({np.median(v):4.0%})" if v.size else "      –     "
                for v in columns
            ),
            flush=True,
        )
        rest = range(jumps, jumps + max(jumps // 2, 1))
        everything += [injected(first + 1000 * number + i, number, exact=False) for i in rest]
    print("\nwith a typed trim that is off by its stated error as well:", end="")
    measured = [c for c in everything if c.debrief.budget]
    report_intervals(measured)
    print(f"\none budget with its draws: {seconds_of_one(measured[0]):.3f} s CPU")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
