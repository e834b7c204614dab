"""Whole tracks of a club through the whole chain: is what is called clear or worth watching true of the pupil?

Run: python benchmarks/talks.py [SEASONS] [FIRST_SEED] [JUMPS_EACH]. True is what holds, to that side and beyond its margin, in hundreds of other
flights of the same pupil, of which the true places and heights are taken. A planted habit brings others: who turns final low drifts off beside the
target, to the other side with the other hand. A season of 6 x 30 jumps takes some minutes.
"""

from __future__ import annotations

import math
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.batch.run import run_season
from analyser.season.questions import Question
from analyser.synthetic.season import HEIGHTS_FT, JUMPERS, season
from analyser.synthetic.season import write_season as write
from analyser.units import FOOT_M, KNOT_MPS

LONG_SEED, LONG = 5750, 240
SURE = 2.0
STRONG_MPS = 10.0 * KNOT_MPS


class Flights(NamedTuple):
    """True columns (n,) of many flights of one pupil: misses, errors of the turn heights [m], hand is right, wind at 100 m [m/s]."""

    along: NDArray[np.float64]
    across: NDArray[np.float64]
    heights: dict[str, NDArray[np.float64]]
    right: NDArray[np.bool_]
    wind: NDArray[np.float64]


@cache
def long_season(name: str) -> Flights:
    """Flights of one pupil, from another seed than any season looked at."""
    rows = []
    for one in season(LONG_SEED, LONG, tuple(h for h in JUMPERS if h.name == name)):
        truth = one.jump.truth
        assert truth.landing_deg is not None
        way = math.radians(truth.landing_deg)
        east, north = truth.landing_east_m, truth.landing_north_m
        gates = {gate.name: gate.agl_m for gate in truth.gates}
        wind = [np.interp(100.0, truth.wind_agl_m, v) for v in (truth.wind_east, truth.wind_north)]
        rows.append(
            (
                east * math.sin(way) + north * math.cos(way),
                east * math.cos(way) - north * math.sin(way),
                truth.hand == "right",
                float(np.hypot(*wind)),
                *(gates.get(g, math.nan) - ft * FOOT_M for g, ft in HEIGHTS_FT.items()),
            )
        )
    table = np.array(rows, dtype=float).T
    return Flights(
        table[0], table[1], dict(zip(HEIGHTS_FT, table[4:], strict=True)), table[2] > 0.5, table[3]
    )


def level(values: NDArray[np.float64]) -> tuple[float, float]:
    """Median, and its standard error (normal values, 1.25 times that of a mean)."""
    values = values[np.isfinite(values)]
    return float(np.median(values)), 1.2533 * float(np.std(values)) / math.sqrt(values.size)


def holds(question: Question) -> bool:
    """Whether what was found is so in the long season: to that side, beyond the margin by no less than the long season's own error allows."""
    name = str(question.jumper)
    habit = next(h for h in JUMPERS if h.name == name)
    if question.code in ("distance", "steadiness", "together"):
        return habit.error_last < habit.error_first and question.value < 0.0
    known = long_season(name)
    if question.code.startswith("bias"):
        true, sd = level(known.along if question.code.endswith("along") else known.across)
    elif question.code == "turn height":
        true, sd = level(known.heights[str(question.evidence["gate"])])
    elif question.code in ("wind", "wind cause"):
        true, sd = step(known.along, known.wind >= STRONG_MPS)
    elif question.code == "hand":
        true, sd = step(getattr(known, str(question.evidence["axis"])), known.right)
    elif question.code in ("canopy", "trim"):
        return habit.later_wing is not None
    else:
        return False  # no change of level and no site is in these pupils
    return true * math.copysign(1.0, question.value) - SURE * sd > 0.0


def step(values: NDArray[np.float64], second: NDArray[np.bool_]) -> tuple[float, float]:
    """Level of the second part less that of the first, and its error."""
    (a, sa), (b, sb) = level(values[~second]), level(values[second])
    return b - a, math.hypot(sa, sb)


def main() -> None:
    """Print every remark with what the long season says of it, and the sums."""
    seasons, first, jumps = (int(a) for a in (sys.argv[1:] + ["3", "5710", "30"][len(sys.argv) - 1 :]))
    count = {("clear", True): 0, ("clear", False): 0, ("watch", True): 0, ("watch", False): 0}
    for seed in range(first, first + seasons):
        with tempfile.TemporaryDirectory() as name:
            write(Path(name) / "season", seed, jumps)
            found = run_season([Path(name) / "season"]).season
        for jumper in found.jumpers:
            for tier, questions in (("clear", jumper.claims), ("watch", jumper.watched)):
                for question in questions:
                    true = holds(question)
                    count[tier, true] += 1
                    print(
                        f"{seed} {jumper.name:12} {tier} {question.code:12} {question.value:7.1f} {'true' if true else 'FALSE'}",
                        flush=True,
                    )
    for tier in ("clear", "watch"):
        said = count[tier, True] + count[tier, False]
        print(f"{tier}: {said} said, {count[tier, False]} false")


if __name__ == "__main__":
    main()
