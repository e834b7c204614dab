"""The planned pattern: it ends on the target, square where the wind allows, symmetric, and says what it can not do."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import TRIM, sheared, turned_gate, uniform

from analyser.angles import signed_difference_deg
from analyser.flight import Air, Start, Trim, fly
from analyser.pattern import to_landing_frame
from analyser.plan import choose_hand, choose_landing_deg, orders_of, plan_pattern, tracks_of
from analyser.plan.draw import _heading_deg
from analyser.plan.report import turned
from analyser.settings import PRESETS, LandingDirection, PatternSetup, Settings, Site

FOUR = PatternSetup(crosswind_m=366.0)
winds = st.builds(
    sheared, st.floats(0.0, 7.0), st.floats(0.0, 9.0), st.floats(0.0, 360.0), st.floats(-40.0, 40.0)
)
hands = st.sampled_from(["left", "right"])


@settings(max_examples=30, deadline=None)
@given(wind=winds, landing=st.floats(0.0, 359.9), hand=hands, setup=st.sampled_from([PatternSetup(), FOUR]))
def test_the_plan_flown_from_its_entry_ends_on_the_target(
    wind, landing: float, hand, setup: PatternSetup
) -> None:
    plan = plan_pattern(setup, TRIM, wind, hand=hand, landing_deg=landing)
    first = plan.gates[0]
    orders = orders_of(setup, hand, landing)
    end = fly(Air.still(TRIM, wind), Start(first.east_m, first.north_m, first.agl_m), orders).landing
    assert (float(end.east_m[0]), float(end.north_m[0])) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert [g.agl_m for g in plan.gates] == pytest.approx(list(setup.heights_m.values()))
    assert plan.path[-1][1:] == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(wind=winds, landing=st.floats(0.0, 359.9), hand=hands)
def test_tracks_are_square_to_the_final(wind, landing: float, hand) -> None:
    plan = plan_pattern(FOUR, TRIM, wind, hand=hand, landing_deg=landing)
    if plan.reason:
        return
    for leg in plan.legs:
        if leg.length_m > 20.0:
            assert abs(signed_difference_deg(leg.track_deg, tracks_of(hand, landing)[leg.name])) < 1.0


@settings(max_examples=20, deadline=None)
@given(wind=winds, turn=st.floats(1.0, 359.0), landing=st.floats(0.0, 359.9), hand=hands)
def test_turning_the_world_turns_the_plan(wind, turn: float, landing: float, hand) -> None:
    here = plan_pattern(FOUR, TRIM, wind, hand=hand, landing_deg=landing)
    there = plan_pattern(FOUR, TRIM, turned(wind, turn), hand=hand, landing_deg=landing + turn)
    for a, b in zip(here.gates, there.gates, strict=True):
        expected = turned_gate(a, turn)
        assert (b.east_m, b.north_m) == pytest.approx((expected.east_m, expected.north_m), abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(
    low=st.floats(0.0, 7.0),
    high=st.floats(0.0, 9.0),
    from_deg=st.floats(0.0, 360.0),
    landing=st.floats(0.0, 359.9),
)
def test_mirroring_the_world_mirrors_the_plan(
    low: float, high: float, from_deg: float, landing: float
) -> None:
    left = plan_pattern(FOUR, TRIM, sheared(low, high, from_deg, 20.0), hand="left", landing_deg=landing)
    right = plan_pattern(FOUR, TRIM, sheared(low, high, -from_deg, -20.0), hand="right", landing_deg=-landing)
    for a, b in zip(left.gates, right.gates, strict=True):
        assert (b.east_m, b.north_m) == pytest.approx((-a.east_m, a.north_m), abs=1e-6)


def test_the_windier_the_nearer_and_the_shorter() -> None:
    """Common practice, no source: the windier, the nearer to the target lie base turn and entry, and the shorter is final."""
    finals, bases, entries = [], [], []
    for speed in (0.0, 2.0, 4.0, 6.0, 8.0):
        plan = plan_pattern(PatternSetup(), TRIM, uniform(speed, 0.0), hand="left", landing_deg=0.0)
        final = plan.leg("final")
        assert final is not None
        finals.append(final.length_m)
        along = {g.name: to_landing_frame(g.east_m, g.north_m, 0.0)[0] for g in plan.gates}
        bases.append(-along["base"])
        entries.append(plan.gates[0])
    assert finals == sorted(finals, reverse=True)
    assert bases == sorted(bases, reverse=True)
    across = [abs(g.east_m) for g in entries]
    assert across == sorted(across, reverse=True), "the pattern gets narrower"


def test_in_nil_wind_the_crosswind_leg_crosses_the_line_of_final_over_the_target() -> None:
    """Common practice, no source: with legs of one length each the box closes over the target when there is no wind.

    Equal heights for downwind and final (300 ft each way) and twice the base for the crosswind leg: the entry lies as far on the
    other side of the line, so that the leg passes over the target.
    """
    heights = PatternSetup(crosswind_m=400.0, downwind_m=280.0, base_m=160.0, final_m=100.0)
    plan = plan_pattern(
        heights, Trim(10.0, 4.0), uniform(0.0, 0.0), hand="left", landing_deg=0.0, instant_turns=True
    )
    entry, downwind = plan.gates[0], plan.gates[1]
    assert entry.east_m > 0.0 > downwind.east_m
    assert np.interp(
        0.0, [downwind.east_m, entry.east_m], [downwind.north_m, entry.north_m]
    ) == pytest.approx(50.0, abs=1e-6)
    square = PatternSetup(crosswind_m=400.0, downwind_m=280.0, base_m=180.0, final_m=100.0)
    plan = plan_pattern(
        square, Trim(10.0, 4.0), uniform(0.0, 0.0), hand="left", landing_deg=0.0, instant_turns=True
    )
    assert plan.gates[0].north_m == pytest.approx(0.0, abs=1e-6)
    assert plan.gates[1].north_m == pytest.approx(0.0, abs=1e-6)


def test_wind_too_strong_is_said() -> None:
    plan = plan_pattern(PatternSetup(), Trim(8.0, 4.0), uniform(9.5, 0.0), hand="left", landing_deg=0.0)
    assert "too strong to hold" in plan.reason
    assert "base" in plan.reason
    assert not plan_pattern(
        PatternSetup(), Trim(8.0, 4.0), uniform(7.0, 0.0), hand="left", landing_deg=0.0
    ).reason


def test_gates_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="fall from gate to gate"):
        plan_pattern(PatternSetup(base_m=80.0), TRIM, uniform(0.0, 0.0), hand="left", landing_deg=0.0)


def test_presets_can_be_drawn() -> None:
    for name, (setup, source) in PRESETS.items():
        assert source
        plan = plan_pattern(setup, TRIM, uniform(4.0, 90.0), hand="right", landing_deg=90.0)
        assert plan.gates[-1].agl_m == pytest.approx(setup.final_m, abs=1e-9), name


@pytest.mark.parametrize(
    ("given_deg", "directions", "wind", "expected"),
    [
        (123.0, (), (5.0, 30.0), 123.0),
        (None, (), (5.0, 235.0), 235.0),
        (None, (60.0, 240.0), (5.0, 235.0), 240.0),
        (None, (60.0, 240.0), (5.0, 95.0), 60.0),
        (None, (60.0, 240.0), (0.5, 235.0), 60.0),
        (None, (), (0.0, 0.0), None),
    ],
)
def test_landing_direction(given_deg, directions, wind, expected) -> None:
    site = Site(directions=tuple(LandingDirection(d) for d in directions))
    chosen = choose_landing_deg(
        Settings(site=site, pattern=PatternSetup(landing_deg=given_deg)), uniform(*wind)
    )
    assert chosen == (None if expected is None else pytest.approx(expected))


def test_hand_of_the_pattern() -> None:
    site = Site(directions=(LandingDirection(60.0, "right"), LandingDirection(240.0, "left")))
    assert choose_hand(Settings(site=site), 60.0, "left") == "right"
    assert choose_hand(Settings(site=site, pattern=PatternSetup(hand="right")), 235.0) == "left"
    assert choose_hand(Settings(pattern=PatternSetup(hand="right")), 10.0, "left") == "right"
    assert choose_hand(Settings(), 10.0, "right") == "right"
    assert choose_hand(Settings(), 10.0) == "left"


def test_crab_leans_into_the_wind() -> None:
    """A left-hand base with a headwind on final crabs to the left, toward the landing direction."""
    plan = plan_pattern(
        PatternSetup(), Trim(10.0, 4.0, standard_air=False), uniform(5.0, 0.0), hand="left", landing_deg=0.0
    )
    base = plan.leg("base")
    assert base is not None
    assert base.crab_deg == pytest.approx(-30.0, abs=0.01)
    assert base.ground_speed_mps == pytest.approx(10.0 * math.cos(math.radians(30.0)), abs=0.01)


@pytest.mark.parametrize("final_m", [0.0, -10.0])
def test_a_final_that_begins_on_the_ground_is_no_pattern(final_m: float) -> None:
    with pytest.raises(ValueError, match="height"):
        plan_pattern(PatternSetup(final_m=final_m), TRIM, uniform(3.0, 0.0), hand="left", landing_deg=0.0)


@pytest.mark.parametrize(
    ("first", "last", "middle"),
    [
        (100.0, 140.0, 120.0),
        (140.0, 100.0, 120.0),
        (350.0, 30.0, 10.0),
        (30.0, 350.0, 10.0),
        (355.0, 345.0, 350.0),
    ],
)
def test_the_heading_of_a_leg_is_halfway_between_its_ends(first: float, last: float, middle: float) -> None:
    """The short way round, whichever end lies further right (_heading_deg)."""
    leg: Any = SimpleNamespace(
        turned=SimpleNamespace(heading_deg=np.array([first])),
        end=SimpleNamespace(heading_deg=np.array([last])),
    )
    assert _heading_deg(leg) == pytest.approx(middle)
