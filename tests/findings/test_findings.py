"""Findings: each rule speaks when it should, stays silent inside its error, in neutral words, at most three causes."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jump_made import in_wind, jump_made
from pattern_cases import FRAME, TRIM, Case, fly_case, landing_at, sheared, track_of, uniform

from analyser.compare import compare
from analyser.findings import CAUTIONS, Finding, find_findings, into_wind_error_deg, left_open, render
from analyser.findings.landing import swings_deg, zigzag
from analyser.findings.turns import longest_turn_deg
from analyser.flight import Air, Order, Start, Trim, fly
from analyser.jump import Debrief
from analyser.pattern import Pattern
from analyser.reach import find_reach
from analyser.replay import BudgetRow, budget
from analyser.replay.parts import Part
from analyser.replay.sink import Brakes
from analyser.settings import KeepOut, LandingArea, LandingDirection, PatternSetup, Settings, Site
from analyser.units import DISPLAY_SYSTEMS

CALM = uniform(4.0, 0.0, sd=0.3)


def inputs_for(
    case: Case,
    *,
    site: Site | None = None,
    lateral_sd: float = 4.0,
    agl_sd: float = 3.0,
    track_sd: tuple[float, float] = (1.0, 2.5),
    **changes,
) -> Debrief:
    """Everything a composer would hand over, with the errors of a usable track."""
    gates = tuple(replace(g, agl_sd_m=agl_sd, lateral_sd_m=lateral_sd) for g in case.flown.gates)
    legs = tuple(replace(leg, turn_agl_sd_m=agl_sd) for leg in case.flown.legs)
    flown = replace(case.flown, gates=gates, legs=legs)
    track = track_of(case.flown.path, agl_sd_m=track_sd[0], position_sd_m=track_sd[1])
    errors = {"agl_sd_m": track_sd[0], "position_sd_m": track_sd[1]}
    rows = budget(case.plan, flown, case.landing, case.trim, case.wind, track=track, **errors)
    fields: dict[str, object] = {
        "settings": Settings(site=site or Site(target=(FRAME.lat_deg, FRAME.lon_deg))),
        "track": track,
        "wind": case.wind,
        "trim": case.trim,
        "flown": flown,
        "plan": case.plan,
        "plan_wind": case.assumed,
        "comparison": compare(flown, case.plan),
        "landing": case.landing,
        "budget": rows,
        "canopy": (0, int(np.searchsorted(track.t_s, case.landing.t_s))),
    }
    return jump_made(**{**fields, **changes})


def codes(x: Debrief) -> list[str]:
    return [f.code for f in find_findings(x)]


def one(x: Debrief, code: str) -> Finding:
    return next(f for f in find_findings(x) if f.code == code)


def test_a_good_jump_hears_what_went_well_and_nothing_else() -> None:
    found = find_findings(inputs_for(fly_case(CALM)))
    assert {f.level for f in found} == {"good"}
    assert [f.code for f in found][:2] == ["on_target", "into_wind"]
    assert len(found) <= 3


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"final_m": -25.0}, "final_turn_low"),
        ({"final_m": 25.0}, "final_turn_high"),
        ({"base_m": -30.0}, "base_turn_low"),
        ({"base_m": 30.0}, "base_turn_high"),
        ({"entry_error": (0.0, 90.0)}, "entry_place"),
        ({"assumed": uniform(1.0, 0.0)}, "wind_misread"),
    ],
)
def test_each_cause_is_named_first(changes, code) -> None:
    assumed = changes.pop("assumed", None)
    x = inputs_for(fly_case(CALM, assumed, **changes))
    causes = [f for f in find_findings(x) if f.metres > 0.0]
    assert causes[0].code == code
    assert causes[0].level == "note"
    assert causes == sorted(causes, key=lambda f: -f.metres)
    assert "Worth" in render(causes[0])


def test_at_most_three_causes() -> None:
    case = fly_case(
        uniform(6.0, 20.0, sd=0.2), uniform(2.0, 0.0), final_m=-30.0, base_m=35.0, entry_error=(-100.0, 100.0)
    )
    found = find_findings(inputs_for(case))
    causes = [f for f in found if f.metres > 0.0]
    assert len(causes) == 3
    assert len({f.group for f in causes}) == 3
    levels = [f.level for f in found]
    assert levels == sorted(levels, key=["good", "note", "caution"].index)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    final=st.floats(-5.0, 5.0),
    base=st.floats(-5.0, 5.0),
    entry=st.tuples(st.floats(-7.0, 7.0), st.floats(-7.0, 7.0)),
)
def test_no_cause_inside_the_error(final: float, base: float, entry: tuple[float, float]) -> None:
    x = inputs_for(
        fly_case(CALM, final_m=final, base_m=base, entry_error=entry),
        agl_sd=7.0,
        lateral_sd=9.0,
        track_sd=(5.0, 6.0),
    )
    assert not [f for f in find_findings(x) if f.metres > 0.0]


def test_a_cause_needs_a_part_beyond_twice_its_error() -> None:
    case = fly_case(CALM, final_m=-25.0)
    x = inputs_for(case)
    rows = tuple(BudgetRow(r.cause, r.along_m, r.across_m, 100.0, 100.0) for r in x.budget)
    assert not [f for f in find_findings(replace(x, budget=rows)) if f.metres > 0.0]


def test_without_a_target_the_gates_speak_alone() -> None:
    x = inputs_for(fly_case(CALM, final_m=-30.0))
    bare = replace(x, budget=(), landing=replace(x.landing, offset_m=None, along_m=None, across_m=None))
    causes = [f for f in find_findings(bare) if f.metres > 0.0]
    assert [f.code for f in causes] == ["final_turn_low"]
    assert causes[0].metres == pytest.approx(30.0 * TRIM.glide)  # what so much height is worth in still air


def test_brakes_explain_the_final_leg() -> None:
    case = fly_case(uniform(6.0, 0.0, sd=0.2), final_trim=Trim(6.5, 2.6))
    x = inputs_for(case)
    row = next(r for r in x.budget if r.cause == "final leg")
    braked = replace(x, brakes=Brakes(row.along_m, 6.0, 0.65, 0.03, 9.0))
    found = one(braked, "brakes_on_final")
    assert "65 %" in render(found)
    said = render(one(replace(x, brakes=Brakes(-2.0, 6.0, 0.99, 0.03, 0.2)), "final_slow"))
    assert "brakes, or more wind" in said
    assert "99 %" in said
    sinking = replace(x, brakes=Brakes(-2.0, 6.0, 1.2, 0.03, 0.2))
    assert "final_leg" in codes(sinking)


def test_a_final_that_sank_less_and_went_farther_was_not_in_brakes() -> None:
    x = inputs_for(fly_case(uniform(6.0, 0.0, sd=0.2), final_trim=Trim(10.0, 2.6)))
    row = next(r for r in x.budget if r.cause == "final leg")
    assert row.along_m > 30.0
    lifted = replace(x, brakes=Brakes(row.along_m, 6.0, 0.65, 0.03, 9.0))
    said = render(one(lifted, "final_rising"))
    assert "brakes" not in said
    assert "65 %" in said


def test_brakes_are_not_blamed_for_metres_aside() -> None:
    case = fly_case(uniform(6.0, 0.0, sd=0.2), final_trim=Trim(6.5, 2.6))
    x = inputs_for(case)
    aside = tuple(
        replace(r, along_m=-2.0, across_m=40.0, across_sd_m=2.0, parts=(Part("speed", -2.0, 40.0, 6.0, 2.0),))
        if r.cause == "final leg"
        else r
        for r in x.budget
    )
    braked = replace(x, budget=aside, brakes=Brakes(-19.0, 12.0, 0.65, 0.03, 9.0))
    assert "brakes_on_final" not in codes(braked)
    assert "brakes" not in render(one(braked, "final_leg"))


def test_long_short_and_off_the_line() -> None:
    x = inputs_for(fly_case(CALM))
    for east, north, code, word in (
        (0.0, 60.0, "landed_long", "long"),
        (0.0, -60.0, "landed_short", "short"),
        (40.0, 0.0, "off_wind_line", "right"),
        (-40.0, 0.0, "off_wind_line", "left"),
    ):
        found = one(replace(x, landing=landing_at(east, north, 0.0)), code)
        assert word in render(found)
    assert "landed_long" not in codes(replace(x, landing=landing_at(0.0, 24.0, 0.0, sd=8.0)))


@pytest.mark.parametrize(
    ("from_deg", "code"),
    [
        (10.0, "into_wind"),
        (-19.0, "into_wind"),
        (90.0, "landed_across_wind"),
        (270.0, "landed_across_wind"),
        (180.0, "landed_down_wind"),
    ],
)
def test_landing_direction_against_the_wind(from_deg: float, code: str) -> None:
    case = replace(fly_case(CALM), wind=uniform(5.0, from_deg, sd=0.3))
    x = inputs_for(case)
    assert code in codes(x)
    off = into_wind_error_deg(x)
    assert off is not None
    assert off[0] == pytest.approx((0.0 - from_deg + 180.0) % 360.0 - 180.0, abs=1.0)
    light = in_wind(x, uniform(0.8, from_deg, sd=0.3))
    assert not {"into_wind", "landed_across_wind", "landed_down_wind"} & set(codes(light))
    vague = in_wind(x, uniform(5.0, 60.0, sd=4.0))
    assert not {"into_wind", "landed_across_wind", "landed_down_wind"} & set(codes(vague))
    uncertain = in_wind(x, uniform(5.0, 10.0, sd=2.5))
    assert not {"into_wind", "landed_across_wind", "landed_down_wind"} & set(codes(uncertain))


@pytest.mark.parametrize("from_deg", [-29.0, -25.0, -21.0, 21.0, 25.0, 29.0, 40.0])
def test_a_final_well_aside_of_the_wind_is_not_praised(from_deg: float) -> None:
    """Changes of heading of 20 to 30° on final are counted as turns by the trade (common practice): so far off is not into the wind."""
    x = inputs_for(replace(fly_case(CALM), wind=uniform(5.0, from_deg, sd=0.1)))
    assert not {"into_wind", "landed_across_wind", "landed_down_wind"} & set(codes(x))


def test_seconds_straight_before_touchdown() -> None:
    low = fly_case(CALM, final_m=-60.0)
    x = inputs_for(low)
    assert low.landing.t_s - low.flown.leg("final").start_s < 7.0
    assert "short_final" in codes(x)
    assert "straight_final" in codes(inputs_for(fly_case(CALM)))


def test_low_turns_are_a_caution() -> None:
    x = inputs_for(fly_case(CALM, final_m=-68.0), agl_sd=2.0)
    assert {"final_turn_below_minimum", "low_turn"} <= set(codes(x))
    near = inputs_for(fly_case(CALM, final_m=-33.0), agl_sd=2.0)
    assert "final_turn_below_minimum" not in codes(near), "58 ± 2 m is not clearly below 61 m"


@pytest.mark.parametrize(
    ("agl", "is_open"), [(50.0, False), (56.0, True), (61.5, True), (66.0, True), (67.0, False)]
)
def test_a_low_turn_within_its_error_is_left_open(agl: float, is_open: bool) -> None:
    x = inputs_for(fly_case(CALM), agl_sd=3.0)
    assert x.flown is not None
    legs = tuple(replace(leg, turn_agl_m=agl) if leg.name == "final" else leg for leg in x.flown.legs)
    x = replace(x, flown=replace(x.flown, legs=legs))
    found = list(left_open(x))
    assert [code for code, _ in found] == ["final_turn_below_minimum"] * is_open
    assert ("final_turn_below_minimum" in codes(x)) is (agl < 54.0)
    if is_open:
        assert found[0][1] == {"turn_agl_m": agl, "turn_agl_sd_m": 3.0, "limit_m": pytest.approx(60.96)}


def test_a_large_last_turn() -> None:
    x = inputs_for(fly_case(CALM))
    legs = tuple(
        replace(leg, turn=replace(leg.turn, change_deg=-178.0)) if leg.name == "final" else leg
        for leg in x.flown.legs
    )
    assert "large_last_turn" in codes(replace(x, flown=replace(x.flown, legs=legs)))
    assert "large_last_turn" not in codes(x)


@pytest.mark.parametrize(
    ("turns", "agl", "said"), [(400.0, 280.0, True), (200.0, 280.0, False), (400.0, 500.0, False)]
)
def test_full_turns_below_the_limit(turns: float, agl: float, said: bool) -> None:
    t = np.arange(0.0, 60.0, 0.5)
    heading = np.clip((t - 5.0) * 20.0, 0.0, turns)
    assert longest_turn_deg(t, heading, 6.0) == pytest.approx(turns, abs=25.0)
    rows = [(float(a), 0.0, 0.0, max(agl - 4.0 * float(a), 0.0)) for a in t]
    east = np.concatenate([[0.0], np.cumsum(10.0 * np.sin(np.radians(heading[:-1])) * 0.5)])
    north = np.concatenate([[0.0], np.cumsum(10.0 * np.cos(np.radians(heading[:-1])) * 0.5)])
    track = track_of([(r[0], float(e), float(n), r[3]) for r, e, n in zip(rows, east, north, strict=True)])
    x = jump_made(Settings(), track=track, wind=uniform(0.0, 0.0), canopy=(0, len(rows)))
    assert ("full_turn_low" in codes(x)) == said


def test_a_box_pattern_is_no_full_turn() -> None:
    for hand in ("left", "right"):
        assert "full_turn_low" not in codes(inputs_for(fly_case(uniform(5.0, 20.0, sd=0.3), hand=hand)))


def test_s_turns_on_final() -> None:
    case = fly_case(CALM)
    final = case.flown.leg("final")
    t = np.arange(0.0, case.landing.t_s + 0.01, 0.5)
    path = np.array(case.flown.path)
    east, north, agl = (np.interp(t, path[:, 0], path[:, i]) for i in (1, 2, 3))
    swing = np.where(t > final.start_s, 12.0 * np.sin((t - final.start_s) / 14.0 * 2.0 * np.pi), 0.0)
    weaving = track_of([tuple(map(float, r)) for r in zip(t, east + swing, north, agl, strict=True)])
    x = inputs_for(case)
    assert "s_turns" not in codes(x)
    assert "s_turns" in codes(replace(x, track=weaving))
    assert "straight_final" in codes(x)
    assert "straight_final" not in codes(replace(x, track=weaving))


def test_zigzag() -> None:
    assert zigzag([0.0, 10.0, 20.0, 10.0, 25.0], 30.0) == []
    assert zigzag([0.0, 50.0, 45.0, 10.0, 12.0, 60.0], 30.0) == [50.0, -40.0, 50.0]
    assert zigzag([5.0, -40.0, -39.0], 30.0) == [-45.0]


def test_the_hand_of_the_site() -> None:
    site = Site(target=(FRAME.lat_deg, FRAME.lon_deg), directions=(LandingDirection(0.0, "right"),))
    x = inputs_for(fly_case(CALM), site=site)
    assert "hand_against_rule" in codes(x)
    assert "hand_against_rule" not in codes(replace(x, flown=replace(x.flown, confidence=0.5)))
    assert "hand_against_rule" not in codes(inputs_for(fly_case(CALM, hand="right"), site=site))


def test_the_hand_of_the_plan() -> None:
    x = inputs_for(fly_case(CALM))
    other, same = (
        replace(x, settings=replace(x.settings, pattern=replace(x.settings.pattern, hand=hand)))
        for hand in ("right", "left")
    )
    assert "hand_against_plan" in codes(other)
    assert "hand_against_plan" not in codes(same)
    assert "hand_against_plan" not in codes(x)


def test_the_hand_that_the_site_has_for_a_direction() -> None:
    """Flown left: a caution where the site has right hand there, nothing where it has left or speaks of another direction."""
    x = inputs_for(fly_case(CALM))
    assert x.flown.hand == "left"
    toward = x.flown.landing_deg
    for hand, aside, said in (("right", 20.0, True), ("left", 0.0, False), ("right", 90.0, False)):
        rows = (LandingDirection((toward + aside) % 360.0, hand),)
        site = replace(x.settings.site, directions=rows)
        found = codes(replace(x, settings=replace(x.settings, site=site)))
        assert ("hand_against_rule" in found) is said, (hand, aside)


def area_at(east: float, north: float, half: float, below: float) -> KeepOut:
    e, n = (
        np.array([east - half, east + half, east + half, east - half]),
        np.array([north - half, north - half, north + half, north + half]),
    )
    lat, lon = FRAME.to_geodetic(e, n)
    return KeepOut("the wood", below, tuple((float(a), float(b)) for a, b in zip(lat, lon, strict=True)))


def test_keep_out_overflown() -> None:
    case = fly_case(CALM)
    base = case.plan.gates[1]
    for half, below, said in ((40.0, 300.0, True), (40.0, 150.0, False), (3.0, 300.0, False)):
        site = Site(
            target=(FRAME.lat_deg, FRAME.lon_deg),
            keep_outs=(area_at(base.east_m, base.north_m, half, below),),
        )
        assert ("keep_out_overflown" in codes(inputs_for(case, site=site))) == said


def test_in_and_outside_the_landing_areas() -> None:
    """Said where the edge lies beyond twice the error of the place, and not where it is left open."""
    case = fly_case(CALM)
    seen = inputs_for(case)
    assert seen.landing is not None
    east, north = seen.landing.east_m, seen.landing.north_m
    sd = seen.track.position_sd_m
    for shift, said in (
        (0.0, {"in_landing_area"}),
        (200.0, {"outside_landing_areas"}),
        (50.0 + 1.5 * sd, set()),
    ):
        box = area_at(east + shift, north, 50.0, 0.0).polygon
        site = Site(target=(FRAME.lat_deg, FRAME.lon_deg), landing_areas=(LandingArea("main", box),))
        found = set(codes(inputs_for(case, site=site)))
        assert found & {"in_landing_area", "outside_landing_areas"} == said
    assert not set(codes(seen)) & {"in_landing_area", "outside_landing_areas"}


def test_upwind_margin() -> None:
    wind = uniform(6.0, 0.0, sd=0.2)
    path = fly(Air.still(TRIM, wind), Start(0.0, 300.0, 900.0), [Order("final", 900.0, 180.0)]).path()
    track = track_of(path)
    plan = fly_case(wind).plan
    stop = int(np.searchsorted(track.t_s, path[-1][0]))
    reach = find_reach(track, 0, stop, wind, TRIM, entry=plan.gates[0])
    told = Settings(pattern=PatternSetup(given=True))
    x = jump_made(told, track=track, wind=wind, trim=TRIM, plan=plan, reach=reach)
    assert "entry_out_of_reach" in codes(x)
    assert "entry_out_of_reach" not in codes(replace(x, settings=Settings()))
    assert reach is not None
    assert reach.entry is not None
    late = replace(reach.entry, lost_agl_m=plan.gates[0].agl_m + 149.0)
    assert "entry_out_of_reach" not in codes(replace(x, reach=replace(reach, entry=late)))
    case = fly_case(wind)
    held = find_reach(track_of(case.flown.path), 0, 60, wind, TRIM, entry=case.plan.gates[1])
    assert "entry_out_of_reach" not in codes(replace(x, reach=held))


def test_past_the_target() -> None:
    x = inputs_for(fly_case(CALM, entry_error=(0.0, 250.0)))
    assert "past_target" in codes(x)
    assert "past_target" not in codes(inputs_for(fly_case(CALM)))


def test_wind_near_the_airspeed() -> None:
    x = inputs_for(fly_case(uniform(9.2, 0.0, sd=0.2)))
    assert "stay on the ground" in render(one(x, "wind_near_airspeed"))
    assert "±" in render(one(x, "wind_near_airspeed"))
    unsure = inputs_for(fly_case(uniform(9.2, 0.0, sd=1.5)))
    assert "wind_near_airspeed" not in codes(unsure)


def every_finding() -> list[Finding]:
    cases = [
        fly_case(
            uniform(6.0, 20.0, sd=0.2),
            uniform(2.0, 0.0),
            final_m=-62.0,
            base_m=35.0,
            entry_error=(-100.0, 300.0),
        ),
        fly_case(uniform(9.2, 90.0, sd=0.2), final_m=30.0),
        fly_case(CALM),
        fly_case(sheared(3.0, 5.0, 180.0, sd=0.2), uniform(1.0, 180.0), entry_error=(120.0, 0.0)),
    ]
    return [f for c in cases for f in find_findings(inputs_for(c))]


def test_every_text_fills_in_every_system_and_stays_neutral() -> None:
    judging = re.compile(
        r"\b(bad|wrong|poor|should have|fail|failed|mistake|great|excellent|perfect|nice|wow|smaller canopy|steeper)\b",
        re.I,
    )
    found = every_finding()
    assert len({f.code for f in found}) >= 12
    for finding in found:
        for system in DISPLAY_SYSTEMS.values():
            text = render(finding, system)
            assert "{" not in text
            assert "–" not in text
            assert not judging.search(text)
        if finding.level == "good":
            assert not re.search(r"\b(low|lower|steep|fast)\b", render(finding))


def test_texts_in_feet_carry_no_metres() -> None:
    for finding in every_finding():
        assert not re.search(r"\d m\b|\d m/s", render(finding, DISPLAY_SYSTEMS["us"])), finding.code


def test_nothing_in_nothing_out() -> None:
    assert find_findings(jump_made(Settings())) == ()
    assert find_findings(jump_made(Settings(), flown=Pattern("other", None, None))) == ()


def test_the_standing_cautions_are_there() -> None:
    joined = " ".join(CAUTIONS)
    for words in ("after landing", "Not an altimeter", "instructors", "witness", "low turn", "wind limits"):
        assert words in joined


def test_heights_kept_counts_only_what_is_known() -> None:
    x = replace(inputs_for(fly_case(CALM)), landing=landing_at(60.0, 0.0, 0.0))
    assert render(one(x, "heights_kept")).startswith("All 3 gates came within")
    vague = tuple(replace(r, agl_sd_m=25.0) if r.gate == "downwind" else r for r in x.comparison)
    assert "The gates base and final came within" in render(one(replace(x, comparison=vague), "heights_kept"))
    off = tuple(replace(r, agl_m=-40.0) if r.gate == "base" else r for r in x.comparison)
    assert "heights_kept" not in codes(replace(x, comparison=off))
    lost = tuple(replace(r, agl_m=None, agl_sd_m=None) if r.gate == "base" else r for r in x.comparison)
    assert "heights_kept" not in codes(replace(x, comparison=lost))


@pytest.mark.parametrize(
    ("share", "velocity_sd", "counts"),
    [(1.1, 0.0, True), (1.1, 1.0, False), (3.0, 1.0, True), (0.9, 0.0, False)],
)
def test_a_swing_on_final_counts_beyond_its_limit_and_the_error_of_a_heading(
    share: float, velocity_sd: float, counts: bool
) -> None:
    """Nose to the north at 10 m/s, 15 s to one side of it and 15 s to the other, in 5 m/s of wind; 1 m/s of error is 5.7° of heading (swings_deg)."""
    limit = Settings().method.s_turn.value
    t = np.arange(0.0, 30.5, 0.5)
    deg = np.where(t < 15.0, -0.5, 0.5) * share * limit
    track = replace(
        track_of([(0.0, 0.0, 0.0, 140.0), (30.0, 0.0, 300.0, 20.0)], after_s=0.5),
        v_east=10.0 * np.sin(np.radians(deg)) + 3.0,
        v_north=10.0 * np.cos(np.radians(deg)) - 4.0,
        velocity_sd=velocity_sd,
    )
    final = replace(fly_case(CALM).flown.legs[-1], start_s=0.0)
    x = jump_made(
        track=track,
        wind=uniform(5.0, 180.0 + 143.1301),
        flown=Pattern("straight in", None, 0.0, (final,)),
        landing=landing_at(0.0, 0.0, 0.0, t_s=30.0),
    )
    assert swings_deg(x) == (pytest.approx([share * limit]) if counts else [])
