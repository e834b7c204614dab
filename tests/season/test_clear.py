"""Two tiers: clear over everybody, worth watching within one; held against a published example and against planted habits."""

from __future__ import annotations

import numpy as np
import pytest
from effort import few_or
from scipy.stats import false_discovery_control
from talk_club import CLUB, RowsBook, club, is_true

from analyser.season.clear import FALSE_SHARE, judge
from analyser.season.questions import Question
from analyser.season.summarise import Season, summarise

# Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289, section 4: fifteen p values of a trial of a drug against infarction (the
# numbers from memory). At 5 % Bonferroni and Holm reject three, theirs four.
PUBLISHED = (
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.3240,
    0.4262,
    0.5719,
    0.6528,
    0.7590,
    1.0,
)


def asked(p: float, *, jumper: str = "A", value: float = 20.0, code: str = "bias along") -> Question:
    return Question(code, 12, value, value - 10.0, value + 10.0, 8.0, p, jumper=jumper)


def test_the_published_example() -> None:
    judged = judge([asked(p) for p in PUBLISHED])
    assert [q.claimed for q in judged] == [True] * 3 + [False] * 12
    rest = judged[
        3:
    ]  # Benjamini and Hochberg of what is left, by hand: the smallest over all larger ones of p n / rank
    steps = [p * 12 / rank for rank, p in enumerate(PUBLISHED[3:], 1)]
    assert [q.p_bh for q in rest] == pytest.approx([min(min(steps[i:]), 1.0) for i in range(12)])
    assert [q.watched for q in rest] == [min(steps[i:]) <= FALSE_SHARE for i in range(12)]
    assert sum(q.watched for q in rest) == 6


def test_the_false_share_is_that_of_a_library() -> None:
    """scipy.stats.false_discovery_control, method "bh"."""
    p = 0.02 + 0.98 * np.random.default_rng(3).uniform(size=40) ** 2
    judged = judge([asked(float(one)) for one in p])
    assert not any(q.claimed for q in judged)
    assert [q.p_bh for q in judged] == pytest.approx(false_discovery_control(p).tolist(), abs=1e-12)


def test_one_jumpers_questions_do_not_weigh_on_another() -> None:
    alone = judge([asked(0.03)])
    beside = judge([asked(0.03), *(asked(0.9, jumper="B") for _ in range(200))])
    assert alone[0].p_bh == beside[0].p_bh == pytest.approx(0.03)
    assert alone[0].claimed
    assert beside[0].watched
    assert not beside[0].claimed


def test_nothing_inside_its_margin_is_in_either_tier() -> None:
    (one,) = judge([asked(1e-9, value=7.0)])
    assert not one.claimed
    assert not one.watched


@pytest.fixture(scope="module", params=few_or(20, 6))
def seasons(request: pytest.FixtureRequest) -> list[Season]:
    return [summarise(RowsBook(club(seed)[0])) for seed in range(5200, 5200 + request.param)]  # type: ignore[arg-type]


def named(season: Season, name: str) -> set[tuple[str, object]]:
    jumper = next(j for j in season.jumpers if j.name == name)
    return {(q.code, q.evidence.get("gate")) for q in (*jumper.claims, *jumper.watched)}


def test_planted_habits_are_named_and_nothing_false_is_clear(seasons: list[Season]) -> None:
    clear = [q for s in seasons for j in s.jumpers for q in j.claims]
    watched = [q for s in seasons for j in s.jumpers for q in j.watched]
    assert [q for q in clear if not is_true(q)] == []
    false = [q for q in watched if not is_true(q)]
    assert len(watched) >= len(seasons)
    assert len(false) <= FALSE_SHARE * len(watched)
    found = [
        bool({("turn height", "final")} & named(s, "Ada Low"))
        + bool({("turn height", "base")} & named(s, "Bo High"))
        + bool({("wind", None), ("wind cause", None)} & named(s, "Ben Gust"))
        for s in seasons
    ]
    assert sum(found) >= 0.9 * 3 * len(seasons)


def test_better_is_said_only_where_it_is(seasons: list[Season]) -> None:
    better = [
        q
        for s in seasons
        for j in s.jumpers
        for q in j.claims
        if q.code in ("distance", "steadiness", "together") and q.value < 0.0
    ]
    assert {q.jumper for q in better} == {"Dee Better"}
    said = [
        bool({("distance", None), ("steadiness", None), ("together", None)} & named(s, "Dee Better"))
        for s in seasons
    ]
    assert sum(said) >= 0.9 * len(seasons)


@pytest.mark.slow
def test_fifty_feet_over_twelve_jumps_are_worth_watching() -> None:
    found = 0
    for seed in range(5300, 5325):
        rows = {name: mine for name, mine in club(seed, 12)[0].items() if name in ("Ada Low", "Eve Plain")}
        found += ("turn height", "final") in named(summarise(RowsBook(rows)), "Ada Low")  # type: ignore[arg-type]
    assert found >= 20


def test_the_club_has_what_is_planted() -> None:
    assert set(CLUB) == set(club(1, 10)[0])
