"""Numbers of the trade, each with its source, against the forward model and the plan."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from pattern_cases import uniform

from analyser.flight import Air, Order, Start, Trim, fly
from analyser.plan import plan_pattern
from analyser.plan.report import report_plan
from analyser.settings import STANDARDS, Canopy, PatternSetup, Settings
from analyser.units import FOOT_M, KNOT_MPS, MPH_MPS, POUND_KG, SQUARE_FOOT_M2
from analyser.wind.profile import WindProfile

TABLE = Path(__file__).parents[2] / "shared" / "reference" / "leg_lengths.csv"


def rows() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda r: f"{r['airspeed_mps']}-{r['wind_mph']}mph")
def test_leg_table(row: dict[str, str]) -> None:
    """Legs of 400/300/300 ft: (dh/sink) times V+w, sqrt(V²-w²), V-w; the published triangle of the USPA Safety Check (Nov 2021)."""
    trim = Trim(float(row["airspeed_mps"]), float(row["sink_mps"]), standard_air=False)
    wind = uniform(float(row["wind_mph"]) * MPH_MPS, 35.0)
    plan = plan_pattern(PatternSetup(), trim, wind, hand="left", landing_deg=35.0, instant_turns=True)
    lengths = [leg.length_m for leg in plan.legs]
    assert lengths == pytest.approx([float(row[k]) for k in ("downwind_m", "base_m", "final_m")], abs=1.0)
    gates = report_plan(
        Settings(pattern=PatternSetup(landing_deg=35.0)), wind, trim, instant_turns=True
    ).plans[0]
    assert [leg.length_m for leg in gates.legs] == pytest.approx(lengths, abs=1e-6)


@pytest.mark.parametrize("speed", [0.0, 3.0, 6.0, 9.0])
def test_plan_against_the_closed_form(speed: float) -> None:
    """Gates in uniform wind with instant turns: written out by hand here, to 1 m."""
    v, s, (high, base, final) = 10.0, 4.0, (304.8, 182.88, 91.44)
    plan = plan_pattern(
        PatternSetup(),
        Trim(v, s, standard_air=False),
        uniform(speed, 0.0),
        hand="left",
        landing_deg=0.0,
        instant_turns=True,
    )
    final_m = final / s * (v - speed)
    width = (base - final) / s * math.sqrt(v**2 - speed**2)
    back = (high - base) / s * (v + speed)
    expected = [(-width, back - final_m), (-width, -final_m), (0.0, -final_m)]
    for gate, place in zip(plan.gates, expected, strict=True):
        assert (gate.east_m, gate.north_m) == pytest.approx(place, abs=1.0)


def test_wind_triangle_of_a_handbook_example() -> None:
    """20 mph canopy, 10 mph wind: final 10, downwind 30, crabbed base 17.32 mph at 30°; nose square 22.4 mph, 26.6° off.

    USPA Safety Check, Nov 2021 (final); the base of that text is not the triangle's.
    """
    air = Air.still(Trim(20 * MPH_MPS, 5.08, standard_air=False), uniform(10 * MPH_MPS, 0.0))
    heading, along, _ = air.holding(np.array([[0.0], [180.0], [90.0]]), np.full((3, 1), 100.0))
    assert along[:, 0] / MPH_MPS == pytest.approx([10.0, 30.0, 17.32], abs=0.005)
    assert 90.0 - heading[2, 0] == pytest.approx(30.0, abs=1e-9)
    square = math.hypot(20.0, 10.0), math.degrees(math.atan2(10.0, 20.0))
    drifting = air.holding(np.array([[90.0 + square[1]]]), np.array([[100.0]]))
    assert drifting[1][0, 0] / MPH_MPS == pytest.approx(square[0], abs=1e-6)
    assert drifting[0][0, 0] == pytest.approx(90.0, abs=1e-6)
    assert square == pytest.approx((22.4, 26.6), abs=0.05)


def test_canopy_drift_rule() -> None:
    """skydiveschool.org, winds aloft: about 1,000 ft/min, so 10 mph of wind carry half a mile from 3,000 ft."""
    trim = Trim(20 * MPH_MPS, 1000 * FOOT_M / 60.0, standard_air=False)
    wind = uniform(10 * MPH_MPS, 270.0, top=1000.0)
    start = Start(0.0, 0.0, 3000 * FOOT_M)
    carried = fly(Air.still(trim, wind), start, [Order("final", 915.0, 0.0)]).landing
    still = fly(Air.still(trim, uniform(0.0, 0.0)), start, [Order("final", 915.0, 0.0)]).landing
    assert carried.t_s[0] == pytest.approx(180.0, abs=0.01)
    assert trim.sink_mps == pytest.approx(5.08)
    nose_north = fly(
        Air.still(trim, wind), start, [Order("final", 915.0, math.degrees(math.atan2(10.0, 20.0)))]
    ).landing
    assert (nose_north.east_m[0] - still.east_m[0]) / 1609.344 == pytest.approx(0.5, abs=1e-3)


def test_wind_drift_indicator_of_a_national_handbook() -> None:
    """F/NLF handbook (2011): a paper indicator at 20 ft/s takes 100 s from 2,000 ft, 25 kt carry it 1,286 m (1,250 with 0.5 m/s per knot)."""
    paper = Trim(0.001, 20 * FOOT_M, standard_air=False)
    fall = fly(
        Air.still(paper, uniform(25 * KNOT_MPS, 270.0, top=700.0)),
        Start(0.0, 0.0, 2000 * FOOT_M),
        [Order("final", 610.0, 90.0)],
    )
    assert fall.landing.t_s[0] == pytest.approx(100.0, abs=1e-6)
    assert fall.landing.east_m[0] == pytest.approx(1286.0, abs=1.0)
    assert 25 * 0.5 * 100 == 1250


def test_mean_of_winds_aloft() -> None:
    """skydivefundamentals.com, free-fall drift (2016): 25, 41, 44, 49 kt average 39.75 kt = 45.7 mph, 0.76 mile a minute."""
    rows = [
        (h * 3000 * FOOT_M, kt * KNOT_MPS, 270.0)
        for h, kt in zip((1, 2, 3, 4), (25, 41, 44, 49), strict=True)
    ]
    profile = WindProfile.from_points(rows)
    mean = float(np.mean(profile.vector(profile.agl_m)[0]))
    assert mean / KNOT_MPS == pytest.approx(39.75, abs=1e-9)
    assert mean / MPH_MPS == pytest.approx(45.7, abs=0.05)
    assert mean * 60.0 / 1609.344 == pytest.approx(0.76, abs=0.005)


@pytest.mark.parametrize(
    ("pounds", "square_feet", "loading"),
    [(195.0, 169.0, 1.154), ((80 + 15) * 2.2, 280.0, 0.746), (200.0, 280.0, 0.714), (120.0, 170.0, 0.706)],
)
def test_wing_loading(pounds: float, square_feet: float, loading: float) -> None:
    """A canopy owner's manual (195/169), F/NLF (2011; 2.2 lb/kg), USPA magazine (Jan 2011)."""
    canopy = Canopy(area_m2=square_feet * SQUARE_FOOT_M2, exit_weight_kg=pounds * POUND_KG)
    assert canopy.wing_loading_lb_ft2 == pytest.approx(loading, abs=5e-4)


@pytest.mark.parametrize(("wind", "metres"), [(0.0, 25.0), (2.5, 18.75), (5.0, 12.5), (7.5, 6.25)])
def test_landing_moves_with_the_height_of_the_last_turn(wind: float, metres: float) -> None:
    """Per 10 m of height 10·(V−w)/sink (arithmetic from the published legs), V 10, sink 4."""
    trim = Trim(10.0, 4.0, standard_air=False)
    ends = [
        fly(
            Air.still(trim, uniform(wind, 0.0)), Start(0.0, 0.0, h), [Order("final", h, 0.0)]
        ).landing.north_m[0]
        for h in (91.44, 101.44)
    ]
    assert ends[1] - ends[0] == pytest.approx(metres, abs=1e-6)


def test_log_law_of_the_lowest_hundred_metres() -> None:
    """Neutral log law over grass, z0 = 0.03 m (Davenport-Wieringa): 63 % at 5 m, 72 % at 10 m, 85 % at 30 m of the wind at 100 m.

    The forward model flown through that profile drifts by the law's own integral.
    """

    def law(z: float) -> float:
        return math.log(max(z, 0.03) / 0.03) / math.log(100.0 / 0.03)

    assert [law(5.0), law(10.0), law(30.0)] == pytest.approx([0.631, 0.716, 0.852], abs=1e-3)
    z = np.geomspace(0.03, 100.0, 400)
    profile = WindProfile.from_points([(float(h), 8.0 * law(float(h)), 0.0) for h in z])
    trim = Trim(10.0, 4.0, standard_air=False)
    end = fly(Air.still(trim, profile), Start(0.0, 0.0, 100.0), [Order("final", 100.0, 0.0)]).landing
    scale = 8.0 / math.log(100.0 / 0.03)
    drift = scale * (100.0 * math.log(100.0 / 0.03) - 100.0 + 0.03) / 4.0
    assert end.north_m[0] == pytest.approx(250.0 - drift, abs=1.0)


def test_rings_of_the_published_standards() -> None:
    """330, 165 and 65 ft, 10 and 2 m: uspa.org skydive school and licence pages as cited beside each ring."""
    radii = sorted({round(s.radius_m, 1) for s in STANDARDS})
    assert radii == [2.0, 10.0, 19.8, 30.0, 50.0, 50.3, 100.6]
    assert all(s.source for s in STANDARDS)
