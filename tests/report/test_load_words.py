"""What is told of everyone of a load, from flights put together by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from analyser.load.order import Moment
from analyser.load.thresholds import LOAD
from analyser.report.documents.load import load_document
from analyser.report.story.blocks import Line, Points, Table
from analyser.report.story.load import _everyone, _ways


def load_of(*clocks: float) -> Any:
    """A load in which each has a clock with such an error and nothing else known."""
    jump = SimpleNamespace(phases=SimpleNamespace(canopy=lambda: None), flown=None, landing=None)
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


def test_the_document_of_a_load_numbers_flights_from_one() -> None:
    """load_document: the order of exits, who turned against, whose ways part."""
    moments = (
        Moment(0, 60.0, 0.5, tied=False),
        Moment(2, 61.0, 0.5, tied=False),
        Moment(1, 61.2, 0.5, tied=True),
    )
    turn = SimpleNamespace(who=1, leg="base", agl_m=180.0, agl_sd_m=3.0, change_deg=88.0, t_s=300.0)
    load = SimpleNamespace(
        frame=SimpleNamespace(lat_deg=50.0, lon_deg=4.0),
        flights=(),
        twins=(),
        order={"exit": moments},
        direction_deg=240.0,
        hand="left",
        hand_from="",
        turns=(turn,),
        ways=(SimpleNamespace(pair=(0, 2), apart_deg=90.0, seconds=12.0),),
        near=(),
        near_low=(),
        wind=None,
        agreement=SimpleNamespace(pairs=0, within=0, share=None),
    )
    document: Any = load_document(load)  # type: ignore[arg-type]
    assert [(row["flight"], row["tied"]) for row in document["order"]] == [(1, False), (3, False), (2, True)]
    assert document["pattern"]["turns_against"][0]["flight"] == 2
    assert document["pattern"]["different_ways"][0]["flights"] == [1, 3]
    assert (document["frame"]["origin_lat"], document["frame"]["origin_lon"]) == (50.0, 4.0)


@pytest.mark.parametrize(("landed", "shown"), [(232.4, "232 ± 4°"), (190.0, "232°"), (None, "232°")])
def test_a_direction_of_landing_has_its_error_where_the_flight_knows_it(
    landed: float | None, shown: str
) -> None:
    load = load_of(0.1)
    landing = None if landed is None else SimpleNamespace(landing_deg=landed, landing_deg_sd=4.2)
    load.jumps[0].flown = SimpleNamespace(landing_deg=232.4, hand="left")
    load.jumps[0].landing = landing
    table = next(b for b in _everyone(load) if isinstance(b, Table))
    cell: Any = table.rows[0][5]
    assert cell.text() == shown


def test_a_turn_against_the_hand_says_to_which_side_and_how_high() -> None:
    load = load_of(0.1, 0.1)
    turns = [
        SimpleNamespace(who=k, leg="base", agl_m=180.0, agl_sd_m=3.0, change_deg=change)
        for k, change in ((0, 88.0), (1, -91.0))
    ]
    known = {"direction_deg": 240.0, "hand": "left", "hand_from": "site", "ways": (), "turns": turns}
    blocks = _ways(SimpleNamespace(**{**vars(load), **known}))  # type: ignore[arg-type]
    said = [item.text() for block in blocks if isinstance(block, Points) for item in block.items]
    assert said[0].startswith("1 A: a turn to the right onto base, at ")
    assert said[1].startswith("2 B: a turn to the left onto base, at ")
