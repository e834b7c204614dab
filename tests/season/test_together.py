"""Distance from the target and turn heights asked together: more power where both say the same, nothing made up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from effort import few_or
from season_made import season

from analyser.season.clear import judge
from analyser.season.jumps import read_jumps
from analyser.season.questions import Question, ask


def test_distance_and_heights_together_are_told_only_where_neither_is_alone() -> None:
    alone, both = (
        Question(code, 50, -20.0, -30.0, -10.0, 0.0, 1.0, jumper="Ada") for code in ("distance", "together")
    )
    weak = [replace(alone, p=0.2), replace(both, p=0.001)]
    assert [q.claimed for q in judge(weak)] == [False, True]
    plain = [replace(alone, p=0.0001), replace(both, p=0.0001)]
    assert [q.claimed for q in judge(plain)] == [True, False]
    others = [replace(alone, jumper="Ben", p=0.0001), replace(both, p=0.0001)]
    assert [q.claimed for q in judge(others)] == [True, True]


@pytest.mark.parametrize("orders", few_or(200, 40))
def test_distance_and_heights_together_stay_silent_in_any_order_of_jumps(orders: int) -> None:
    """Whoever improves, in another order does not: no more orders than chance allows come out below 5 %."""
    rows = season(2, 45)["Dee Better"]
    rng = np.random.default_rng(5)
    low = 0
    for _ in range(orders):
        times = [row["landing_utc"] for row in rows]
        mixed = [dict(rows[i], landing_utc=t) for i, t in zip(rng.permutation(len(rows)), times, strict=True)]
        found = next(q for q in ask(read_jumps(mixed)[0]) if q.code == "together")
        low += found.p < 0.05
    assert low <= 0.05 * orders + 3.0 * math.sqrt(0.05 * 0.95 * orders)
