"""build_track and its parts against closed forms, an independent filter, and made-up jumps with known truth."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import savgol_coeffs

from analyser.errors import NoFixesError
from analyser.frame import LocalFrame
from analyser.importers.clean import clean
from analyser.importers.raw import RawFixes
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.steps import find_steps
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump
from analyser.track import Track, build_track, grade_of
from analyser.velocity import half_width_s, local_velocity, noise_sd

REAL = Path(__file__).resolve().parent.parent.parent / "shared" / "real"
START = 1_780_000_000.0


def recording(t: np.ndarray, east: np.ndarray, north: np.ndarray, z: np.ndarray, **more: object) -> Recording:
    lat, lon = LocalFrame(47.0, 8.0).to_geodetic(east, north)
    nan = np.full(t.shape, np.nan)
    values = {"altitude_m": z, "speed_mps": nan, "course_deg": nan.copy()} | more
    return Recording(time_s=START + t, lat_deg=lat, lon_deg=lon, **values)


def notes(track: Track) -> set[str]:
    return {n.code for n in track.quality.notes}


def turn(t: np.ndarray, deg_s: float, speed: float = 10.0) -> tuple[np.ndarray, np.ndarray]:
    """Places and velocities (n, 2) of a steady turn."""
    w = math.radians(deg_s)
    place = speed / w * np.stack([np.sin(w * t), np.cos(w * t)], axis=1)
    return place, speed * np.stack([np.cos(w * t), -np.sin(w * t)], axis=1)


# ---- velocity ----------------------------------------------------------------------------------------------------------


def test_kernel_constants_from_the_moments_of_the_weights() -> None:
    """Slope of a local cubic under (1 - u²)² weights: variance and fifth moment in closed form, and by summation."""
    u = (np.arange(200_000) + 0.5) / 100_000 - 1.0
    du, w = 1e-5, (1.0 - u * u) ** 2
    mu = [float(np.sum(w * u**k) * du) for k in range(9)]
    a, b = np.linalg.solve([[mu[2], mu[4]], [mu[4], mu[6]]], [1.0, 0.0])
    kernel = (a * u + b * u**3) * w
    from analyser import velocity

    assert velocity._KERNEL_VARIANCE == pytest.approx(np.sum(kernel**2) * du, rel=1e-6)
    assert pytest.approx(abs(np.sum(kernel * u**5) * du) / 120, rel=1e-6) == velocity._KERNEL_BIAS


def test_a_cubic_path_is_followed_exactly_on_uneven_times() -> None:
    rng = np.random.default_rng(3)
    t = np.cumsum(rng.uniform(0.7, 1.3, 80))
    x = 3.0 + 2.0 * t - 0.3 * (t - 40) ** 2 + 0.004 * (t - 40) ** 3
    v = 2.0 - 0.6 * (t - 40) + 0.012 * (t - 40) ** 2
    found = local_velocity(t, x, noise=0.02, acceleration_sd=1e6, jerk_sd=1e6)
    np.testing.assert_allclose(found.velocity[3:-3], v[3:-3], atol=1e-6)
    np.testing.assert_allclose(found.position[3:-3], x[3:-3], atol=1e-6)
    np.testing.assert_allclose(found.acceleration[3:-3], (-0.6 + 0.024 * (t - 40))[3:-3], atol=1e-6)


def test_against_savitzky_and_golay() -> None:
    """On even times the slope of the local cubic is a convolution; scipy's coefficients, with the same weights, agree."""
    rng = np.random.default_rng(4)
    x = rng.normal(0, 1, 200).cumsum()
    offsets = np.arange(-3, 4)
    weights = (1 - (offsets / 3.6) ** 2) ** 2
    design = np.vander(offsets, 4, increasing=True)
    slope = np.linalg.solve(design.T @ (weights[:, None] * design), design.T * weights)[1]
    np.testing.assert_allclose(
        np.linalg.pinv(design)[1], savgol_coeffs(7, 3, deriv=1, use="dot"), atol=1e-12
    )  # the design is theirs
    expected = np.correlate(x, slope, mode="valid")
    found = local_velocity(
        np.arange(200.0), x, noise=0.02, half_width=3.6, acceleration_sd=1e6, jerk_sd=1e6
    ).velocity[3:-3]
    np.testing.assert_allclose(found, expected, atol=1e-6)


@pytest.mark.parametrize("hz", [1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("noise", [0.1, 0.3, 1.0])
def test_a_turn_of_twenty_degrees_a_second_is_not_flattened(hz: float, noise: float) -> None:
    """The bias of the speed stays below half the noise of a velocity component; the naive 5 s line at 1 Hz loses 0.7 m/s."""
    rng = np.random.default_rng(7)
    t = np.arange(0, 90, 1 / hz)
    place, true = turn(t, 20.0)
    runs = np.array(
        [local_velocity(t, place + rng.normal(0, noise, place.shape)).velocity for _ in range(40)]
    )
    inside = slice(int(6 * hz), -int(6 * hz))
    mean = runs.mean(axis=0)[inside]
    bias = np.abs(np.mean(np.sum(mean * true[inside], axis=1)) / 10.0 - 10.0)
    scatter = float(np.std(runs[:, inside] - mean))
    said = float(np.median(local_velocity(t, place, noise=noise).velocity_sd[inside]))
    assert bias < 0.5 * scatter
    assert bias < 0.15
    assert said == pytest.approx(scatter, rel=0.15)


def test_the_window_follows_rate_and_noise() -> None:
    assert half_width_s(0.3, 0.1) < half_width_s(0.3, 0.5) < half_width_s(1.0, 0.5)
    assert half_width_s(0.1, 1.0) >= 2.6
    assert half_width_s(50.0, 0.1) <= 5.0
    assert half_width_s(0.3, 7.0) == pytest.approx(18.2)


@pytest.mark.parametrize("noise", [0.05, 0.3, 2.0])
@pytest.mark.parametrize("hz", [1.0, 10.0])
def test_noise_is_measured_in_the_midst_of_turns(noise: float, hz: float) -> None:
    rng = np.random.default_rng(11)
    t = np.sort(np.arange(0, 400, 1 / hz) + rng.uniform(-0.2, 0.2, int(400 * hz)) / hz)
    place, _ = turn(t, 20.0)
    found = noise_sd(t, place[:, 0] + rng.normal(0, noise, t.size))
    assert noise * 0.85 < found < noise * 1.15 + 0.06


def test_no_difference_over_a_gap() -> None:
    """Two straight flights with a leap of a kilometre in the ten seconds between: nobody sees 100 m/s."""
    t = np.concatenate([np.arange(30.0), np.arange(40.0, 70.0)])
    x = np.where(t < 35, 10.0 * t, 1000.0 - 8.0 * t)
    found = local_velocity(t, x).velocity
    np.testing.assert_allclose(found[:30], 10.0, atol=1e-6)
    np.testing.assert_allclose(found[30:], -8.0, atol=1e-6)


def test_long_recordings_are_fitted_in_blocks_without_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(6)
    t = np.cumsum(rng.choice([0.05, 0.1, 0.1, 0.2, 5.0], 1200, p=[0.2, 0.3, 0.3, 0.19, 0.01]))
    x = rng.normal(0, 1, (1200, 2)).cumsum(axis=0)
    x[rng.random(1200) < 0.05] = np.nan
    whole = local_velocity(t, x, noise=0.3)
    monkeypatch.setattr("analyser.velocity._BLOCK", 70)
    for one, other in zip(whole, local_velocity(t, x, noise=0.3)):
        np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9)


def test_lonely_and_unknown_fixes() -> None:
    t = np.array([0.0, 1.0, 2.0, 50.0, 100.0, 101.0, 102.0])
    x = np.array([0.0, 5.0, 10.0, 3.0, 0.0, math.nan, 4.0])
    found = local_velocity(t, x, noise=0.1, gap_s=3.0)
    np.testing.assert_allclose(found.velocity, [5, 5, 5, np.nan, 2, 2, 2], atol=0.2)
    assert found.position[3] == 3.0
    assert np.isfinite(found.position[5])
    assert local_velocity([], []).velocity.shape == (0,)
    assert np.isnan(local_velocity([0.0], [1.0]).velocity).all()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 9), st.floats(-1e4, 1e4) | st.just(math.nan)), min_size=1, max_size=40
    ),
    st.floats(-100, 100),
    st.floats(-50, 50),
)
def test_velocity_moves_with_the_world(rows: list[tuple[float, float]], shift: float, drift: float) -> None:
    """Adding a place and a steady wind adds exactly that wind; time reversed reverses the sign."""
    t = np.cumsum([r[0] for r in rows])
    x = np.array([r[1] for r in rows])
    one = local_velocity(t, x, noise=0.3).velocity
    two = local_velocity(t, x + shift + drift * t, noise=0.3).velocity
    np.testing.assert_allclose(
        two - one,
        np.where(np.isnan(one), np.nan, drift),
        atol=1e-4 * (1 + np.nanmax(np.abs(np.append(x, 0)))),
    )
    back = local_velocity(-t[::-1], x[::-1], noise=0.3).velocity[::-1]
    np.testing.assert_allclose(-back, one, atol=1e-5 * (1 + np.nanmax(np.abs(np.append(x, 0)))))


def test_time_is_linear_in_the_fixes() -> None:
    """15,000 fixes within 150 ms (60 ms on an idle machine), ten times as many in less than 25 times that."""
    rng = np.random.default_rng(1)
    seconds = []
    for n in (15_000, 150_000):
        t = np.arange(n) * 0.1
        z = 400.0 + np.maximum(0.0, 3000.0 - 3.0 * np.abs(t - 0.4 * t[-1]))
        found = recording(t, rng.normal(0, 0.1, n).cumsum(), rng.normal(0, 0.1, n).cumsum(), z)
        best = math.inf
        for _ in range(2):
            started = time.process_time()
            build_track(found)
            best = min(best, time.process_time() - started)
        seconds.append(best)
    assert seconds[0] < 0.15
    assert seconds[1] < 25 * seconds[0]


# ---- Doppler -----------------------------------------------------------------------------------------------------------


def circling(hz: float = 5.0, noise: float = 0.3) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    t = np.arange(0, 120, 1 / hz)
    place, v = turn(t, 15.0)
    return t, place + rng.normal(0, noise, place.shape), v, 900.0 - 4.0 * t


@pytest.mark.parametrize(
    ("spoil", "source", "code"),
    [
        ("nothing", "doppler", None),
        ("holes", "doppler", None),
        ("half missing", "position", "recorded-speed-incomplete"),
        ("no course", "position", "speed-without-course"),
        ("knots", "position", "recorded-speed-inconsistent"),
        ("another heading", "position", "recorded-speed-inconsistent"),
        ("late", "position", "recorded-speed-inconsistent"),
        ("coarse", "position", "recorded-speed-coarse"),
    ],
)
def test_recorded_velocity_is_taken_whole_or_not_at_all(spoil: str, source: str, code: str | None) -> None:
    t, place, v, z = circling()
    rng = np.random.default_rng(8)
    v = v + rng.normal(0, 0.05, v.shape)
    if spoil == "late":
        v = v[np.maximum(np.arange(t.size) - 8, 0)]
    if spoil == "coarse":
        v = v + rng.normal(0, 0.8, v.shape)
    speed, course = np.hypot(v[:, 0], v[:, 1]), np.degrees(np.arctan2(v[:, 0], v[:, 1])) % 360
    if spoil == "holes":
        speed[[50, 51, 200]] = np.nan
    if spoil == "half missing":
        speed[::2] = np.nan
    if spoil == "no course":
        course[:] = np.nan
    if spoil == "knots":
        speed *= 1.944
    if spoil == "another heading":
        course = (course + 180) % 360
    track = build_track(recording(t, place[:, 0], place[:, 1], z, speed_mps=speed, course_deg=course))
    assert track.velocity_source == source
    assert notes(track) & {
        "recorded-speed-incomplete",
        "recorded-speed-inconsistent",
        "recorded-speed-coarse",
        "speed-without-course",
    } == ({code} if code else set())
    if source == "doppler":
        assert np.all(np.isfinite(track.v_east))
        np.testing.assert_allclose(track.v_east[60:100], v[60:100, 0], atol=0.3)


@pytest.mark.parametrize(
    ("spoil", "taken"), [("nothing", True), ("late", False), ("feet", False), ("half missing", False)]
)
def test_recorded_climb_is_taken_where_it_agrees(spoil: str, taken: bool) -> None:
    t = np.arange(0, 200, 0.2)
    rng = np.random.default_rng(9)
    climb = -5.0 - 4.0 * np.sin(t / 4)
    z = 1500 - 5.0 * t + 16.0 * np.cos(t / 4) + rng.normal(0, 0.4, t.size)
    place, _ = turn(t, 10.0)
    said = climb + rng.normal(0, 0.05, t.size)
    if spoil == "late":
        said = said[np.maximum(np.arange(t.size) - 8, 0)]
    if spoil == "feet":
        said = said * 3.28
    if spoil == "half missing":
        said[::2] = np.nan
    track = build_track(recording(t, place[:, 0], place[:, 1], z, climb_mps=said))
    assert bool(np.array_equal(track.v_up, said)) == taken
    assert np.sqrt(np.mean((track.v_up - climb)[20:-20] ** 2)) < (0.06 if taken else 0.4)


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
    assert np.median(other.agl_m[-30:]) == pytest.approx(0.0, abs=0.5)


def test_a_recording_without_heights() -> None:
    found = jump()
    track = build_track(replace(found, altitude_m=np.full(len(found), np.nan)))
    assert np.isnan(track.agl_m).all()
    assert np.isnan(track.v_up).all()
    assert np.isfinite(track.v_east).all()
    assert notes(track) == {"no-altitude"}
    assert track.quality.grade == "poor"


def test_the_frame_is_where_it_was_asked_for() -> None:
    track = build_track(jump(), origin=(47.001, 8.0))
    assert (track.frame.lat_deg, track.frame.lon_deg) == (47.001, 8.0)
    assert np.median(track.north_m) == pytest.approx(
        -111.2, abs=0.3
    )  # a thousandth of a degree of latitude at 47° N


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


# ---- made-up jumps through odd receivers --------------------------------------------------------------------------------------

PLAIN = {"rate_hz": 1.0, "white_m": 0.2, "drift_m": 1.0, "height_white_m": 0.5, "height_drift_m": 1.5}
# receiver: (its faults, notes that must be there, velocity error at most [m/s], height error at most [sd])
ODD = {
    "record": ({}, set(), 0.35, 2.5),
    "5 Hz": ({"rate_hz": 5.0}, set(), 0.3, 2.5),
    "10 Hz": ({"rate_hz": 10.0}, set(), 0.3, 2.5),
    "jitter": ({"interval_s": (0.743, 1.236)}, set(), 0.4, 2.5),
    "lost fixes": ({"lost": 0.1}, set(), 0.45, 2.5),
    "smart recording": ({"smart": True}, set(), 2.5, 2.5),
    "filter": ({"smooth_s": 1.5}, set(), 1.0, 2.5),
    "five digits": ({"digits": 5}, set(), 0.45, 2.5),
    "Doppler": ({"doppler": True}, set(), 0.2, 2.5),
    "static hold": ({"hold_below_mps": 2.0}, set(), 0.6, 2.5),
    "20 m/s down at most": ({"most_down_mps": 20.0}, set(), 0.4, 2.5),
    "gap before opening": ({"gap_s": 60.0}, set(), 0.4, 2.5),
    "level drifts": ({"ground_drift_m": 20.0}, {"ground-levels-differ"}, 0.35, 2.5),
    "barometer set again": ({"baro_step_m": 15.0}, {"altitude-step"}, 0.35, 2.5),
    "clock back": ({"clock_fault": "leap back"}, {"clock-shift"}, 0.4, 2.5),
    "old fixes": ({"clock_fault": "stale"}, {"duplicate"}, 0.35, 2.5),
    "block twice": ({"clock_fault": "duplicates"}, {"duplicate"}, 0.35, 2.5),
    "12 h": ({"clock_fault": "12 h"}, {"clock-shift"}, 0.35, 2.5),
    "12 h later": ({"clock_fault": "12 h later"}, {"clock-shift"}, 0.35, 2.5),
    "feet": ({"height_fault": "feet"}, {"altitude-maybe-feet"}, 0.35, None),
}


def through(found: SyntheticJump) -> Track:
    f = found.fixes
    raw = RawFixes(
        "gpx",
        *(np.array(v) for v in (f.time_s, f.lat_deg, f.lon_deg, f.altitude_m, f.speed_mps, f.course_deg)),
        np.zeros(len(f), dtype=np.int64),
    )
    return build_track(clean(raw), origin=(found.truth.target_lat, found.truth.target_lon))


@pytest.mark.parametrize("name", ODD)
def test_receivers(name: str) -> None:
    """Three jumps each: what is said, and how far velocity and height under canopy move from the truth."""
    faults, must, worst_mps, worst_sd = ODD[name]
    said: set[str] = set()
    errors, heights = [], []
    for seed in (411, 412, 413):
        found = record_jump(seed, receiver=Receiver(name=name, **(PLAIN | faults)))
        truth, track = found.truth, through(found)
        said |= notes(track)
        utc = track.start_utc_s + track.t_s
        at = (utc > truth.t_utc_s[0] + 3) & (utc < truth.t_utc_s[-1] - 3)
        assert np.count_nonzero(at) > 0.5 * np.count_nonzero(
            (found.recording.time_s > truth.t_utc_s[0]) & (found.recording.time_s < truth.t_utc_s[-1])
        )
        for place, v in ((truth.east_m, track.v_east), (truth.north_m, track.v_north)):
            errors.append(v[at] - np.interp(utc[at], truth.t_utc_s, np.gradient(place, truth.t_utc_s)))
        off = track.agl_m[at] - np.interp(utc[at], truth.t_utc_s, truth.agl_m)
        heights.append(float(np.mean(off)) / track.agl_sd_m)
    rms = float(np.sqrt(np.nanmean(np.concatenate(errors) ** 2)))
    assert must <= said
    assert said <= must | {"frozen", "ground-levels-differ", "landing-elevation"}
    assert rms < worst_mps
    if name == "feet":
        assert track.quality.grade == "poor"
        assert track.agl_sd_m > 100.0
    if worst_sd is not None:
        assert max(abs(h) for h in heights) < worst_sd


def test_height_errors_are_as_large_as_they_are_said_to_be() -> None:
    """Over 24 made-up jumps the slow height error under canopy, in its stated sd, has a mean square between 0.1 and 1.5."""
    scaled = []
    for seed in range(500, 524):
        found = record_jump(seed)
        truth, track = found.truth, through(found)
        utc = track.start_utc_s + track.t_s
        at = (utc > truth.t_utc_s[0]) & (utc < truth.t_utc_s[-1])
        off = track.agl_m[at] - np.interp(utc[at], truth.t_utc_s, truth.agl_m)
        scaled.append(float(np.mean(off)) / track.agl_sd_m)
    assert 0.1 < np.mean(np.square(scaled)) < 1.5
    assert max(np.abs(scaled)) < 3.5


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
    np.testing.assert_array_equal(np.isnan(track.agl_m), np.isnan(found.altitude_m))
    for values in (track.v_east, track.v_north, track.v_up):
        assert not np.any(np.isinf(values))
