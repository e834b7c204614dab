"""What is told of everyone of a load, from flights put together by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from analyser.load.thresholds import LOAD
from analyser.report.story.blocks import Line, Table
from analyser.report.story.load import _everyone


def load_of(*clocks: float) -> Any:
    """A load in which each has a clock with such an error and nothing else known."""
    jump = SimpleNamespace(phases=SimpleNamespace(canopy=lambda: None), flown=None)
    flights = [
        SimpleNamespace(name=name, exit_s=60.0, opened_s=120.0, landed_s=None, clock_sd_s=sd)
        for name, sd in zip("ABC", clocks)
    ]
    return SimpleNamespace(jumps=[jump] * len(flights), flights=flights, order={}, twins=())


@pytest.mark.parametrize(
    ("clocks", "named"),
    [
        ((0.1, LOAD.clock_sd_s, 0.2), "2 B: "),
        ((LOAD.clock_sd_s, 0.1, LOAD.clock_sd_s), "1 A, 3 C: "),
        ((0.1, 0.2, 0.3), ""),
        ((LOAD.clock_sd_s,), ""),  # alone there are no others to set a clock by
    ],
)
def test_those_whose_clock_the_ride_up_does_not_set_are_named(clocks: tuple[float, ...], named: str) -> None:
    blocks = _everyone(load_of(*clocks))
    said = [b.text.text() for b in blocks if isinstance(b, Line) and "clock" in b.text.text()]
    assert len(said) == bool(named)
    assert all(text.startswith(named) for text in said)
    table = next(b for b in blocks if isinstance(b, Table))
    assert [row[1:4] for row in table.rows] == [("00:01:00", "00:02:00", "–")] * len(clocks)
