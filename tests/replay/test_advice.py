"""Advice: it would have worked, keeps the site's rules whatever the site, and stays silent inside the error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import FRAME, Case, fly_case, landing_at, sheared, uniform

from analyser.flight import Air, Start, fly
from analyser.plan import orders_of
from analyser.plan.areas import crossed
from analyser.replay import Advice
from analyser.replay.advice import advise
from analyser.replay.places import heading_before
from analyser.sentences import fill
from analyser.settings import KeepOut, Method, PatternSetup, Site
from analyser.units import DISPLAY_SYSTEMS


def advice_for(case: Case, site: Site | None = None, **options) -> tuple[Advice, ...]:
    return advise(
        case.flown,
        case.landing,
        case.trim,
        case.wind,
        site=site or Site(),
        method=Method(),
        frame=FRAME,
        **options,
    )


def followed(case: Case, advice: Advice) -> tuple[np.ndarray, list[tuple[float, float, float]]]:
    """The same pilot again with the change, through the forward model: where that ends, and its path."""
    orders = [
        o._replace(turn_agl_m=case.flown.gate(o.name).agl_m)
        for o in orders_of(PatternSetup(), case.flown.hand, 0.0)
    ]
    if advice.change_agl_m is not None:
        orders = [
            o._replace(turn_agl_m=o.turn_agl_m + advice.change_agl_m) if o.name == advice.gate else o
            for o in orders
        ]
    first = case.flown.gates[0]
    east = first.east_m + (advice.change_across_m or 0.0)
    north = first.north_m + (advice.change_along_m or 0.0)
    flight = fly(
        Air.still(case.trim, case.wind),
        Start(east, north, first.agl_m, heading_before(case.flown, first.name)),
        orders,
    )
    end = np.array([flight.landing.east_m[0], flight.landing.north_m[0]])
    return end, [(e, n, h) for _, e, n, h in flight.path()]


@pytest.mark.parametrize(
    "changes",
    [
        {"final_m": 30.0},
        {"final_m": -15.0},
        {"base_m": 25.0},
        {"base_m": -30.0},
        {"entry_error": (-40.0, 70.0)},
        {"assumed": uniform(2.0, 0.0)},
    ],
)
def test_following_the_first_advice_ends_near_the_target(changes) -> None:
    case = fly_case(uniform(4.0, 0.0), **changes)
    advice = advice_for(case, plan=case.plan)[0]
    assert advice.blocked_by is None
    end, _ = followed(case, advice)
    assert np.hypot(*end) < 0.35 * case.landing.offset_m
    assert advice.text.count("{") == 0


def test_a_turn_that_was_late_is_advised_higher() -> None:
    case = fly_case(uniform(3.0, 0.0), final_m=-25.0)
    advice = advice_for(case, plan=case.plan)[0]
    assert advice.gate == "final"
    assert advice.change_agl_m == pytest.approx(25.0, abs=3.0)


def test_a_miss_within_its_error_changes_nothing() -> None:
    case = fly_case(uniform(3.0, 0.0), final_m=4.0)
    near = replace(case, landing=landing_at(3.0, -3.0, 0.0, sd=2.5))
    advice = advice_for(near)
    assert len(advice) == 1
    assert advice[0].gate is None
    assert advice[0].change_agl_m is None
    assert "nothing to change" in advice[0].text


def test_a_miss_that_gusts_alone_make_changes_nothing() -> None:
    case = fly_case(uniform(3.0, 0.0), final_m=4.0)
    least = Method().advice_least.value
    for offset, says in ((0.95 * least, True), (1.5 * least, False)):
        advice = advice_for(replace(case, landing=landing_at(offset, 0.0, 0.0, sd=2.5)))
        assert (advice[0].gate is None and "gusts alone" in advice[0].text) is says


@pytest.mark.parametrize("minimum", [30.0, 61.0, 90.0])
def test_an_advice_for_base_leaves_the_last_turn_where_it_was_and_room_above_it(minimum) -> None:
    """Base may go below the plan's height, never near the last turn, which stays above the site's minimum or blocks the advice."""
    for base in (-40.0, -20.0, 20.0, 60.0):
        case = fly_case(uniform(4.0, 0.0), base_m=base)
        for advice in advice_for(case, plan=case.plan, site=Site(min_final_turn_m=minimum)):
            if advice.gate == "base" and advice.change_agl_m is not None:
                moved = case.flown.gate("base").agl_m + advice.change_agl_m
                assert moved >= case.flown.gate("final").agl_m + 30.0 - 1e-9
                assert case.flown.gate("final").agl_m >= minimum


def test_wind_near_the_airspeed_asks_to_stay_on_the_ground() -> None:
    case = fly_case(uniform(8.5, 0.0), uniform(4.0, 0.0))
    advice = advice_for(case)
    assert len(advice) == 1
    assert advice[0].gate is None
    assert "stay on the ground" in advice[0].text
    assert advice[0].blocked_by


def test_no_target_no_advice() -> None:
    case = fly_case(uniform(4.0, 0.0), final_m=20.0)
    assert advice_for(replace(case, landing=replace(case.landing, along_m=None))) == ()


def test_a_lower_last_turn_than_the_plan_is_never_offered() -> None:
    case = fly_case(uniform(2.0, 0.0), base_m=30.0)
    for advice in advice_for(case, plan=case.plan):
        assert not (advice.gate == "final" and (advice.change_agl_m or 0.0) < 0.0)


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


@settings(max_examples=50, deadline=None)
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
    for advice in advice_for(case, site):
        numbers = (advice.change_agl_m, advice.change_along_m, advice.change_across_m)
        if advice.blocked_by is not None or advice.gate is None:
            assert numbers == (None, None, None)
            continue
        _, path = followed(case, advice)
        flown_final = case.flown.gate("final").agl_m
        last = flown_final + (advice.change_agl_m or 0.0 if advice.gate == "final" else 0.0)
        assert last >= minimum - 1e-9
        assert not crossed(areas, FRAME, path)


def test_the_advice_is_the_same_in_a_mirrored_world() -> None:
    left = fly_case(uniform(4.0, 0.0), uniform(3.0, 0.0), final_m=20.0, hand="left")
    right = fly_case(uniform(4.0, 0.0), uniform(3.0, 0.0), final_m=20.0, hand="right")
    for a, b in zip(advice_for(left), advice_for(right), strict=True):
        assert (a.gate, a.change_agl_m) == (b.gate, b.change_agl_m)
        assert a.change_along_m == (
            None if b.change_along_m is None else pytest.approx(b.change_along_m, abs=1e-6)
        )
        assert a.change_across_m == (
            None if b.change_across_m is None else pytest.approx(-b.change_across_m, abs=1e-6)
        )


def test_advice_in_other_units() -> None:
    advice = advice_for(fly_case(uniform(3.0, 0.0), final_m=-25.0))[0]
    assert " ft" in fill(advice.template, advice.evidence, DISPLAY_SYSTEMS["us"])
