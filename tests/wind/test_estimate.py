"""Recovered winds on whole made-up jumps: truth in the intervals, turned worlds, open questions refused, odd flights survived."""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from effort import assert_linear
from worlds.ensembles import ambiguous_jump, harsh_jump

from analyser.angles import wind_vector
from analyser.api import estimate_wind as from_arrays
from analyser.errors import EstimateError
from analyser.phases import find_phases
from analyser.synthetic.air import Air
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import Truth
from analyser.track import Track, build_track
from analyser.units import KNOT_MPS
from analyser.wind.estimate import WindEstimate, estimate_wind
from analyser.wind.profile import WindProfile
from analyser.wind.status import MEASURED_SD_MPS, undetermined_profile
from analyser.wind.straight import spread_of

CHI2_95, CHI2_50 = -2.0 * math.log(0.05), -2.0 * math.log(0.5)
MAKERS = {"record": record_jump, "harsh": harsh_jump, "ambiguous": ambiguous_jump}


@functools.cache
def jump(ensemble: str, seed: int) -> tuple[Track, Truth, WindEstimate]:
    """Track, truth and estimate of a made-up jump."""
    made = MAKERS[ensemble](seed)
    track = build_track(made.recording)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    return track, made.truth, estimate_wind(track, canopy.start, canopy.stop)


def measured(ensemble: str, seed: int) -> list[tuple[float, float, float]]:
    """Error [m/s], squared distance in standard deviations, worst sd of every measured height."""
    _, truth, found = jump(ensemble, seed)
    rows = []
    for h in found.profile.agl_m:
        at = found.profile.at(float(h))
        if at.status == "measured" and h <= truth.agl_m[0] - 50.0:
            east, north = truth.wind(np.array([h]))
            d = np.array([at.east - east[0], at.north - north[0]])
            rows.append((float(np.hypot(*d)), float(d @ np.linalg.solve(at.covariance, d)), at.worst_sd))
    return rows


def all_measured(ensemble: str, seeds: range) -> np.ndarray:
    return np.array([row for seed in seeds for row in measured(ensemble, seed)])


SEEDS = range(31_000, 31_036)


@pytest.mark.slow
def test_errors_are_small() -> None:
    """Median over jumps ≤ 0.65 m/s, nine in ten ≤ 1.05 m/s; at least 85 % of the heights measured."""
    errors = [math.sqrt(np.mean(np.square([r[0] for r in measured("record", s)]))) for s in SEEDS]
    assert np.median(errors) <= 0.65
    assert np.percentile(errors, 90.0) <= 1.05
    count = sum(len(measured("record", s)) for s in SEEDS)
    heights = sum(int((jump("record", s)[1].agl_m[0] - 50.0) / 50.0) + 1 for s in SEEDS)
    assert count / heights >= 0.85


def test_intervals_hold_the_truth() -> None:
    """The 95 % and 50 % ellipses hold about as much as they say; half or twice the covariance would not."""
    distance = all_measured("record", SEEDS)[:, 1]
    assert distance.size > 500

    def held(scale: float) -> tuple[float, float]:
        return float(np.mean(distance / scale <= CHI2_95)), float(np.mean(distance / scale <= CHI2_50))

    def honest(scale: float) -> bool:
        wide, narrow = held(scale)
        return 0.92 <= wide <= 0.992 and 0.44 <= narrow <= 0.66

    assert honest(1.0), held(1.0)
    assert not honest(0.5), held(0.5)
    assert not honest(2.0), held(2.0)


@pytest.mark.slow
def test_intervals_hold_in_harsh_air() -> None:
    """Rising and sinking air, a wind that changes by 2 m/s, a built-in turn, a late receiver: still 92 %."""
    distance = all_measured("harsh", range(31_100, 31_124))[:, 1]
    assert np.mean(distance <= CHI2_95) >= 0.92
    assert np.mean(distance / 0.4 <= CHI2_95) < 0.92


def soundings() -> dict[str, np.ndarray]:
    """Height above the lowest level [m], direction it comes from [deg], speed [m/s] of real radiosondes."""
    path = Path(__file__).resolve().parents[2] / "shared" / "real" / "radiosonde_winds_below_6km.csv"
    if not path.exists():
        pytest.skip("no real soundings here")
    with path.open() as lines:
        rows = list(csv.reader(lines))[1:]
    found = {}
    for name in {row[0] for row in rows}:
        v = np.array([[float(x) for x in row[1:]] for row in rows if row[0] == name])
        found[name] = np.column_stack([v[:, 0] - v[0, 0], v[:, 1], v[:, 2] * KNOT_MPS])
    return found


@pytest.mark.slow
def test_intervals_hold_in_real_shear() -> None:
    """Winds of four radiosondes on severe-weather days (MetPy's test data), scaled down to 3–10 m/s at 600 m: shear and veer that no prior was
    made for. Straight lines between levels 260 m apart are the truth here, so the ground is harder than in life."""
    distances = []
    grid = np.arange(0.0, 6010.0, 10.0)
    for name, levels in sorted(soundings().items()):
        east, north = wind_vector(levels[:, 2], levels[:, 1])
        east, north = np.interp(grid, levels[:, 0], east), np.interp(grid, levels[:, 0], north)
        for seed in range(31_300, 31_306):
            setup = draw_setup(seed)
            target = np.random.default_rng(seed).uniform(3.0, 10.0)
            scale = target / np.interp(600.0, grid, np.hypot(east, north))
            air = Air(grid, scale * east, scale * north, gust_sd=setup.air.gust_sd)
            made = record_jump(seed, air=air, assumed=air.still())
            track = build_track(made.recording)
            canopy = find_phases(track).canopy()
            assert canopy is not None, name
            profile = estimate_wind(track, canopy.start, canopy.stop).profile
            for h in profile.agl_m[profile.agl_m <= made.truth.agl_m[0] - 50.0]:
                at = profile.at(float(h))
                d = np.array([at.east, at.north]) - np.concatenate(made.truth.wind(np.array([h])))
                if at.status == "measured":
                    distances.append(float(d @ np.linalg.solve(at.covariance, d)))
    assert len(distances) > 400
    assert np.mean(np.array(distances) <= CHI2_95) >= 0.88


def open_heights(truth: Truth) -> list[float]:
    """Heights within 120 m of which the true air headings lie along one line (less than 45° of arc between them)."""
    speed = np.hypot(truth.air_east, truth.air_north)
    heading = np.stack([truth.air_east, truth.air_north]) / speed
    heights = np.arange(0.0, float(truth.agl_m[0]) - 50.0, 50.0)
    return [float(h) for h in heights if spread_of(heading[:, np.abs(truth.agl_m - h) <= 120.0]) < 0.05]


@pytest.mark.slow
def test_open_winds_are_refused() -> None:
    """Where the true headings leave the wind open, no height is called measured with an error beyond three standard deviations."""
    count = refused = 0
    for seed in range(31_200, 31_240):
        _, truth, found = jump("ambiguous", seed)
        for h in open_heights(truth):
            at = found.profile.at(h)
            east, north = truth.wind(np.array([h]))
            error = math.hypot(at.east - east[0], at.north - north[0])
            assert at.status != "measured" or error <= 3.0 * at.worst_sd, (seed, h)
            count, refused = count + 1, refused + (at.status != "measured")
    assert count > 200
    assert refused > 0.9 * count


def test_a_jump_along_one_line_is_not_measured_at_all() -> None:
    for seed in (31_200, 31_204, 31_208, 31_212, 910_060):
        made = ambiguous_jump(seed, "one line")
        track = build_track(made.recording)
        canopy = find_phases(track).canopy()
        assert canopy is not None
        profile = estimate_wind(track, canopy.start, canopy.stop).profile
        assert set(profile.status) == {"undetermined"}
        assert all(profile.reason)


def test_measured_heights_are_known_to_a_metre_and_a_half() -> None:
    for seed in SEEDS:
        profile = jump("record", seed)[2].profile
        assert profile.agl_m[0] == 0.0
        assert profile.agl_m[1:3] == pytest.approx([10.0, 25.0])
        assert np.diff(profile.agl_m[profile.agl_m % 50.0 == 0.0]) == pytest.approx(50.0)
        for h, status, reason in zip(profile.agl_m, profile.status, profile.reason):
            if status == "measured":
                assert profile.at(float(h)).worst_sd <= MEASURED_SD_MPS
                assert reason == ""
            else:
                assert reason


def test_trim_speeds() -> None:
    """Airspeed and sink at sea level against the canopy that was flown: within their errors, and those are small."""
    pairs = [(jump("record", s)[2].canopy, jump("record", s)[1]) for s in SEEDS]
    air = np.array([(c.airspeed_mps - t.airspeed_mps) / c.airspeed_sd_mps for c, t in pairs])  # type: ignore[operator]
    sink = np.array([(c.sink_mps - t.sink_mps) / c.sink_sd_mps for c, t in pairs])  # type: ignore[operator]
    assert np.mean(np.abs(air) < 2.0) >= 0.85
    assert np.mean(np.abs(sink) < 2.0) >= 0.85
    # of the whole flight it came out 1.3 % too high, as turns look steeper than they are (seeds 700000 to 700080)
    off = [c.sink_mps / t.sink_mps - 1.0 for c, t in pairs]  # type: ignore[operator]
    assert abs(np.median(off)) < 0.010
    assert np.median([c.airspeed_sd_mps for c, _ in pairs]) < 0.55
    glide = pairs[0][0].glide
    assert glide == pytest.approx(pairs[0][1].airspeed_mps / pairs[0][1].sink_mps, rel=0.08)


def test_air_velocity_is_ground_velocity_less_wind() -> None:
    track, truth, found = jump("record", SEEDS[0])
    canopy = find_phases(track).canopy()
    assert canopy is not None
    n = canopy.stop - canopy.start
    assert found.air_east.shape == found.air_north.shape == (n,)
    times = track.t_s[canopy.start : canopy.stop] + track.start_utc_s
    true_east = np.interp(times, truth.t_utc_s, truth.air_east)
    assert np.median(np.abs(found.air_east - true_east)) < 0.7
    assert found.t_s.shape == found.residual_mps.shape


@functools.cache
def some_flight() -> tuple[np.ndarray, ...]:
    """t, east, north, height under canopy of one jump."""
    track, _, _ = jump("record", 31_001)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    part = slice(canopy.start + 40, canopy.stop - 10)
    return tuple(a[part].copy() for a in (track.t_s, track.east_m, track.north_m, track.agl_m))


@functools.cache
def plain() -> WindProfile:
    return from_arrays(*some_flight())


@pytest.mark.parametrize("degrees", [37.0, 90.0, 141.5, 180.0, 271.3])
def test_turned_world_turns_the_wind(degrees: float) -> None:
    t, east, north, height = some_flight()
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turned = from_arrays(t, c * east + s * north, -s * east + c * north, height)
    assert turned.east == pytest.approx(c * plain().east + s * plain().north, abs=1e-5)
    assert turned.north == pytest.approx(-s * plain().east + c * plain().north, abs=1e-5)
    assert turned.status == plain().status
    for h in (0.0, 120.0, 500.0):
        rotation = np.array([[c, s], [-s, c]])
        expected = rotation @ plain().at(h).covariance @ rotation.T
        assert turned.at(h).covariance == pytest.approx(expected, abs=1e-5)


def test_mirrored_world_mirrors_the_wind() -> None:
    t, east, north, height = some_flight()
    mirrored = from_arrays(t, -east, north, height)
    assert mirrored.east == pytest.approx(-plain().east, abs=1e-5)
    assert mirrored.north == pytest.approx(plain().north, abs=1e-5)


@pytest.mark.parametrize("shift", [(5000.0, 0.0, 0.0), (0.0, -700.0, 86_400.0), (1.0, 1.0, 1.7e9)])
def test_shifted_world_leaves_the_wind(shift: tuple[float, float, float]) -> None:
    t, east, north, height = some_flight()
    moved = from_arrays(t + shift[2], east + shift[0], north + shift[1], height)
    assert moved.east == pytest.approx(plain().east, abs=1e-3)
    assert moved.north == pytest.approx(plain().north, abs=1e-3)


def test_a_wind_added_to_the_ground_velocity_is_added_to_the_wind() -> None:
    """Galilei: drifting the whole flight by 1.5 m/s east adds about that (the prior knows calm air, so not exactly)."""
    t, east, north, height = some_flight()
    drifted = from_arrays(t, east + 1.5 * (t - t[0]), north, height)
    middle = slice(2, -2)
    assert drifted.east[middle] - plain().east[middle] == pytest.approx(1.5, abs=0.25)
    assert drifted.north[middle] - plain().north[middle] == pytest.approx(0.0, abs=0.25)


def test_the_recorded_velocity_may_be_used() -> None:
    t, east, north, height = some_flight()
    velocity = (np.gradient(east, t), np.gradient(north, t))
    found = from_arrays(t, east, north, height, velocity=velocity)
    for h in (100.0, 300.0, 600.0):
        a, b = found.at(h), plain().at(h)
        assert math.hypot(a.east - b.east, a.north - b.north) < 3.0 * max(a.worst_sd, b.worst_sd)


def test_an_airspeed_prior_helps() -> None:
    track, truth, _ = jump("ambiguous", 31_201)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    free = estimate_wind(track, canopy.start, canopy.stop)
    known = estimate_wind(track, canopy.start, canopy.stop, airspeed_prior=(truth.airspeed_mps, 0.05))
    assert known.canopy.airspeed_sd_mps < free.canopy.airspeed_sd_mps  # type: ignore[operator]
    assert known.canopy.airspeed_mps == pytest.approx(truth.airspeed_mps, abs=0.4)


@pytest.mark.parametrize(
    ("flight", "reason"),
    [
        (np.zeros((4, 0)), "steps"),
        (np.zeros((4, 1)), "steps"),
        (np.stack([np.arange(5.0)] * 4), "steps"),
        (np.stack([np.arange(400.0), np.full(400, np.nan), np.zeros(400), np.zeros(400)]), "steps"),
        (np.stack([7.0 * np.arange(90.0), np.arange(90.0), np.zeros(90), np.zeros(90)]), "steps"),
    ],
)
def test_too_little_is_undetermined_with_a_reason(flight: np.ndarray, reason: str) -> None:
    profile = from_arrays(*flight)
    assert set(profile.status) == {"undetermined"}
    assert reason in profile.reason[0]
    assert profile.agl_m.size >= 1


def test_odd_flights_never_crash() -> None:
    """Standing still, straight lines, white noise, random walks, gaps of NaN: finite numbers and a status for all."""
    rng = np.random.default_rng(8)
    for i in range(60):
        n, dt = int(rng.choice([3, 8, 9, 30, 200])), float(rng.choice([0.2, 1.0, 3.0]))
        t = np.arange(n) * dt
        kinds = (
            np.zeros((3, n)),
            rng.normal(0.0, 10.0 ** rng.uniform(-6, 4), (3, n)),
            np.stack([12.0 * t, -3.0 * t, 900.0 - 4.0 * t]),
            np.cumsum(rng.normal(0.0, 5.0, (3, n)), axis=1),
        )
        path = kinds[i % len(kinds)].copy()
        if i % 3 == 0:
            path[0, rng.integers(n, size=1 + n // 6)] = np.nan
        profile = from_arrays(t, *path)
        assert np.isfinite(profile.east).all()
        assert np.isfinite(profile.covariance).all()
        assert all(s in ("measured", "bridged", "undetermined") for s in profile.status)


def test_straight_flight_alone_is_not_measured() -> None:
    t = np.arange(0.0, 200.0)
    for direction in (0.0, 1.0, 2.2):
        path = (11.0 * np.sin(direction) + 3.0) * t, 11.0 * np.cos(direction) * t, 900.0 - 4.0 * t
        assert "measured" not in from_arrays(t, *path).status


def test_a_track_without_heights_is_undetermined() -> None:
    track, _, _ = jump("record", SEEDS[0])
    blind = replace(track, agl_m=np.full(len(track), np.nan), v_up=np.full(len(track), np.nan))
    found = estimate_wind(blind, 100, len(track) - 50)
    assert found.reason == "the recording holds no heights under canopy"
    assert set(found.profile.status) == {"undetermined"}
    assert found.canopy.airspeed_mps is None
    assert np.isnan(found.air_east).all()
    assert undetermined_profile(np.array([0.0]), "x").reason == ("x",)


def test_arrays_of_different_shapes_are_an_error() -> None:
    with pytest.raises(EstimateError, match="one length"):
        from_arrays([0.0, 1.0], [0.0], [0.0, 1.0], [0.0, 1.0])
    with pytest.raises(EstimateError, match="increase"):
        from_arrays([0.0, 0.0, 1.0], [0.0, 1.0, 2.0], [0.0] * 3, [0.0] * 3)


@pytest.mark.slow
def test_the_work_grows_linearly_with_the_fixes() -> None:
    """An hour of circling at 1 Hz against five minutes of it."""

    def circling(seconds: float) -> Callable[[], object]:
        t = np.arange(0.0, seconds)
        rng = np.random.default_rng(1)
        path = 40.0 * np.sin(0.2 * t) + 3.0 * t, 40.0 * np.cos(0.2 * t), 500.0 + 100.0 * np.sin(0.002 * t)
        noisy = [p + 0.1 * rng.standard_normal(t.size) for p in path]
        return lambda: from_arrays(t, *noisy)

    assert_linear(circling(300.0), circling(3600.0), 12)
