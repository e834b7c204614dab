"""What is said about a leg: length from turn to turn, then drift; the entry as a place at a height; the height of a turn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from jump_made import jump_made
from pattern_cases import fly_case, landing_at, track_of, uniform

from analyser.angles import rotate
from analyser.compare import compare
from analyser.findings.legs import entry_words, leg_words
from analyser.findings.parts import _along_leg, part_words
from analyser.jump import Debrief
from analyser.pattern import LegName, Pattern, to_landing_frame
from analyser.replay.parts import Part
from analyser.sentences import fill
from analyser.settings import PatternSetup, Settings

CALM = uniform(4.0, 0.0)


def inputs(
    hand: str = "left",
    *,
    setup: PatternSetup | None = None,
    sd: float = 3.0,
    **moves: tuple[float, float, float],
) -> Debrief:
    """The plan flown exactly, but with gates moved by (east, north, up); landing toward north."""
    case = fly_case(CALM, hand=hand, setup=setup)
    gates = tuple(
        replace(
            g,
            east_m=g.east_m + moves.get(g.name, (0, 0, 0))[0],
            north_m=g.north_m + moves.get(g.name, (0, 0, 0))[1],
            agl_m=g.agl_m + moves.get(g.name, (0, 0, 0))[2],
            agl_sd_m=sd,
            lateral_sd_m=sd,
        )
        for g in case.flown.gates
    )
    flown = replace(case.flown, gates=gates)
    return jump_made(Settings(), flown=flown, plan=case.plan, comparison=compare(flown, case.plan))


@pytest.mark.parametrize(
    ("hand", "cause", "moves", "code", "said"),
    [
        ("left", "downwind leg", {"base": (0.0, -60.0, 0.0)}, "downwind_long", "60"),
        ("left", "downwind leg", {"base": (0.0, 60.0, 0.0)}, "downwind_short", "60"),
        ("left", "base leg", {"final": (50.0, 0.0, 0.0)}, "base_long", "50"),
        ("right", "base leg", {"final": (50.0, 0.0, 0.0)}, "base_short", "50"),
        ("left", "base leg", {"final": (0.0, -40.0, 0.0)}, "base_drift", "back"),
        ("left", "downwind leg", {"base": (-45.0, 0.0, 0.0)}, "downwind_drift", "outside"),
        ("right", "downwind leg", {"base": (-45.0, 0.0, 0.0)}, "downwind_drift", "inside"),
        ("left", "base leg", {"base": (50.0, 0.0, 0.0), "final": (50.0, 0.0, 0.0)}, "base_leg", "otherwise"),
        ("left", "base leg", {"final": (6.0, 0.0, 3.0)}, "base_leg", "otherwise"),
    ],
)  # fmt: skip
def test_legs(hand, cause, moves, code, said) -> None:
    values: dict = {}
    found = leg_words(inputs(hand, **moves), cause, values)
    assert found[0] == code
    assert said in fill(found[1], values)


def test_straight_in_is_said_as_such() -> None:
    x = inputs()
    straight = replace(x, flown=replace(x.flown, kind="straight in"))
    assert leg_words(straight, "base leg", {})[0] == "straight_in"


def test_a_first_leg_joined_from_above_has_no_length() -> None:
    x = inputs(downwind=(0.0, 300.0, 90.0), base=(0.0, -60.0, 0.0))
    assert leg_words(x, "downwind leg", {})[0] == "downwind_leg"


def test_the_entry_of_a_three_leg_plan_is_a_place_at_a_height() -> None:
    case = fly_case(CALM, entry_error=(0.0, 70.0))
    first = case.flown.path[0]
    above = [(first[0] - 20.0, first[1], first[2] + 280.0, first[3] + 80.0), *case.flown.path]
    path = [(t + 20.0, e, n, h) for t, e, n, h in above]
    shift = lambda leg, s: replace(leg, start_s=s, end_s=leg.end_s + 20.0)  # noqa: E731
    legs = tuple(shift(leg, 1.0 if leg.name == "downwind" else leg.start_s + 20.0) for leg in case.flown.legs)
    flown = replace(case.flown, legs=legs)
    x = jump_made(
        Settings(), flown=flown, plan=case.plan, track=track_of(path), comparison=compare(flown, case.plan)
    )
    values: dict = {}
    code, text = entry_words(x, "entry", values)
    assert code == "entry_place"
    assert values["off_m"] == pytest.approx(70.0, abs=6.0)
    assert "At 305 m" in fill(text, values)


def test_the_entry_of_a_four_leg_plan_is_a_turn() -> None:
    setup = PatternSetup(crosswind_m=366.0)
    values: dict = {}
    low = inputs(setup=setup, downwind=(0.0, 0.0, -25.0))
    part = Part("height", 60.0, 0.0, 5.0, 5.0)
    assert part_words(low, "entry", part, values)[0] == "downwind_turn_low"
    assert values["change_agl_m"] == pytest.approx(25.0)
    code, text = entry_words(inputs(setup=setup, downwind=(30.0, 40.0, 0.0)), "entry", values)
    assert code == "entry_place"
    assert "50.0 ± 3.0 m" in fill(text, values)


def test_a_turn_begun_at_the_entry_of_a_plan_already_on_its_track_is_named_so() -> None:
    values: dict = {}
    case = inputs(downwind=(8.0, 6.0, 0.0))
    assert case.planned.gates[0].name == "downwind"
    code, text = entry_words(case, "entry", values)
    assert code == "entry_turn"
    assert "it is the turn that cost" in fill(text, values)
    assert entry_words(inputs(downwind=(60.0, 30.0, 0.0)), "entry", {})[0] == "entry_place"


def test_nothing_known_says_little() -> None:
    nothing = jump_made(Settings(), flown=Pattern("other", None, None))
    assert entry_words(nothing, "entry", {})[0] == "entry"
    assert leg_words(nothing, "base leg", {})[0] == "base_leg"


@pytest.mark.parametrize(("amount", "side"), [(12.0, "right"), (-12.0, "left")])
def test_the_side_to_which_the_nose_pointed(amount: float, side: str) -> None:
    """The amount of a direction is positive to the right."""
    values: dict[str, Any] = {}
    code, words = part_words(
        jump_made(), "base leg", Part("direction", 5.0, 0.0, 1.0, 1.0, amount, 1.0), values
    )
    assert code == "base_direction"
    assert f"too far {side} to hold" in words
    assert values["off_deg"] == 12.0


def test_the_wind_of_the_plan_is_told_beside_the_recovered_one_even_where_no_pattern_was_flown() -> None:
    """Planned 4 m/s from the north, recovered 7 m/s from the east: 8.1 m/s apart."""
    case = fly_case(CALM)
    x = jump_made(
        plan=case.plan, plan_wind=CALM, wind=uniform(7.0, 90.0, sd=0.5), flown=Pattern("other", None, None)
    )
    values: dict[str, Any] = {}
    code, words = part_words(x, "wind", Part("wind", 20.0, 0.0, 1.0, 1.0), values)
    assert code == "wind_misread"
    assert "The plan was made for" in words
    there = (
        "wind_there_mps",
        "wind_there_from_deg",
        "wind_planned_mps",
        "wind_planned_from_deg",
        "wind_difference_mps",
    )
    assert [values[key] for key in there] == pytest.approx([7.0, 90.0, 4.0, 0.0, 65.0**0.5])


@pytest.mark.parametrize(("flown_deg", "across", "side"), [(25.0, 30.0, "right"), (335.0, -30.0, "left")])
def test_the_side_to_which_a_final_was_flown(flown_deg: float, across: float, side: str) -> None:
    """Planned to the north, flown 25° beside it; the metres lie on the same side (_final_direction)."""
    case = fly_case(CALM)
    x = jump_made(flown=replace(case.flown, landing_deg=flown_deg), plan=case.plan, comparison=())
    values: dict[str, Any] = {"signed_across_m": across}
    code, words = part_words(x, "final leg", Part("direction", 0.0, across, 1.0, 1.0), values)
    assert code == "final_direction"
    assert f"to the {side} of" in words
    assert values["off_deg"] == pytest.approx(25.0)


@pytest.mark.parametrize("landing_deg", [0.0, 70.0, 315.0])
@pytest.mark.parametrize("leg", ["downwind", "base", "final"])
def test_metres_the_way_a_leg_was_flown_are_more_of_it(leg: LegName, landing_deg: float) -> None:
    """Twelve metres in the direction of a leg and five to its right, told along and across the landing: twelve along the leg (_along_leg)."""
    case = fly_case(uniform(4.0, landing_deg), landing_deg=landing_deg, hand="right")
    flown = case.flown.leg(leg)
    assert flown is not None
    east, north = rotate(5.0, 12.0, flown.track_deg)
    along, across = to_landing_frame(float(east), float(north), landing_deg)
    x = jump_made(flown=case.flown, landing=landing_at(0.0, 0.0, landing_deg))
    assert _along_leg(x, leg, Part("speed", along, across, 1.0, 1.0)) == pytest.approx(12.0)
    assert _along_leg(jump_made(flown=case.flown), leg, Part("speed", along, across, 1.0, 1.0)) == 0.0
