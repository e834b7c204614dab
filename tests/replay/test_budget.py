"""The budget of the miss: it adds up, blames the right cause, turns and mirrors with the world; the plan in the wind that was there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import TRIM, Case, fly_case, landing_at, sheared, turned_gate, uniform

from analyser.flight import Air, Start, Trim, fly
from analyser.pattern import Pattern
from analyser.plan import orders_from, plan_pattern
from analyser.plan.report import turned
from analyser.replay import CAUSES, BudgetRow, budget, would_the_plan_have_worked
from analyser.settings import PatternSetup


def rows_of(case: Case, **options) -> dict[str, BudgetRow]:
    return {r.cause: r for r in budget(case.plan, case.flown, case.landing, case.trim, case.wind, **options)}


def size(row: BudgetRow) -> float:
    return float(np.hypot(row.along_m, row.across_m))


@settings(max_examples=40, deadline=None)
@given(
    low=st.floats(0.0, 8.0),
    high=st.floats(0.0, 10.0),
    from_deg=st.floats(0.0, 360.0),
    east=st.floats(-300.0, 300.0),
    north=st.floats(-300.0, 300.0),
    final=st.floats(-60.0, 60.0),
    landing=st.floats(0.0, 359.0),
    hand=st.sampled_from(["left", "right"]),
    source=st.sampled_from(["plan", "track"]),
)
def test_the_rows_add_up_to_the_miss(low, high, from_deg, east, north, final, landing, hand, source) -> None:
    case = fly_case(
        sheared(low, high, from_deg, sd=0.5),
        uniform(4.0, landing),
        landing_deg=landing,
        hand=hand,
        final_m=final,
        entry_error=(east, north),
    )
    elsewhere = landing_at(case.landing.east_m + 13.0, case.landing.north_m - 7.0, landing + 9.0)
    rows = budget(case.plan, case.flown, elsewhere, case.trim, case.wind, winds_from=source, draws=10)
    assert tuple(r.cause for r in rows) == CAUSES
    assert sum(r.along_m for r in rows) == pytest.approx(elsewhere.along_m, abs=1e-6)
    assert sum(r.across_m for r in rows) == pytest.approx(elsewhere.across_m, abs=1e-6)
    for row in rows:
        if not row.reason:
            assert sum(p.along_m for p in row.parts) == pytest.approx(row.along_m, abs=1e-6)
            assert sum(p.across_m for p in row.parts) == pytest.approx(row.across_m, abs=1e-6)


@pytest.mark.parametrize(
    ("changes", "cause", "metres"),
    [
        ({"entry_error": (-60.0, 50.0)}, "entry", 78.1),
        ({"final_m": -18.3}, "base leg", None),
        ({"base_m": -25.0}, "downwind leg", None),
        ({"final_trim": Trim(7.0, 2.6)}, "final leg", None),
    ],
)
def test_a_single_error_falls_on_its_cause(changes, cause, metres) -> None:
    case = fly_case(uniform(4.0, 0.0, sd=0.3), **changes)
    rows = rows_of(case)
    assert size(rows[cause]) > 15.0
    others = sum(size(r) for name, r in rows.items() if name != cause)
    assert others < 0.1 * size(rows[cause])
    if metres is not None:
        assert size(rows[cause]) == pytest.approx(metres, abs=0.2)


def test_a_misread_wind_falls_on_the_wind() -> None:
    case = fly_case(uniform(6.0, 20.0, sd=0.3), uniform(3.0, 0.0))
    rows = rows_of(case)
    assert size(rows["wind"]) > 60.0
    assert sum(size(r) for name, r in rows.items() if name != "wind") < 2.0


def test_a_plan_drawn_for_the_recovered_wind_blames_no_wind() -> None:
    case = fly_case(uniform(6.0, 0.0, sd=0.3), entry_error=(0.0, 40.0))
    rows = rows_of(case, winds_from="track")
    assert rows["wind"] == BudgetRow("wind", 0.0, 0.0, 0.0, 0.0, "the plan was drawn for the recovered wind")
    assert rows["entry"].along_m == pytest.approx(40.0, abs=0.1)


def test_missing_gates_hand_their_part_to_the_next() -> None:
    case = fly_case(uniform(4.0, 0.0), entry_error=(0.0, 50.0))
    final_only = replace(
        case.flown,
        gates=tuple(g for g in case.flown.gates if g.name == "final"),
        legs=tuple(leg for leg in case.flown.legs if leg.name == "final"),
    )
    rows = rows_of(replace(case, flown=final_only))
    for cause in ("entry", "downwind leg"):
        assert size(rows[cause]) == 0.0
        assert "stands in the next row" in rows[cause].reason
    assert rows["base leg"].along_m == pytest.approx(50.0, abs=1.0)
    nothing = rows_of(replace(case, flown=Pattern("other", None, None)))
    assert nothing["final leg"].along_m == pytest.approx(50.0, abs=1.0)


def test_without_target_or_axis_there_is_no_budget() -> None:
    case = fly_case(uniform(4.0, 0.0))
    for landing in (replace(case.landing, along_m=None), replace(case.landing, landing_deg=None)):
        assert budget(case.plan, case.flown, landing, case.trim, case.wind) == ()


@settings(max_examples=15, deadline=None)
@given(turn=st.floats(1.0, 359.0), from_deg=st.floats(0.0, 360.0), final=st.floats(-40.0, 40.0))
def test_turning_the_world_leaves_the_budget(turn: float, from_deg: float, final: float) -> None:
    case = fly_case(sheared(3.0, 7.0, from_deg), uniform(4.0, 0.0), final_m=final)
    here = rows_of(case, draws=2)

    def world(p: Pattern) -> Pattern:
        legs = tuple(
            replace(leg, heading_deg=leg.heading_deg + turn, track_deg=leg.track_deg + turn) for leg in p.legs
        )
        return replace(
            p, landing_deg=p.landing_deg + turn, legs=legs, gates=tuple(turned_gate(g, turn) for g in p.gates)
        )

    angle = np.radians(turn)
    e, n = case.landing.east_m, case.landing.north_m
    landing = landing_at(e * np.cos(angle) + n * np.sin(angle), -e * np.sin(angle) + n * np.cos(angle), turn)
    there = {
        r.cause: r
        for r in budget(
            world(case.plan), world(case.flown), landing, case.trim, turned(case.wind, turn), draws=2
        )
    }
    for cause, row in here.items():
        assert (there[cause].along_m, there[cause].across_m) == pytest.approx(
            (row.along_m, row.across_m), abs=1e-6
        )


def test_the_error_of_the_entry_is_that_of_the_place_when_all_else_is_known() -> None:
    case = fly_case(uniform(4.0, 0.0), trim=Trim(10.0, 4.0), entry_error=(0.0, 40.0))
    rows = rows_of(case, position_sd_m=3.0, draws=4000)
    assert rows["entry"].along_sd_m == pytest.approx(3.0, rel=0.05)
    assert rows["entry"].across_sd_m == pytest.approx(3.0, rel=0.05)
    for cause in ("wind", "downwind leg", "base leg", "final leg"):
        assert rows[cause].along_sd_m == pytest.approx(0.0, abs=1e-9), (
            "a common error of all places cancels out"
        )


def test_the_error_of_the_wind_row_by_hand() -> None:
    """Uniform wind error of one component, known as a whole: its drift over the time aloft, against the drawn one."""
    heights = np.array([0.0, 600.0])
    shared = np.zeros((4, 4))
    shared[:2, :2] = 0.5**2
    wind = replace(uniform(0.0, 0.0), agl_m=heights, covariance=shared)
    plain = Trim(10.0, 4.0, standard_air=False)
    plan = plan_pattern(
        PatternSetup(), plain, uniform(0.0, 0.0), hand="left", landing_deg=0.0, instant_turns=True
    )
    case = replace(fly_case(uniform(0.0, 0.0), trim=plain), wind=wind, plan=plan)
    row = rows_of(case, draws=8000)["wind"]
    # the cross wind is crabbed away on downwind and final, so it only counts along the base track: sd · base time
    base_s = (182.88 - 91.44) / 4.0
    assert row.across_sd_m == pytest.approx(0.5 * base_s, rel=0.12)


def test_would_the_plan_have_worked() -> None:
    case = fly_case(uniform(6.0, 0.0, sd=0.4), uniform(3.0, 0.0))
    redrawn = plan_pattern(PatternSetup(), TRIM, case.wind, hand="left", landing_deg=0.0)
    check = would_the_plan_have_worked(case.plan, case.trim, case.wind, redrawn=redrawn)
    assert check is not None
    assert check.along_m == pytest.approx(case.landing.north_m, abs=1e-6)
    assert check.along_m < -100.0
    assert check.hit_share == 0.0
    assert check.semi_major_m >= check.semi_minor_m > 0.0
    assert [d.gate for d in check.differences] == ["downwind", "base", "final"]
    assert check.differences[2].along_m == pytest.approx(
        redrawn.gates[2].north_m - case.plan.gates[2].north_m
    )
    right = would_the_plan_have_worked(redrawn, case.trim, uniform(6.0, 0.0, sd=0.01))
    assert right is not None
    assert right.hit_share > 0.8


def test_nine_in_ten_draws_lie_in_the_ellipse() -> None:
    case = fly_case(sheared(3.0, 7.0, 10.0, sd=0.8), uniform(4.0, 0.0))
    check = would_the_plan_have_worked(case.plan, case.trim, case.wind, draws=2000)
    assert check is not None
    air = Air.drawn(case.trim, case.wind, np.random.default_rng(99), 4000)
    first = case.plan.gates[0]
    end = fly(
        air, Start(first.east_m, first.north_m, first.agl_m), orders_from(case.plan, "downwind")
    ).landing
    angle = np.radians(check.major_deg)
    de, dn = end.east_m - check.east_m, end.north_m - check.north_m
    u, v = de * np.sin(angle) + dn * np.cos(angle), de * np.cos(angle) - dn * np.sin(angle)
    share = np.mean((u / check.semi_major_m) ** 2 + (v / check.semi_minor_m) ** 2 <= 1.0)
    assert share == pytest.approx(0.9, abs=0.03)


def test_without_a_wind_over_most_of_the_pattern_nothing_is_put_down() -> None:
    case = fly_case(sheared(4.0, 6.0, 0.0), entry_error=(0.0, 50.0))
    status = tuple("undetermined" if h < 250.0 else "measured" for h in case.wind.agl_m)
    blind = replace(case.wind, status=status)
    assert budget(case.plan, case.flown, case.landing, case.trim, blind) == ()
    assert would_the_plan_have_worked(case.plan, case.trim, blind) is None
    low_only = tuple("undetermined" if h < 40.0 else "measured" for h in case.wind.agl_m)
    assert budget(case.plan, case.flown, case.landing, case.trim, replace(case.wind, status=low_only))
