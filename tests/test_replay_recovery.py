"""Small ensembles of made-up jumps: plans followed, errors found, advice flown, reach at its edge (full tables: benchmarks/)."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from analyser.settings import PatternSetup

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
import advice
import budget
import reach


@pytest.mark.parametrize(
    "setup", [PatternSetup(), PatternSetup(crosswind_m=366.0)], ids=["three gates", "four gates"]
)
def test_a_plan_followed_without_error_lands_within_five_metres(setup: PatternSetup) -> None:
    """Same wind, smooth air, no flare (a plan on paper has none); the made-up canopy shares no code with the plan.

    The steepest banks (752002: 43°) come nearest to the limit.
    """
    misses = [advice.faultless(seed, setup, flares=False) for seed in (*range(60_100, 60_110), 752_002)]
    assert max(misses) <= 5.0
    assert np.median(misses) <= 2.5


@pytest.mark.slow
@pytest.mark.parametrize(("number", "least"), [(0, 0.6), (1, 0.6), (2, 0.6), (3, 0.4), (4, 0.6)])
def test_injected_errors_fall_on_their_cause(number: int, least: float) -> None:
    cases = [budget.injected(131_000 + 100 * number + i, number) for i in range(5)]
    found = [budget.shares(c)[0] for c in cases if c.debrief.budget]
    assert len(found) >= 4
    assert np.mean(np.array(found) >= 0.7) >= least
    for case in cases:
        if case.debrief.budget and case.debrief.landing is not None:
            total = np.sum([(r.along_m, r.across_m) for r in case.debrief.budget], axis=0)
            assert total == pytest.approx(
                (case.debrief.landing.along_m, case.debrief.landing.across_m), abs=0.1
            )


@pytest.mark.slow
def test_intervals_of_the_rows_hold() -> None:
    cases = [budget.injected(132_000 + i, i % 5) for i in range(5)]
    rows = [d for c in cases if c.debrief.budget for d in budget.deviations(c)]
    z = np.array([abs(error) / max(sd, 1e-9) for _, error, sd in rows])
    assert np.mean(z <= 1.96) >= 0.88
    assert np.mean(z <= 0.674) >= 0.35


@pytest.mark.slow
def test_advice_followed_takes_away_half_of_the_miss() -> None:
    rows = [advice.again(61_000 + i) for i in range(6)]
    assert sum(r.advice is not None for r in rows) >= 4
    assert np.median([r.again_m for r in rows]) <= 0.5 * np.median([r.miss_m for r in rows])


@pytest.mark.slow
def test_reach_agrees_at_the_edge() -> None:
    rows = [e for i in range(6) for e in reach.edges(51_000 + i)]
    agree = np.array([np.sign(e.margin_m) == np.sign(e.true_m) for e in rows])
    sure = np.array([abs(e.margin_m) > 2.0 * e.sd_m for e in rows])
    assert np.mean(agree) >= 0.85
    assert np.mean(agree[sure]) >= 0.95
