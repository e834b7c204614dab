"""What is said about a leg: length from turn to turn, then drift; the entry as a place at a height; the height of a turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from jump_made import jump_made
from pattern_cases import Case, fly_case, landing_at, track_of, uniform

from analyser.angles import rotate
from analyser.compare import compare
from analyser.findings.legs import entry_words, leg_words
from analyser.findings.parts import _along_leg, part_words
from analyser.jump import Debrief
from analyser.pattern import LegName, Pattern, to_landing_frame
from analyser.plan.jump import Plan
from analyser.replay.entry import with_entry
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


def joined(
    entry: tuple[float, float] = (0.0, 0.0),
    *,
    turned_agl_m: float | None = None,
    setup: PatternSetup | None = None,
) -> Debrief:
    """The plan flown ``entry`` (east, north) beside its place, with the first leg straight from its beginning on.

    ``turned_agl_m``: the turn onto the first leg began at this height, and the leg is straight from 6 s later on.
    """
    case = fly_case(CALM, entry_error=entry, setup=setup)
    flown, first = case.flown, case.flown.gates[0]
    if turned_agl_m is not None:
        t, east, north, agl = np.array(flown.path).T
        at_s, e, n = (float(np.interp(-turned_agl_m, -agl, v)) for v in (t, east, north))
        turned = replace(first, agl_m=turned_agl_m, t_s=at_s, east_m=e, north_m=n, agl_sd_m=3.0)
        leg = replace(flown.legs[0], start_s=at_s + 6.0)
        flown = replace(flown, gates=(turned, *flown.gates[1:]), legs=(leg, *flown.legs[1:]))
    return entered_as(case, flown, flown.path)


def entered_as(
    case: Case, flown: Pattern, path: Sequence[tuple[float, float, float, float]], **errors: float
) -> Debrief:
    """A jump of that case with its gates compared as a debrief does."""
    track = track_of(path, step_s=0.2, **errors)
    drawn = Plan(case.plan, CALM, "plan", case.trim)
    rows = with_entry(compare(flown, case.plan), drawn, flown, track, case.trim, CALM)
    return jump_made(
        Settings(), flown=flown, plan=case.plan, track=track, comparison=rows, landing=case.landing
    )


def test_the_entry_of_a_three_leg_plan_is_a_place_at_a_height() -> None:
    """Joined from 80 m higher up: read where the flight came through the height of the entry."""
    case = fly_case(CALM, entry_error=(0.0, 70.0))
    first = case.flown.path[0]
    above = [(first[0] - 20.0, first[1], first[2] + 280.0, first[3] + 80.0), *case.flown.path]
    path = [(t + 20.0, e, n, h) for t, e, n, h in above]
    shift = lambda leg, s: replace(leg, start_s=s, end_s=leg.end_s + 20.0)  # noqa: E731
    legs = tuple(shift(leg, 1.0 if leg.name == "downwind" else leg.start_s + 20.0) for leg in case.flown.legs)
    values: dict = {}
    code, text = entry_words(entered_as(case, replace(case.flown, legs=legs), path), "entry", values)
    assert code == "entry_place"
    assert values["off_m"] == pytest.approx(70.0, abs=6.0)
    assert fill(text, values).startswith("At 305 m the flight was")
    assert fill(text, values).endswith("from the entry of the usual 1000-600-300 ft pattern.")


@pytest.mark.parametrize("setup", [None, PatternSetup(crosswind_m=366.0)])
def test_an_entry_is_measured_at_the_height_that_is_said(setup: PatternSetup | None) -> None:
    """Fifty metres beside the plan all the way, on the leg only 40 m below its entry: 50 m, said at that height, not at the planned one."""
    x = joined(
        (30.0, 40.0),
        turned_agl_m=(setup or PatternSetup()).heights_m["crosswind" if setup else "downwind"] - 15.0,
        setup=setup,
    )
    values: dict = {"signed_along_m": 40.0, "signed_across_m": 30.0}
    code, text = entry_words(x, "entry", values)
    gate = x.planned.gates[0]
    assert code == "entry_place"
    assert values["off_m"] == pytest.approx(50.0, abs=1.0)
    assert 30.0 < gate.agl_m - values["entry_agl_m"] < 60.0
    said = fill(text, values)
    assert said.startswith(
        f"At {values['entry_agl_m']:.0f} m, once on the {gate.name} leg, the flight was 50"
    )
    assert said.endswith("at that height.")


def test_who_joins_the_planned_leg_lower_down_is_at_its_place() -> None:
    """The place where the turn began lies 100 m down the leg; the flight is nowhere but where the plan has it at each height."""
    x = joined(turned_agl_m=276.0)
    turn, gate = x.flown.gate("downwind"), x.planned.gates[0]
    assert np.hypot(turn.east_m - gate.east_m, turn.north_m - gate.north_m) > 90.0
    row = x.comparison[0]
    assert np.hypot(row.along_m, row.across_m) < 1.0
    assert row.agl_m == pytest.approx(276.0 - gate.agl_m)


@pytest.mark.parametrize(
    ("turned", "said"), [(285.0, "elsewhere and 19.8 ± 3.0 m lower than in"), (304.0, "elsewhere than in")]
)
def test_no_distance_is_said_that_points_away_from_the_metres(turned: float, said: str) -> None:
    """The flight was 60 m far of the plan; the part is short. The height is told where it stands out."""
    x = joined((0.0, 60.0), turned_agl_m=turned)
    values: dict = {"signed_along_m": -30.0, "signed_across_m": 20.0}
    code, text = entry_words(x, "entry", values)
    assert code == "entry_place"
    assert said in fill(text, values)
    assert "the flight was" not in fill(text, values)
    with_it: dict = {"signed_along_m": 30.0, "signed_across_m": 20.0}
    assert "the flight was 60" in fill(entry_words(x, "entry", with_it)[1], with_it)


def test_a_distance_within_its_error_is_not_said() -> None:
    """60 m far of the plan: told where its error is 20 m, not where it is 40 m."""
    x = joined((0.0, 60.0), turned_agl_m=304.0)
    said: dict = {"signed_along_m": 30.0, "signed_across_m": 20.0}
    for sd, told in ((20.0, True), (40.0, False)):
        rows = (replace(x.comparison[0], lateral_sd_m=sd), *x.comparison[1:])
        text = entry_words(replace(x, comparison=rows), "entry", dict(said))[1]
        assert ("the flight was" in text) is told


def test_the_metres_of_a_cause_are_turned_into_the_planned_direction() -> None:
    """Landed on 180°, planned on 0°: long of the landing is short of the plan."""
    x = joined((0.0, 60.0), turned_agl_m=304.0)
    back = replace(x, landing=replace(x.landing, landing_deg=180.0))
    far: dict = {"signed_along_m": 30.0, "signed_across_m": 0.0}
    assert "elsewhere" in entry_words(back, "entry", dict(far))[1]
    assert "elsewhere" not in entry_words(x, "entry", dict(far))[1]


def test_the_error_of_the_height_is_one_of_the_place() -> None:
    """Downwind at 14 m/s, sinking 4: known to 4 m of height, the place along the leg is known to 14 m."""
    case = fly_case(CALM)
    x = entered_as(case, case.flown, case.flown.path, agl_sd_m=4.0, position_sd_m=3.0)
    assert x.comparison[0].lateral_sd_m == pytest.approx(np.hypot(14.0, 3.0), rel=0.1)
    sharp = entered_as(case, case.flown, case.flown.path, agl_sd_m=0.0, position_sd_m=3.0)
    assert sharp.comparison[0].lateral_sd_m == pytest.approx(np.hypot(3.5, 3.2), rel=0.1)


def test_a_first_leg_flown_only_below_its_end_has_no_distance() -> None:
    x = joined((30.0, 0.0), turned_agl_m=190.0)
    assert x.comparison[0].along_m is None
    code, text = entry_words(x, "entry", {})
    assert code == "entry_place"
    assert "lower than in" in text


def test_the_height_of_an_entry_is_no_height_of_a_turn() -> None:
    """A plan that begins with downwind is met on its track; the same gate after a crosswind leg is a turn."""
    part = Part("height", 60.0, 0.0, 5.0, 5.0)
    for setup, begins in (
        (None, "The pattern was entered at"),
        (PatternSetup(crosswind_m=366.0), "The turn onto downwind began at"),
    ):
        values: dict = {}
        code, text = part_words(inputs(setup=setup, downwind=(0.0, 0.0, -25.0)), "entry", part, values)
        assert code == "downwind_turn_low"
        assert values["change_agl_m"] == pytest.approx(25.0)
        assert text.startswith(begins)


def test_a_crosswind_leg_that_was_not_flown_leaves_the_turn_onto_downwind() -> None:
    x = inputs(setup=PatternSetup(crosswind_m=366.0), downwind=(30.0, 40.0, 0.0))
    flown = replace(x.flown, gates=x.flown.gates[1:], legs=x.flown.legs[1:])
    values: dict = {}
    code, text = entry_words(replace(x, flown=flown, comparison=compare(flown, x.planned)), "entry", values)
    assert code == "entry_place"
    assert fill(text, values).startswith("The turn onto downwind began 50.0 ± 3.0 m from its place in")


def test_a_turn_begun_at_the_entry_of_a_plan_already_on_its_track_is_named_so() -> None:
    """Begun 10 m from the entry at its height; the leg was reached 40 m lower."""
    x = joined(turned_agl_m=290.0)
    first = x.planned.gates[0]
    turned = replace(
        x.flown.gates[0], agl_m=first.agl_m, east_m=first.east_m + 8.0, north_m=first.north_m + 6.0
    )
    at = replace(x, flown=replace(x.flown, gates=(turned, *x.flown.gates[1:])))
    values: dict = {}
    code, text = entry_words(at, "entry", values)
    assert code == "entry_turn"
    assert "it is the turn that cost" in fill(text, values)
    assert entry_words(joined((60.0, 30.0), turned_agl_m=290.0), "entry", {})[0] == "entry_place"


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


@pytest.mark.parametrize(
    ("amount", "across", "said"),
    [
        (3.2, 12.0, "the nose pointed right of the heading that holds the planned track, on average"),
        (-3.2, -12.0, "the nose pointed left of the heading that holds the planned track, on average"),
        (-6.9, -22.0, "{off_deg:angle} too far left to hold the planned track"),
        (1.9, 12.0, "did not point where the planned track asked"),
        (3.2, -12.0, "did not point where the planned track asked"),
        (None, 12.0, "did not point where the planned track asked"),
    ],
)
def test_the_nose_on_final_is_told_with_degrees_and_side_where_both_are_known(
    amount: float | None, across: float, said: str
) -> None:
    """Known to 2.2°: told from twice that on; from once that on the side alone, where the metres lie on it."""
    values: dict[str, Any] = {}
    part = Part("direction", 0.0, across, 1.0, 1.0, amount, None if amount is None else 2.2)
    code, words = part_words(jump_made(), "final leg", part, values)
    assert code == "final_direction"
    assert said in words
    assert values == ({} if "deg" not in said else {"off_deg": abs(amount or 0.0), "off_sd_deg": 2.2})


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
