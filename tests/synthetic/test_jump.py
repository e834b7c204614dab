"""Whole made-up jumps: consistent with themselves, the same at every call, and like the numbers the trade prints."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from worlds.ensembles import AMBIGUOUS_KINDS, ambiguous_jump, harsh_jump
from worlds.hard_patterns import HARD_PATTERNS, hard_jump

from analyser.synthetic.air import uniform_air
from analyser.synthetic.descent import Exit, exit_height, free_fall
from analyser.synthetic.earth import to_geodetic
from analyser.synthetic.holding import HOLDING_STYLES
from analyser.synthetic.scenario import build, record_jump
from analyser.synthetic.setup import NOMINAL_FT, draw_setup
from analyser.synthetic.truth import SyntheticJump, Truth

FOOT = 0.3048


@pytest.mark.parametrize("lat", [-85.0, -47.0, 0.0, 33.0, 60.0, 84.9])
def test_degrees_against_the_geodesic(lat: float) -> None:
    """geographiclib (Karney's geodesic) measures back what was put down."""
    reach, tolerance = (8000.0, 0.05) if abs(lat) <= 60.0 else (4000.0, 0.2)
    for angle in np.arange(0.0, 360.0, 37.0):
        east, north = reach * math.sin(math.radians(angle)), reach * math.cos(math.radians(angle))
        lat2, lon2 = to_geodetic(lat, 179.99, east, north)
        line = Geodesic.WGS84.Inverse(lat, 179.99, float(lat2), float(lon2))
        assert line["s12"] == pytest.approx(reach, abs=tolerance)
        off = math.radians(line["azi1"] - angle) * reach
        assert math.remainder(off, 2.0 * math.pi * reach) == pytest.approx(0.0, abs=tolerance)


@pytest.mark.parametrize(("seconds", "feet"), [(5.0, 366.0), (10.0, 1138.0), (12.0, 1483.0)])
def test_fall_against_a_printed_table(seconds: float, feet: float) -> None:
    """Distance fallen from the exit in a fall table of a drop zone (Green Harbor, 2010); terminal 174 ft/s there. The first
    seconds differ by the drag a body has while still flat on the relative wind: 4 %."""
    door = Exit(agl_m=1700.0, open_agl_m=1000.0, run_in_deg=0.0)
    fall = free_fall(uniform_air(0.0, 0.0), door, terminal_mps=53.0)[0]
    fallen = fall.agl_m[0] - float(np.interp(seconds, fall.t_s, fall.agl_m))
    assert fallen == pytest.approx(feet * FOOT, rel=0.04)


def test_terminal_speed_and_throw() -> None:
    """Belly fall 120 mph = 53.6 m/s (trade number); the throw of a still-air exit is some hundred metres."""
    door = Exit(agl_m=4000.0, open_agl_m=1000.0, run_in_deg=90.0)
    fall = free_fall(uniform_air(0.0, 0.0), door, terminal_mps=53.0, own_mps=0.0)[0]
    speed = -np.gradient(fall.agl_m, 0.1)
    assert speed[-20:].mean() == pytest.approx(53.6, abs=1.0)
    assert fall.east_m[-1] == pytest.approx(180.0, abs=20.0)
    assert exit_height(1000.0, 5.0) - 1000.0 == pytest.approx(366 * FOOT + 0.5 * (38.0 + 5.0) * 4.0, rel=0.1)


def test_the_same_seed_gives_the_same_jump() -> None:
    for make in (record_jump, harsh_jump, ambiguous_jump, hard_jump):
        one, two = make(17), make(17)
        for name in ("time_s", "lat_deg", "lon_deg", "altitude_m"):
            assert np.array_equal(getattr(one.recording, name), getattr(two.recording, name))
        assert one.truth.to_json() == two.truth.to_json()
    assert not np.array_equal(record_jump(17).recording.lat_deg, record_jump(18).recording.lat_deg)


def consistent(jump: SyntheticJump) -> None:
    """Ground velocity is air velocity plus mean wind plus gust; phases tile; the landing is the end of the path."""
    truth, setup = jump.truth, jump.setup
    wind_e, wind_n = setup.air.mean(truth.agl_m[:-1], truth.t_utc_s[:-1] - truth.t_utc_s[0])
    over_e, over_n = np.diff(truth.east_m) / 0.1, np.diff(truth.north_m) / 0.1
    assert over_e == pytest.approx(truth.air_east[:-1] + truth.gust_east[:-1] + wind_e, abs=1e-6)
    assert over_n == pytest.approx(truth.air_north[:-1] + truth.gust_north[:-1] + wind_n, abs=1e-6)
    for a, b in zip(truth.phases, truth.phases[1:]):
        assert a.end_utc_s == pytest.approx(b.start_utc_s, abs=1e-6)
    assert truth.phases[0].start_utc_s == pytest.approx(jump.recording.time_s[0], abs=1.5)
    assert truth.phases[-1].end_utc_s == pytest.approx(jump.recording.time_s[-1], abs=1.5)
    assert truth.landing_utc_s == pytest.approx(truth.t_utc_s[-1], abs=0.01)
    assert truth.agl_m[-1] == pytest.approx(0.0, abs=0.5)
    assert (truth.landing_east_m, truth.landing_north_m) == (truth.east_m[-1], truth.north_m[-1])


def test_jumps_are_consistent() -> None:
    for seed in range(4):
        for make in (record_jump, harsh_jump, ambiguous_jump):
            consistent(make(seed))


def test_recording_follows_the_truth() -> None:
    """The fixes lie about the true path by the receiver's errors, the height by its offset."""
    clean = replace(
        draw_setup(3).receiver, rate_hz=5.0, white_m=0.0, drift_m=0.0, height_white_m=0.0, height_drift_m=0.0, height_offset_m=0.0,
        smooth_s=0.0, lost=0.0, height_digits=3,
    )  # fmt: skip
    jump = record_jump(3, receiver=clean)
    truth, recording = jump.truth, jump.recording
    inside = (recording.time_s > truth.t_utc_s[0]) & (recording.time_s < truth.t_utc_s[-1])
    lat, lon = to_geodetic(
        truth.target_lat,
        truth.target_lon,
        np.interp(recording.time_s[inside], truth.t_utc_s, truth.east_m),
        np.interp(recording.time_s[inside], truth.t_utc_s, truth.north_m),
    )
    agl = np.interp(recording.time_s[inside], truth.t_utc_s, truth.agl_m)
    assert recording.lat_deg[inside] == pytest.approx(lat, abs=3e-7)
    assert recording.lon_deg[inside] == pytest.approx(lon, abs=6e-7)
    assert recording.altitude_m[inside] - truth.ground_elevation_m == pytest.approx(agl, abs=0.3)


def test_gates_are_where_the_turns_begin() -> None:
    for seed in range(12):
        truth = record_jump(seed).truth
        assert [g.name for g in truth.gates] == ["crosswind", "downwind", "base", "final"]
        assert truth.kind == "box"
        for gate in truth.gates:
            i = int(np.argmin(np.abs(truth.t_utc_s - gate.utc_s)))
            assert truth.agl_m[i] == pytest.approx(gate.agl_m, abs=0.6)
            assert abs(truth.bank_deg[i]) < 16.0
            assert np.abs(truth.bank_deg[i : i + 30]).max() > 8.0
            assert gate.end_agl_m < gate.agl_m


def test_hand_is_the_side_of_the_turns() -> None:
    for seed in range(12):
        truth = record_jump(seed).truth
        base, final = truth.gate("base"), truth.gate("final")
        assert base is not None
        assert final is not None
        turned = math.remainder(final.heading_deg - base.heading_deg, 360.0)
        assert (truth.hand == "right") == (turned > 0.0)


def test_draws_keep_to_the_ensemble_of_record() -> None:
    """The numbers that define the ensemble: winds, wings, receivers, heights, styles."""
    setups = [draw_setup(s) for s in range(400)]
    u10 = np.array([np.hypot(*(float(w) for w in s.air.mean(10.0))) for s in setups])
    assert u10.min() < 1.5
    assert 7.0 < u10.max() < 9.5
    speed = np.array([s.canopy.airspeed_mps for s in setups])
    glide = speed / np.array([s.canopy.sink_mps for s in setups])
    assert (speed.min(), speed.max()) == pytest.approx((8.5, 14.0), abs=0.1)
    assert (glide.min(), glide.max()) == pytest.approx((2.3, 3.1), abs=0.02)
    banks = np.array([s.canopy.bank_deg for s in setups])
    assert (banks.min(), banks.max()) == pytest.approx((22.0, 45.0), abs=0.5)
    opening = np.array([s.open_agl_m for s in setups])
    assert (opening.min(), opening.max()) == pytest.approx((900.0, 1500.0), abs=10.0)
    assert np.mean([s.receiver.rate_hz == 1.0 for s in setups]) == pytest.approx(0.4, abs=0.08)
    assert np.mean([s.receiver.smooth_s > 0.0 for s in setups]) == pytest.approx(1.0 / 3.0, abs=0.08)
    assert np.mean([s.receiver.lost > 0.0 for s in setups]) == pytest.approx(1.0 / 3.0, abs=0.08)
    assert {s.style for s in setups} == set(HOLDING_STYLES)
    heights = np.array([s.flown_m for s in setups]) / FOOT
    assert np.median(heights, axis=0) == pytest.approx(NOMINAL_FT, abs=15.0)
    assert heights.std(axis=0) == pytest.approx([54.0] * 4, abs=14.0)
    off = [
        math.remainder(
            s.landing_deg - math.degrees(math.atan2(*(-float(w) for w in s.air.mean(30.0)))), 360.0
        )
        for s in setups
    ]
    assert np.std(off) == pytest.approx(12.0, abs=1.5)


def test_landings_are_soft_and_flights_last_some_minutes() -> None:
    for seed in range(20):
        truth = record_jump(seed).truth
        assert 120.0 < truth.t_utc_s[-1] - truth.t_utc_s[0] < 600.0
        assert (truth.agl_m[-6] - truth.agl_m[-1]) / 0.5 < 3.0


def test_harsh_air_is_harsh() -> None:
    jump = harsh_jump(5)
    assert jump.setup.receiver.lag_s == 1.0
    assert abs(jump.setup.canopy.built_in_turn_dps) >= 1.0
    assert any(abs(c.up_mps) > 0.1 for c in jump.setup.air.cells)
    assert math.hypot(jump.setup.air.change_east, jump.setup.air.change_north) == pytest.approx(2.0)
    wind_e, wind_n = jump.truth.wind(0.0)
    before = jump.setup.air.mean(0.0, 0.0)
    assert math.hypot(float(wind_e) - float(before[0]), float(wind_n) - float(before[1])) == pytest.approx(
        2.0, abs=0.01
    )


@pytest.mark.parametrize("kind", AMBIGUOUS_KINDS)
def test_ambiguous_jumps_keep_to_few_headings(kind: str) -> None:
    for seed in (1, 2, 3):
        truth = ambiguous_jump(seed, kind).truth
        above = truth.agl_m > 500.0
        heading = np.unwrap(np.radians(truth.heading_deg[above & (np.abs(truth.bank_deg) < 5.0)]))
        if kind == "there and back":
            axis = np.abs(np.sin(heading - heading[0]))
            assert np.quantile(axis, 0.9) < 0.3
        else:
            assert np.degrees(np.ptp(heading)) < (75.0 if kind == "two headings" else 20.0)


def hard_truths(pattern: str) -> list[Truth]:
    return [hard_jump(seed, pattern).truth for seed in (101, 102, 103)]


@pytest.mark.parametrize("pattern", HARD_PATTERNS)
def test_hard_patterns_are_consistent(pattern: str) -> None:
    for seed in (201, 202):
        jump = hard_jump(seed, pattern)
        consistent(jump)
        assert jump.truth.errors == (pattern,)
        assert jump.truth.gates
        assert jump.truth.gates[-1].name == "final"


def test_hard_patterns_are_what_they_say() -> None:
    for truth in hard_truths("crab of 60 degrees"):
        base = truth.gate("base")
        assert base is not None
        assert abs(math.remainder(base.heading_deg - base.track_deg, 360.0)) > 40.0
    for truth in hard_truths("base cut short to a 180"):
        assert [g.name for g in truth.gates] == ["crosswind", "downwind", "final"]
    for truth in hard_truths("straight in"):
        assert [g.name for g in truth.gates] == ["final"]
        assert truth.kind == "straight in"
        assert truth.hand is None
    for truth in hard_truths("low flat turn"):
        assert truth.gates[-1].agl_m < 100.0 * FOOT
    for truth in hard_truths("down the wind"):
        wind = [float(w) for w in truth.wind(30.0)]
        along = math.degrees(math.atan2(*wind)) - (truth.landing_deg or 0.0)
        assert abs(math.remainder(along, 360.0)) < 60.0
    for truth in hard_truths("downwind and base in one arc"):
        assert truth.optional == ("downwind", "base")
        assert truth.kind == "other"
        last = truth.gates[-1].agl_m
        arc = (truth.agl_m < last + 60.0) & (truth.agl_m > last + 2.0)
        turned = np.degrees(np.unwrap(np.radians(truth.heading_deg[arc])))
        assert np.abs(np.diff(turned)).max() * 10.0 < 10.0
        assert np.abs(turned[-1] - turned[0]) > 15.0
    for truth in hard_truths("turned to the outside"):
        assert [g.name for g in truth.gates] == ["crosswind", "downwind", "base", "final"]
    for truth in hard_truths("nil wind"):
        assert np.hypot(*truth.wind(50.0)) < 1.0
    for truth in hard_truths("other wind near the ground"):
        low, high = (math.degrees(math.atan2(*(float(w) for w in truth.wind(h)))) for h in (30.0, 300.0))
        assert abs(math.remainder(low - high, 360.0)) > 70.0
    for truth in hard_truths("S-turns on final"):
        late = truth.t_utc_s > truth.gates[-1].utc_s + 6.0
        assert np.degrees(np.ptp(np.unwrap(np.radians(truth.heading_deg[late])))) > 60.0


def test_a_changed_gate_leaves_the_flight_before_it_alone() -> None:
    """The same air and the same pilot up to the gate whose height was changed: advice can be tried."""
    setup = draw_setup(4)
    one = build(setup).truth
    two = build(replace(setup, flown_m=(*setup.flown_m[:3], setup.flown_m[3] + 20.0))).truth
    same = one.agl_m > setup.flown_m[3] + 21.0
    n = int(np.argmin(same))
    assert one.east_m[:n] == pytest.approx(two.east_m[:n], abs=1e-9)
    after = slice(n, n + 200)
    assert np.corrcoef(one.gust_east[after], two.gust_east[after])[0, 1] > 0.9
    assert one.landing_east_m != two.landing_east_m


def test_truth_is_plain_json() -> None:
    data = record_jump(6).truth.to_json()
    again = json.loads(json.dumps(data))
    assert again == data
    assert {"winds", "phases", "gates", "plan", "landing", "flight", "canopy"} <= set(data)
    assert [w["agl_m"] for w in data["winds"]][:3] == [0.0, 50.0, 100.0]
