"""build_track: level, frame, gaps, grade, real flights."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from effort import assert_linear
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import track_of
from track_cases import START, notes, recording

from analyser.errors import NoFixesError
from analyser.frame import LocalFrame
from analyser.importers.read import read
from analyser.importers.recording import Note, Recording
from analyser.track import build_track, grade_of
from analyser.track.ground import find_ground
from analyser.track.steps import find_steps

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"


# ---- level and frame -----------------------------------------------------------------------------------------------------


def jump(
    *,
    hz: float = 1.0,
    before: float = 60,
    after: float = 60,
    field: float = 0.0,
    drift: float = 0.0,
    start: float = 0.0,
    seed: int = 1,
) -> Recording:
    """A climb to 1000 m above the take-off, then 5 m/s down to a field ``field`` m higher; walk-off drift in metres in all."""
    rng = np.random.default_rng(seed)
    legs = [(before, 0.0), (200.0, 5.0), (10.0, 0.0), ((1000.0 - field) / 5.0, -5.0), (after, 0.0)]
    edges = np.cumsum([0.0] + [seconds for seconds, _ in legs])
    heights = np.cumsum([0.0] + [seconds * rate for seconds, rate in legs])
    t = np.arange(start, edges[-1], 1 / hz)
    z = 300.0 + np.interp(t, edges, heights) + drift * t / edges[-1] + rng.normal(0, 0.4, t.size)
    moving = np.interp(
        t, [0, edges[1], edges[-2], edges[-1]], [0, 0, edges[-2] - edges[1], edges[-2] - edges[1]]
    )
    east = 12.0 * np.where(moving < moving[-1] / 2, moving, moving[-1] - moving) + rng.normal(0, 0.2, t.size)
    return recording(t, east + 40.0 * (moving == moving[-1]), rng.normal(0, 0.2, t.size), np.round(z, 1))


def test_height_is_above_the_rest_after_the_landing() -> None:
    track = build_track(jump())
    assert track.ground_elevation_m == pytest.approx(300.0, abs=0.5)
    assert np.median(track.agl_m[-30:]) == pytest.approx(0.0, abs=0.3)
    assert abs(track.east_m[-1]) < 1.0
    assert track.quality.grade == "good"
    assert track.quality.notes == ()
    assert 1.0 < track.agl_sd_m < 5.0


def test_another_elevation_than_the_take_off_is_not_drift() -> None:
    track = build_track(jump(field=120.0))
    assert track.ground_elevation_m == pytest.approx(420.0, abs=0.5)
    assert notes(track) == {"landing-elevation"}
    assert track.quality.grade == "good"
    assert track.agl_sd_m < 5.0


def test_another_field_far_away_at_nearly_the_same_height_is_not_drift() -> None:
    whole = jump(drift=18.0)
    far = np.where(np.arange(len(whole)) < 300, whole.lon_deg - 0.1, whole.lon_deg)  # 7.6 km
    track = build_track(replace(whole, lon_deg=far))
    assert "ground-levels-differ" not in notes(track)
    assert "landing-elevation" in notes(track)
    text = next(n.text for n in track.quality.notes if n.code == "landing-elevation")
    assert re.search(r"is 1[5-9] m higher than the take-off place", text)


def test_levels_that_differ_on_one_field_are_said_and_widen_the_error() -> None:
    track = build_track(jump(drift=18.0))
    assert notes(track) == {"ground-levels-differ"}
    assert np.median(track.agl_m[-30:]) == pytest.approx(0.0, abs=1.5)
    assert track.agl_sd_m > 1.5 * build_track(jump()).agl_sd_m
    assert track.quality.grade == "usable"


def test_without_a_rest_after_the_landing_the_take_off_serves() -> None:
    whole = jump()
    track = build_track(whole.slice(0, 430))
    assert notes(track) == {"ground-level-before"}
    assert track.ground_elevation_m == pytest.approx(300.0, abs=0.5)
    assert track.agl_sd_m > build_track(whole).agl_sd_m


def test_a_recording_that_stops_on_touchdown() -> None:
    whole = jump(before=0, start=100.0)
    landed = int(np.searchsorted(whole.time_s, START + 410.0))
    track = build_track(whole.slice(0, landed + 4))
    assert track.ground_elevation_m == pytest.approx(300.0, abs=2.0)
    assert "ground-level-unknown" not in notes(track)


def test_a_take_off_on_a_hill_is_not_the_level_of_a_landing_not_seen() -> None:
    whole = jump(field=-200.0)
    track = build_track(whole.slice(0, int(np.searchsorted(whole.time_s, START + 500.0))))
    assert notes(track) == {"ground-level-unknown"}
    assert float(np.min(track.agl_m)) == 0.0


def test_in_the_air_throughout_nothing_is_claimed() -> None:
    track = build_track(jump().slice(290, 400))
    assert notes(track) == {"ground-level-unknown"}
    assert track.agl_sd_m > 100.0
    assert track.quality.grade == "poor"
    assert float(np.min(track.agl_m)) == 0.0


def test_a_given_elevation_is_reported_but_heights_count_from_the_rest_after_landing() -> None:
    agreeing = build_track(jump(), elevation_m=303.0)
    assert notes(agreeing) == set()
    assert agreeing.ground_elevation_m == 303.0
    assert np.median(agreeing.agl_m[-30:]) == pytest.approx(0.0, abs=0.5)
    other = build_track(jump(), elevation_m=340.0)
    assert notes(other) == {"elevation-disagrees"}
    assert other.ground_elevation_m == 340.0
    unseen = jump().slice(
        0, 430
    )  # it does not rest after the landing: heights count from the given elevation
    near, off = (build_track(unseen, elevation_m=e) for e in (300.0, 340.0))
    assert np.min(near.agl_m) - np.min(off.agl_m) == pytest.approx(40.0, abs=0.5)
    assert off.agl_sd_m > 15.0 > 2.0 * near.agl_sd_m
    assert np.median(other.agl_m[-30:]) == pytest.approx(0.0, abs=0.5)


def test_a_recording_without_heights() -> None:
    found = jump()
    track = build_track(replace(found, altitude_m=np.full(len(found), np.nan)))
    assert np.isnan(track.agl_m).all()
    assert np.isnan(track.v_up).all()
    assert np.isfinite(track.v_east).all()
    assert notes(track) == {"no-altitude"}
    assert track.quality.grade == "poor"


def test_short_holes_of_the_altitude_are_bridged_and_long_ones_stay() -> None:
    found = jump()
    z = found.altitude_m.copy()
    z[[300, 301, 350]] = np.nan
    z[400:410] = np.nan
    z[-3:] = np.nan
    track = build_track(replace(found, altitude_m=z))
    whole = build_track(found)
    np.testing.assert_allclose(track.agl_m[[300, 301, 350]], whole.agl_m[[300, 301, 350]], atol=2.5)
    assert np.flatnonzero(np.isnan(track.agl_m)).tolist() == [*range(400, 410), *range(len(z) - 3, len(z))]


def test_the_frame_is_where_it_was_asked_for() -> None:
    track = build_track(jump(), origin=(47.001, 8.0))
    assert (track.frame.lat_deg, track.frame.lon_deg) == (47.001, 8.0)
    assert np.median(track.north_m) == pytest.approx(
        -111.2, abs=0.3
    )  # a thousandth of a degree of latitude at 47° N


def test_places_beyond_the_pole_stay_on_the_globe() -> None:
    lat, lon = LocalFrame(80.0, 8.0).to_geodetic([0.0, 3e6, -2e7], [2e6, 9e6, 2e7])
    assert np.all(np.abs(lat) <= 90.0)
    assert np.all(np.abs(lon) <= 180.0)


def test_nothing_and_little() -> None:
    with pytest.raises(NoFixesError):
        build_track(jump().slice(0, 0))
    for n in (1, 2, 3, 6):
        track = build_track(jump().slice(0, n))
        assert len(track) == n
        assert track.quality.grade == "poor" or n > 1


def test_steps_of_a_barometer_are_joined_and_an_opening_is_none() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0, 400.0)
    fall = np.where(t < 100, 3000.0, np.maximum(3000 - 50 * np.maximum(t - 100, 0), 900 - 5 * (t - 142)))
    fall = np.maximum(fall, 0.0) + rng.normal(0, 0.5, t.size)
    assert find_steps(t, fall, 3.0).found == 0
    stepped = fall + np.where(t < 200, 14.0, 0.0) + np.where(t < 50, -9.0, 0.0)
    found = find_steps(t, stepped, 3.0)
    assert found.found == 2
    np.testing.assert_allclose(stepped + found.offset_m, fall, atol=2.5)
    assert {n.code for n in found.notes} == {"altitude-step"}


def test_a_wing_that_swings_down_in_its_turns_makes_no_step() -> None:
    t = np.arange(0, 400.0)
    turns = sum(10.0 * np.clip((t - at) / 2.0 + 0.5, 0.0, 1.0) for at in (60.3, 120.9, 180.6))
    for seed in range(8):
        noise = np.random.default_rng(seed).normal(0.0, 0.3, t.size)
        down = np.maximum(1500.0 - 5.0 * t, 0.0) - turns + noise
        assert find_steps(t, down, 3.0).found == 0, seed
        reset = find_steps(t, down + np.where(t < 150.0, 8.0, 0.0), 3.0)
        assert reset.found == 1, seed
        np.testing.assert_allclose(reset.offset_m[0], -8.0, atol=2.0)


def test_a_step_of_the_altitude_widens_the_error_of_the_heights() -> None:
    whole = jump()
    z = whole.altitude_m + np.where(np.arange(len(whole)) < 350, 14.0, 0.0)
    stepped = build_track(replace(whole, altitude_m=z))
    assert "altitude-step" in notes(stepped)
    plain = build_track(whole)
    assert stepped.agl_sd_m == pytest.approx(np.hypot(plain.agl_sd_m, 2.0), abs=0.5)
    assert stepped.agl_sd_m > plain.agl_sd_m


def test_a_long_rest_sets_the_level_by_what_is_nearest_to_the_flight() -> None:
    """The pressure drifts while the recorder waits: the first half hour says little about the level at take-off."""
    whole = jump(before=2400.0)
    drift = np.interp(whole.time_s - START, [0.0, 2300.0, 2400.0], [40.0, 0.0, 0.0])
    ground = build_track(replace(whole, altitude_m=whole.altitude_m + drift).slice(0, 2770))
    assert notes(ground) == {"ground-level-before"}
    assert ground.ground_elevation_m == pytest.approx(300.0, abs=1.5)


def test_no_velocity_is_claimed_to_be_exact() -> None:
    t = np.arange(0.0, 100.0)
    track = build_track(recording(t, 10.0 * t, 0.0 * t, 500.0 - 4.0 * t))
    assert (
        0.15 <= track.velocity_sd < 0.3
    )  # what filters, slow errors and turns leave, beside no noise at all


def test_a_brisk_walk_after_the_landing_is_no_rest() -> None:
    t = np.arange(0.0, 200.0)
    east = np.interp(t, [0.0, 100.0, 150.0, 200.0], [0.0, 900.0, 1050.0, 1050.0])
    z = np.interp(t, [0.0, 100.0, 150.0, 200.0], [500.0, 0.0, 12.0, 12.0])
    velocity = (np.gradient(east), np.zeros(t.size), np.gradient(z))
    after = find_ground(t, east, np.zeros(t.size), z, velocity).after
    assert after is not None
    assert after.start == pytest.approx(150, abs=1)
    assert after.level_m == 12.0


def test_gaps_are_those_of_the_flight() -> None:
    whole = jump(after=200)
    away = np.r_[5:20, 350:370, 480:520]
    kept = np.setdiff1d(np.arange(len(whole)), away)
    cut = Recording(
        *(
            getattr(whole, n)[kept]
            for n in ("time_s", "lat_deg", "lon_deg", "altitude_m", "speed_mps", "course_deg")
        )
    )
    track = build_track(cut)
    assert [round(g.seconds) for g in track.quality.gaps] == [21]
    assert track.quality.gaps[0].start_s == START + 349
    assert track.quality.grade == "poor"


@pytest.mark.parametrize(
    ("change", "grade"),
    [
        ({}, "good"),
        ({"interval_s": 2.0}, "usable"),
        ({"interval_s": 4.0}, "poor"),
        ({"longest_gap_s": 8.0}, "usable"),
        ({"noise_m": 3.0}, "usable"),
        ({"levels_differ_m": -20.0}, "usable"),
        ({"levels_differ_m": math.nan}, "good"),
        ({"dropped": 0.2}, "poor"),
        ({"has_ground": False}, "poor"),
    ],
)
def test_grade(change: dict[str, float], grade: str) -> None:
    fine = {
        "has_ground": True,
        "interval_s": 0.2,
        "longest_gap_s": 0.0,
        "noise_m": 0.3,
        "levels_differ_m": 2.0,
        "dropped": 0.0,
    }
    assert grade_of(**(fine | change)) == grade


def test_the_work_is_linear_in_the_fixes() -> None:
    rng = np.random.default_rng(1)

    def flight(n: int) -> Recording:
        t = np.arange(n) * 0.1
        z = 400.0 + np.maximum(0.0, 3000.0 - 3.0 * np.abs(t - 0.4 * t[-1]))
        return recording(t, rng.normal(0, 0.1, n).cumsum(), rng.normal(0, 0.1, n).cumsum(), z)

    short, long = flight(15_000), flight(150_000)
    assert_linear(lambda: build_track(short), lambda: build_track(long), 10)


# ---- real flights ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["0009", "0014", "0033", "0041"])
def test_real_glide_downs(name: str) -> None:
    """Open paraglider recordings (twpayne/go-igc, testdata, MIT): launch on a hill, glide, landing, rest."""
    path = REAL / f"paraglider_glide_{name}.gpx.gz"
    if not path.exists():
        pytest.skip("the shared real tracks are not beside the repository")
    track = build_track(read(path))
    assert np.all(np.isfinite(track.v_east))
    assert np.median(np.abs(track.agl_m[-20:])) < 3.0
    speed = np.hypot(track.v_east, track.v_north)
    assert 7.0 < np.median(speed[track.agl_m > 100]) < 16.0
    step = np.hypot(np.diff(track.east_m), np.diff(track.north_m)) / np.diff(track.t_s)
    apart = np.abs(0.5 * (speed[1:] + speed[:-1]) - step)[np.diff(track.t_s) < 1.5]
    assert np.percentile(apart, 99.0) < 4.0  # one of the four has a leap of 20 m in its positions


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0.001, 5000.0) | st.just(1.0),
            st.floats(-90.0, 90.0) | st.floats(46.99, 47.01),
            st.floats(-180.0, 180.0) | st.floats(7.99, 8.01),
            st.floats(-600.0, 30_000.0) | st.floats(300.0, 900.0) | st.just(math.nan),
            st.just(math.nan) | st.floats(0.0, 300.0),
            st.just(math.nan) | st.floats(0.0, 360.0),
        ),
        min_size=1,
        max_size=60,
    )
)
def test_any_recording_gives_a_track(rows: list[tuple[float, ...]]) -> None:
    """Fixes anywhere on the globe, at any intervals (a mutation of a good file once put the frame off the globe)."""
    columns = np.array(rows).T
    found = Recording(START + np.cumsum(columns[0]), *(c.copy() for c in columns[1:]))
    track = build_track(found)
    assert len(track) == len(rows)
    assert abs(track.frame.lat_deg) <= 90.0
    assert abs(track.frame.lon_deg) <= 180.0
    assert np.all(np.isfinite(track.east_m))
    assert not np.any(np.isnan(track.agl_m) & np.isfinite(found.altitude_m))
    for values in (track.v_east, track.v_north, track.v_up):
        assert not np.any(np.isinf(values))


@pytest.mark.parametrize(
    ("share", "grade"), [(0.0, "good"), (0.015, "good"), (0.05, "usable"), (0.2, "poor")]
)
def test_the_share_of_fixes_that_were_dropped_counts_and_not_their_number(share: float, grade: str) -> None:
    whole = jump()
    dropped = round(share * len(whole))
    noted = replace(whole, notes=(Note("spike", "dropped", dropped),), copies=0)
    assert build_track(noted).quality.grade == grade
    assert build_track(replace(noted, copies=dropped)).quality.grade == "good"


def test_a_track_tells_in_one_line_how_long_it_is() -> None:
    """A Track of eleven fixes from second 100 to second 105."""
    text = repr(track_of([(100.0, 0.0, 0.0, 5.0), (105.5, 0.0, 0.0, 0.0)], after_s=0.0))
    assert "of 11 fixes over 5 s" in text
    assert "velocity from position" in text
