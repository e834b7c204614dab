"""The plan as tables: legs from gate to gate, limits by the wind triangle, sensitivity, areas, the site's hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from pattern_cases import FRAME, TRIM, sheared, uniform

from analyser.errors import SettingsError
from analyser.flight import Air, Trim
from analyser.plan.report import limit_wind, report_plan
from analyser.settings import KeepOut, LandingDirection, PatternSetup, Settings, Site

SITE = Site(target=(47.3, 11.9))
PLAIN = Trim(10.0, 4.0, standard_air=False)


def test_both_hands_mirror_each_other_in_wind_along_the_landing() -> None:
    report = report_plan(Settings(site=SITE), uniform(5.0, 0.0), TRIM, hands=("left", "right"))
    left, right = report.plans
    assert report.landing_deg == pytest.approx(0.0)
    assert report.landing_from == "wind"
    for a, b in zip(left.gates, right.gates, strict=True):
        assert (a.along_m, a.across_m) == pytest.approx((b.along_m, -b.across_m), abs=1e-6)
    assert [leg.crab_deg for leg in left.legs] == pytest.approx(
        [-leg.crab_deg for leg in right.legs], abs=1e-6
    )


def test_legs_run_from_gate_to_gate() -> None:
    plan = report_plan(Settings(site=SITE), sheared(3.0, 6.0, 20.0), TRIM).plans[0]
    places = [(g.east_m, g.north_m) for g in plan.gates] + [(0.0, 0.0)]
    for leg, a, b in zip(plan.legs, places, places[1:], strict=False):
        assert leg.length_m == pytest.approx(math.dist(a, b))
    assert sum(leg.seconds for leg in plan.legs) == pytest.approx(plan.pattern.path[-1][0])
    assert [leg.end_agl_m for leg in plan.legs] == pytest.approx([182.88, 91.44, 0.0], abs=1e-6)


def test_gates_carry_places_for_a_map() -> None:
    plan = report_plan(Settings(site=SITE), uniform(4.0, 90.0), TRIM).plans[0]
    for gate in plan.gates:
        assert gate.lat is not None
        assert gate.lon is not None
        east, north = FRAME.to_local(gate.lat, gate.lon)
        assert (float(east), float(north)) == pytest.approx((gate.east_m, gate.north_m), abs=0.01)
    bare = report_plan(Settings(), uniform(4.0, 90.0), TRIM).plans[0]
    assert bare.gates[0].lat is None


@pytest.mark.parametrize(
    ("track", "from_deg", "limit"),
    [
        (0.0, 0.0, 10.0),
        (90.0, 0.0, 10.0),
        (180.0, 0.0, None),
        (45.0, 0.0, 10.0),
        (135.0, 0.0, 10.0 * math.sqrt(2.0)),
    ],
)
def test_the_limit_is_where_the_way_along_the_track_ends(
    track: float, from_deg: float, limit: float | None
) -> None:
    found = limit_wind(PLAIN, uniform(3.0, from_deg), 100.0, track)
    assert found == (None if limit is None else pytest.approx(limit, rel=1e-6))
    if limit is None:
        return
    for factor, held in ((0.98, True), (1.02, False)):
        air = Air.still(PLAIN, uniform(limit * factor, from_deg))
        _, along, across = air.holding(np.array([[track]]), np.array([[100.0]]))
        assert (along[0, 0] > 1e-9 and abs(across[0, 0]) < 1e-9) == held


def test_sensitivity_is_the_difference_of_two_plans() -> None:
    fixed = Settings(site=SITE, pattern=PatternSetup(landing_deg=0.0))
    plan = report_plan(fixed, uniform(4.0, 0.0), PLAIN, instant_turns=True).plans[0]
    final = plan.shifts[-1]
    # 300 ft of final: one more m/s of head wind shortens it by its time aloft
    assert final.per_mps_along_m == pytest.approx(91.44 / 4.0)
    assert final.per_10deg_along_m == pytest.approx(
        -91.44
        / 4.0
        * (math.sqrt(100 - (4 * math.sin(math.radians(10))) ** 2) - 10 + 4 - 4 * math.cos(math.radians(10))),
        abs=1e-6,
    )
    assert final.per_10deg_across_m == pytest.approx(0.0, abs=1e-9)


def test_areas_under_the_plan_are_named() -> None:
    lat, lon = FRAME.to_geodetic(
        np.array([-260.0, -120.0, -120.0, -260.0]), np.array([-40.0, -40.0, 40.0, 40.0])
    )
    wood = KeepOut("wood", 400.0, tuple((float(a), float(b)) for a, b in zip(lat, lon, strict=True)))
    settings = Settings(site=replace(SITE, keep_outs=(wood,)))
    left, right = report_plan(settings, uniform(4.0, 0.0), TRIM, hands=("left", "right")).plans
    assert left.keep_outs == ("wood",)
    assert right.keep_outs == ()


def test_the_site_has_its_hand() -> None:
    site = replace(SITE, directions=(LandingDirection(60.0, "right"), LandingDirection(240.0, "left")))
    report = report_plan(Settings(site=site), uniform(4.0, 70.0), TRIM)
    assert (report.landing_deg, report.landing_from) == (60.0, "site")
    assert report.plans[0].hand == "right"
    both = report_plan(Settings(site=site), uniform(4.0, 70.0), TRIM, hands=("left", "right"))
    assert [p.against_site for p in both.plans] == [True, False]


def test_a_wind_near_the_airspeed_is_answered_on_the_ground() -> None:
    report = report_plan(Settings(site=SITE), uniform(9.0, 0.0), TRIM)
    assert report.wind_over_airspeed == pytest.approx(0.9, abs=0.02)
    assert "stay on the ground" in report.advice
    assert not report_plan(Settings(site=SITE), uniform(4.0, 0.0), TRIM).advice


def test_nothing_to_land_by_is_an_error() -> None:
    with pytest.raises(SettingsError, match="landing direction"):
        report_plan(Settings(site=SITE), uniform(0.0, 0.0), TRIM)
