"""Advice: it takes a cause back, keeps the site's rules whatever the site, is no miss turned round, and stays silent inside the error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import FRAME, TRIM, Case, fly_case, landing_at, sheared, track_of, uniform

from analyser.plan import plan_pattern
from analyser.plan.areas import crossed
from analyser.plan.jump import Plan
from analyser.replay import Advice, budget
from analyser.replay.advised_steps import _mark
from analyser.replay.choose_advice import weigh
from analyser.replay.next_jump import Earlier, Habit, _height_in_other_winds, gains, other_winds, worth_it
from analyser.replay.sink import Brakes
from analyser.replay.thresholds import REPLAY
from analyser.sentences import fill
from analyser.settings import KeepOut, LandingDirection, PatternSetup, Settings, Site
from analyser.units import DISPLAY_SYSTEMS

CALM = uniform(4.0, 0.0, sd=0.2)


def advice_for(case: Case, site: Site | None = None, **options) -> tuple[Advice, ...]:
    track = track_of(case.flown.path, agl_sd_m=1.0, position_sd_m=2.0)
    winds_from = "track" if case.assumed is case.wind else "plan"
    errors = {"agl_sd_m": 1.0, "position_sd_m": 2.0, "draws": 40}
    rows = budget(case.plan, case.flown, case.landing, case.trim, case.wind, track=track, **errors)
    plan = Plan(case.plan, case.assumed, winds_from, case.trim)
    return weigh(
        options.pop("rows", rows),
        plan,
        case.flown,
        case.landing,
        case.trim,
        case.wind,
        settings=Settings(site=site or Site()),
        frame=FRAME,
        **options,
    ).advice


@pytest.mark.parametrize(
    ("changes", "kind", "gate", "change_m"),
    [
        ({"final_m": 30.0}, "turn height", "final", -30.0),
        ({"final_m": -21.3}, "turn height", "final", 21.3),
        ({"base_m": 25.0}, "turn height", "base", -25.0),
        ({"base_m": -31.0}, "turn height", "base", 31.0),
        ({"entry_error": (-40.0, 70.0)}, "turn place", "downwind", None),
        ({"assumed": uniform(1.0, 0.0)}, "plan the wind", None, None),
    ],
)
def test_the_first_advice_takes_back_the_planted_cause(changes, kind, gate, change_m) -> None:
    advice = advice_for(fly_case(CALM, **changes))[0]
    assert (advice.kind, advice.gate, advice.blocked_by) == (kind, gate, None)
    assert advice.text.count("{") == 0
    assert advice.gain_m > advice.gain_sd_m
    if change_m is not None:
        assert advice.change_agl_m == pytest.approx(change_m, abs=0.05)
    if kind == "turn place":
        assert advice.distance_m == pytest.approx(80.0)
        assert advice.bearing_deg == pytest.approx(np.degrees(np.arctan2(40.0, -70.0)) % 360.0, abs=4.0)
        north = FRAME.to_local(advice.lat, advice.lon)[1]
        assert north == pytest.approx(fly_case(CALM).plan.gates[0].north_m, abs=0.1)


@pytest.mark.parametrize(
    ("there", "mark"),
    [
        (None, (10.0, 20.0)),
        ((10.0, 75.0), (10.0, 20.0)),  # 60 m to the south ends 5 m from the planned place
        ((200.0, 75.0), (200.0, 15.0)),  # 190 m east of it: the mark is where the way ends
    ],
)
def test_the_mark_lies_where_the_advised_way_ends(
    there: tuple[float, float] | None, mark: tuple[float, float]
) -> None:
    assert _mark((10.0, 20.0), there, 180.0, 60.0) == pytest.approx(mark, abs=1e-9)


def test_a_cause_beside_chance_is_advised_not_the_miss_turned_round() -> None:
    """A late last turn and 60 m of misread wind: neither advice undoes the whole miss."""
    case = fly_case(uniform(4.0, 0.0, sd=0.2), uniform(3.0, 0.0), final_m=-25.0)
    found = advice_for(case)
    assert {a.kind for a in found} == {"turn height", "plan the wind"}
    assert all(a.change_along_m is None for a in found)


def test_the_other_side_where_its_entry_is_nearer_and_the_site_allows() -> None:
    """The left-hand entry lies west of a landing to the north; begun 300 m farther east the right-hand one is near."""
    plan = fly_case(CALM).plan
    width = fly_case(CALM, hand="right").plan.gates[0].east_m - plan.gates[0].east_m
    case = fly_case(CALM, entry_error=(0.9 * width, 0.0))
    advice = advice_for(case)[0]
    assert advice.kind == "other side"
    assert "right-hand turns" in advice.text
    assert advice.evidence["left_m"] == pytest.approx(0.1 * abs(width), abs=REPLAY.place_step_m)
    ruled = Site(directions=(LandingDirection(0.0, "left"),))
    assert advice_for(case, ruled)[0].kind == "turn place"


def test_brakes_on_final() -> None:
    case = replace(fly_case(CALM, entry_error=(0.0, 60.0)), landing=landing_at(0.0, -60.0, 0.0))
    plain = {r.cause: r for r in advice_rows(case)}
    speed = replace(plain["entry"].parts[0], part="speed")
    rows = (replace(plain["final leg"], along_m=-60.0, parts=(replace(speed, along_m=-60.0, across_m=0.0),)),)
    assert advice_for(case, rows=rows, brakes=Brakes(-60.0, 8.0, 0.7, 0.04, 6.0))[0].kind == "brakes"
    assert advice_for(case, rows=rows, brakes=Brakes(-60.0, 8.0, 1.0, 0.04, 0.0))[0].kind == "nothing"


def advice_rows(case: Case):
    track = track_of(case.flown.path, agl_sd_m=1.0, position_sd_m=2.0)
    return budget(case.plan, case.flown, case.landing, case.trim, case.wind, track=track, draws=20)


def test_what_earlier_jumps_do_not_show_is_chance() -> None:
    case = fly_case(CALM, entry_error=(-40.0, 50.0))
    first = advice_for(case)[0]
    never = Earlier(12, {("entry", "place"): [(0.0, 2.0), (-3.0, 1.0), (2.0, -2.0), (1.0, 1.0)] * 3})
    always = Earlier(2, {("entry", "place"): [(50.0, -40.0), (45.0, -35.0)]})
    assert advice_for(case, earlier=never)[0].kind == "nothing"
    assert (
        "The 12 earlier jumps in the logbook do not show this: it was chance."
        in advice_for(case, earlier=never)[0].text
    )
    again = advice_for(case, earlier=always)[0]
    assert again.kind == "turn place"
    assert again.gain_m >= first.gain_m
    assert again.habit_share > first.habit_share > 0.5


def test_a_clear_habit_is_advised_although_another_part_may_be_one_too() -> None:
    """What the other part may be widens the gain to the good side; that is no doubt about the change."""
    clear = Habit("entry", "place", (42.0, 58.0), (11.7, 3.0))
    doubtful = Habit("downwind leg", "direction", (-1.5, -31.3), (1.0, 8.1))
    found = worth_it([clear, doubtful])
    assert list(found) == [0]
    assert gains([clear, doubtful])[0].sd > gains([clear])[0].sd
    assert found[0].surely > 0.84


def test_of_two_clear_habits_that_take_each_other_back_neither_is_advised() -> None:
    """With one of them gone the landing would be as far off on the other side."""
    one, other = ((s * 60.0, 0.0) for s in (1.0, -1.0))
    pair = [Habit("entry", "place", one, (5.0, 5.0)), Habit("wind", "wind", other, (5.0, 5.0))]
    assert worth_it(pair) == {}
    assert list(worth_it(pair[:1])) == [0]


def test_a_miss_within_its_error_changes_nothing() -> None:
    case = fly_case(CALM, final_m=4.0)
    advice = advice_for(replace(case, landing=landing_at(3.0, -3.0, 0.0, sd=2.5)))
    assert len(advice) == 1
    assert (advice[0].gate, advice[0].kind, advice[0].change_agl_m) == (None, "nothing", None)
    assert "nothing to change" in advice[0].text


def test_a_miss_that_gusts_alone_make_changes_nothing() -> None:
    case = fly_case(CALM, final_m=4.0)
    least = Settings().method.advice_least.value
    assert "gusts alone" in advice_for(replace(case, landing=landing_at(0.95 * least, 0.0, 0.0)))[0].text


def test_wind_near_the_airspeed_asks_to_stay_on_the_ground() -> None:
    advice = advice_for(fly_case(uniform(8.5, 0.0), uniform(4.0, 0.0)))
    assert len(advice) == 1
    assert advice[0].gate is None
    assert "stay on the ground" in advice[0].text
    assert advice[0].blocked_by


def test_no_target_no_advice() -> None:
    case = fly_case(CALM, final_m=20.0)
    assert advice_for(replace(case, landing=replace(case.landing, along_m=None))) == ()


squares = st.builds(
    lambda e, n, half, below: KeepOut(
        f"area {e:.0f} {n:.0f}",
        below,
        tuple(
            (float(lat), float(lon))
            for lat, lon in zip(
                *FRAME.to_geodetic(
                    np.array([e - half, e + half, e + half, e - half]),
                    np.array([n - half, n - half, n + half, n + half]),
                ),
                strict=True,
            )
        ),
    ),
    st.floats(-400.0, 400.0),
    st.floats(-400.0, 400.0),
    st.floats(15.0, 120.0),
    st.floats(30.0, 400.0),
)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    areas=st.lists(squares, min_size=1, max_size=4),
    minimum=st.floats(30.0, 150.0),
    final=st.floats(-50.0, 60.0),
    base=st.floats(-40.0, 40.0),
    entry=st.tuples(st.floats(-150.0, 150.0), st.floats(-150.0, 150.0)),
    speed=st.floats(0.0, 7.0),
    hand=st.sampled_from(["left", "right"]),
)
def test_never_below_the_minimum_nor_over_a_keep_out(areas, minimum, final, base, entry, speed, hand) -> None:
    case = fly_case(
        sheared(speed, speed + 1.0, 10.0),
        uniform(speed, 0.0),
        final_m=final,
        base_m=base,
        entry_error=entry,
        hand=hand,
    )
    site = Site(min_final_turn_m=minimum, keep_outs=tuple(areas))
    over = crossed(areas, FRAME, [(e, n, h) for _, e, n, h in case.plan.path])
    for advice in advice_for(case, site):
        numbers = (advice.change_agl_m, advice.change_along_m, advice.change_across_m, advice.lat)
        if advice.blocked_by is not None or advice.kind == "nothing":
            assert numbers == (None, None, None, None)
            continue
        assert not over
        if advice.gate == "final" and advice.kind == "turn height":
            assert case.plan.gate("final").agl_m >= minimum - 0.5


def test_the_advice_is_the_same_in_a_mirrored_world() -> None:
    left = fly_case(CALM, uniform(3.0, 0.0), final_m=20.0, hand="left")
    right = fly_case(CALM, uniform(3.0, 0.0), final_m=20.0, hand="right")
    for a, b in zip(advice_for(left), advice_for(right), strict=True):
        assert (a.kind, a.gate, a.change_agl_m) == (b.kind, b.gate, b.change_agl_m)


def test_advice_in_other_units() -> None:
    advice = advice_for(fly_case(CALM, final_m=-25.0))[0]
    assert "300 ft: 80 ft higher" in fill(advice.template, advice.evidence, DISPLAY_SYSTEMS["us"])


def test_no_change_of_a_height_brings_nothing_in_any_wind() -> None:
    plan, wind = (
        plan_pattern(PatternSetup(), TRIM, uniform(5.0, 40.0), hand="left", landing_deg=40.0),
        uniform(5.0, 40.0),
    )
    assert _height_in_other_winds(plan, TRIM, wind, "final", 0.0) == pytest.approx(0.0, abs=1e-9)
    moved = _height_in_other_winds(plan, TRIM, wind, "final", 10.0)
    assert np.all(np.hypot(*moved.T) < 60.0)
    assert np.ptp(moved, axis=0).max() > 1.0


@pytest.mark.parametrize("growth", [0.5, 2.0])
def test_what_grows_in_other_winds_gains_as_much_more(growth: float) -> None:
    winds = len(other_winds())
    grown = Habit("entry", "place", (80.0, 0.0), (0.5, 0.5), (growth,) * winds, meant=True)
    as_large = Habit("entry", "place", (80.0 * growth, 0.0), (0.5, 0.5), meant=True)
    assert gains([grown])[0].metres == pytest.approx(gains([as_large])[0].metres, rel=0.15)


def test_the_height_advised_and_the_height_flown_are_one_number() -> None:
    """95 ft lower in the cause is 95 ft higher in the advice: both are rounded by the error of the turn, not to a step."""
    case = fly_case(CALM, final_m=-29.03)
    begun = [replace(gate, agl_sd_m=3.1) for gate in case.flown.gates]
    advice = advice_for(replace(case, flown=replace(case.flown, gates=tuple(begun))))[0]
    text = fill(advice.template, advice.evidence, DISPLAY_SYSTEMS["uk"])
    assert text == "Begin the turn onto final at 300 ft: 95 ft higher than this time."
