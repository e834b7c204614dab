"""Which parts of a budget stand out: long enough along and across together, and beyond their error on one of the two."""

from __future__ import annotations

import pytest

from analyser.logbook.earlier import earlier_of
from analyser.replay.budget import BudgetRow
from analyser.replay.parts import Part
from analyser.replay.sink import Brakes
from analyser.replay.standing import _beyond_error, standing
from analyser.report.documents.debrief import _budget
from analyser.settings import Method


@pytest.mark.parametrize(
    ("along", "across", "sd", "stands"),
    [
        (20.0, 0.0, 4.0, True),
        (0.0, -20.0, 4.0, True),
        (-9.0, 0.0, 1.0, False),
        (0.0, 9.0, 1.0, False),
        (8.0, 8.0, 1.0, True),  # 11.3 m together
        (20.0, 0.0, 15.0, False),
        (0.0, 20.0, 15.0, False),
    ],
)
def test_a_part_stands_out_along_as_across(along: float, across: float, sd: float, stands: bool) -> None:
    """The smallest cause with a name is 10 m, and it takes twice its error."""
    assert Method().cause_metres.value == 10.0
    assert _beyond_error(Part("place", along, across, sd, sd), Method(), 2.0) is stands


@pytest.mark.parametrize(("along_sd", "across_sd", "stands"), [(3.0, 60.0, False), (60.0, 3.0, True)])
def test_a_row_without_parts_stands_by_its_own_errors(
    along_sd: float, across_sd: float, stands: bool
) -> None:
    row = BudgetRow("entry", 4.0, 30.0, along_sd, across_sd)
    assert [r is row for r, _ in standing([row], Method())] == [True] * stands


def test_where_the_turn_after_a_crosswind_leg_led_is_not_named() -> None:
    parts = (Part("place", 30.0, 0.0, 3.0, 3.0), Part("turn", 30.0, 0.0, 3.0, 3.0))
    row = BudgetRow("entry", 60.0, 0.0, 4.0, 4.0, parts=parts)
    assert [part.part for _, part in standing([row], Method())] == ["place"]
    assert [p["part"] for p in _budget(row)["parts"]] == ["place", "place"]
    earlier = earlier_of([[_budget(row)], [_budget(row)]])
    assert earlier.parts["entry", "place"] == [(30.0, 0.0), (30.0, 0.0)]


@pytest.mark.parametrize(
    ("along", "sink", "stands"), [(-18.0, 0.8, True), (-18.0, 1.0, False), (18.0, 0.8, False)]
)
def test_brakes_that_the_sink_shows_need_one_side_of_the_error_only(
    along: float, sink: float, stands: bool
) -> None:
    """18 ± 10 m is beyond 1.68 standard deviations and within two: enough where the sign is known."""
    part = Part("speed", along, 0.0, 10.0, 4.0)
    row = BudgetRow("final leg", along, 0.0, 10.0, 4.0, parts=(part,))
    seen = Brakes(-15.0, 10.0, sink, 0.02, 3.0)
    assert bool(standing([row], Method(), seen)) is stands
    assert not standing([row], Method())
    elsewhere = BudgetRow("base leg", along, 0.0, 10.0, 4.0, parts=(part,))
    assert not standing([elsewhere], Method(), seen)
