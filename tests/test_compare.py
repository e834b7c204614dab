"""compare: zero for equal patterns, antisymmetric, along and across in the planned landing frame."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import TRIM, fly_case, sheared, turned_gate, uniform

from analyser.compare import compare
from analyser.pattern import Pattern
from analyser.plan import plan_pattern
from analyser.settings import PatternSetup


def values(rows) -> list[float]:
    return [v for r in rows for v in (r.agl_m, r.along_m, r.across_m)]


def shifted(pattern: Pattern, east: float, north: float, up: float) -> Pattern:
    gates = tuple(
        replace(g, east_m=g.east_m + east, north_m=g.north_m + north, agl_m=g.agl_m + up)
        for g in pattern.gates
    )
    return replace(pattern, gates=gates)


@settings(max_examples=20, deadline=None)
@given(speed=st.floats(0.0, 9.0), from_deg=st.floats(0.0, 360.0), landing=st.floats(0.0, 359.9))
def test_a_pattern_equals_itself(speed: float, from_deg: float, landing: float) -> None:
    plan = plan_pattern(
        PatternSetup(crosswind_m=366.0), TRIM, uniform(speed, from_deg), hand="left", landing_deg=landing
    )
    assert values(compare(plan, plan)) == pytest.approx([0.0] * 12, abs=1e-12)


def test_signs() -> None:
    plan = plan_pattern(PatternSetup(), TRIM, uniform(4.0, 90.0), hand="left", landing_deg=90.0)
    rows = compare(shifted(plan, 30.0, -10.0, 5.0), plan)
    for row in rows:
        assert (row.agl_m, row.along_m, row.across_m) == pytest.approx((5.0, 30.0, 10.0))
        assert row.flown_agl_m == pytest.approx(row.planned_agl_m + 5.0)


@settings(max_examples=20, deadline=None)
@given(
    east=st.floats(-200.0, 200.0),
    north=st.floats(-200.0, 200.0),
    up=st.floats(-50.0, 50.0),
    turn=st.floats(0.0, 360.0),
)
def test_swapping_changes_the_sign_and_turning_the_world_nothing(
    east: float, north: float, up: float, turn: float
) -> None:
    case = fly_case(sheared(3.0, 6.0, 20.0), uniform(3.0, 0.0), entry_error=(east, north), final_m=up / 2.0)
    forth, back = values(compare(case.flown, case.plan)), values(compare(case.plan, case.flown))
    assert forth == pytest.approx([-v for v in back], abs=1e-9)

    def turned(p: Pattern) -> Pattern:
        return replace(
            p, landing_deg=p.landing_deg + turn, gates=tuple(turned_gate(g, turn) for g in p.gates)
        )

    assert values(compare(turned(case.flown), turned(case.plan))) == pytest.approx(forth, abs=1e-6)


def test_errors_add_and_gates_not_flown_stay_empty() -> None:
    plan = plan_pattern(PatternSetup(), TRIM, uniform(4.0, 0.0), hand="left", landing_deg=0.0)
    gate = replace(plan.gates[2], agl_sd_m=3.0, lateral_sd_m=4.0)
    rows = compare(replace(plan, gates=(gate,)), plan)
    assert [r.flown_agl_m is None for r in rows] == [True, True, False]
    assert rows[0].along_m is None
    assert rows[0].planned_agl_m == pytest.approx(304.8)
    assert (rows[2].agl_sd_m, rows[2].lateral_sd_m) == (3.0, 4.0)
