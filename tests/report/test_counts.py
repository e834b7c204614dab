"""Counts in the coach's words: the largest shares first, the latest days last."""

from __future__ import annotations

from analyser.report.story.blocks import Sentence
from analyser.report.story.coach import _well
from analyser.report.story.counted import days_of
from analyser.season.facts import Count, Facts

DAY_S = 86400.0


def test_what_went_well_is_told_by_its_share_and_not_by_how_often_it_was_looked_for() -> None:
    """5 of 6 is more than 9 of 12, and that more than 12 of 24; 4 of 10 is less than half."""
    well = (
        Count("turns kept", 12, 24),
        Count("into wind", 9, 12),
        Count("straight", 5, 6),
        Count("other", 4, 10),
    )
    said = _well(Facts(24, 0, None, well, ()))
    assert isinstance(said, Sentence)
    assert said.text() == "Straight in 5 of 6 jumps. Into wind in 9 of 12 jumps."
    assert _well(Facts(10, 0, None, well[3:], ())) == "–"
    assert _well(None) == "–"


def test_of_many_days_the_latest_six_are_named() -> None:
    """The first eight days of 1970."""
    days = Count("low turn", 8, 20, tuple(i * DAY_S for i in range(8)))
    named = ", ".join(f"1970-01-{d:02d}" for d in range(3, 9))
    assert days_of(days, private=False) == f"{named} and 2 before"
    few = Count("low turn", 2, 20, (0.0, DAY_S))
    assert days_of(few, private=False) == "1970-01-01, 1970-01-02"
    assert days_of(days, private=True) == "–"
