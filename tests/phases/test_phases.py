"""Phases: closed-form flights, a published fall table, kinds of jump and receivers, real glide-downs and rockets, symmetries."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from effort import assert_linear, no_hang
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds.receivers import RECEIVERS

from analyser.errors import FormatError
from analyser.importers.read import read
from analyser.phases import Phases, find_phases, split_jumps
from analyser.phases.day import flights
from analyser.phases.events import find_falls
from analyser.phases.ground_events import find_landing
from analyser.phases.signals import bridge, make_signals, moving_slope, runs
from analyser.phases.touchdown import find_touchdown
from analyser.synthetic.kinds import KINDS, day_of, kind_jump
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import SyntheticJump
from analyser.track import Track, build_track
from analyser.units import FOOT_M
from tests.made_tracks import moved, simple_jump, track_of, without

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"
RIDES = ("ride down", "low circuit")
CUTAWAY = build_track(kind_jump(5, "cutaway").recording)
needs_real = pytest.mark.skipif(not REAL.is_dir(), reason="no folder shared/real")


def wrong(jump: SyntheticJump, track: Track, found: Phases, within_s: float = 4.0) -> list[str]:
    """What differs from the truth: names, boundaries, kind, landing."""
    off = track.start_utc_s
    truth = [(p.name, p.start_utc_s - off) for p in jump.truth.phases]
    mine = [(p.name, p.start_s) for p in found.intervals]
    if [n for n, _ in truth] != [n for n, _ in mine]:
        return [f"names {[n for n, _ in mine]} instead of {[n for n, _ in truth]}"]
    bad = [f"{n} {b - a:+.1f} s" for (n, a), (_, b) in zip(truth[1:], mine[1:]) if abs(b - a) > within_s]
    landed = jump.truth.landing_utc_s
    if landed is None or jump.truth.jump in RIDES:
        return bad + (["a landing that was none"] if found.landing_s is not None else [])
    if found.landing_s is None or abs(found.landing_s + off - landed) > 2.5:
        bad.append(f"landing {found.landing_s} instead of {landed - off:.1f}")
    return bad


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 5.0, 10.0])
def test_closed_form_flight(rate_hz: float) -> None:
    track, marks = simple_jump(rate_hz)
    found = find_phases(track)
    assert found.kind == "jump"
    assert found.complete
    assert [p.name for p in found.intervals] == ["ground before", *marks]
    for p in found.intervals[1:]:
        assert p.start_s == pytest.approx(marks[p.name], abs=2.5 if p.name == "climb" else 1.5)
    assert found.landing_s == pytest.approx(marks["ground after"], abs=0.8)


def test_published_fall_table() -> None:
    """Feet fallen after so many seconds: 1 16, 5 366, 10 1,138, 12 1,483, then 174 ft/s (Green Harbor fall table 2010, pdf4pro.com)."""
    seconds = np.array([0.0, 1.0, 5.0, 10.0, 12.0, 52.0])
    feet = np.array([0.0, 16.0, 366.0, 1138.0, 1483.0, 1483.0 + 40.0 * 174.0])
    t = np.arange(0.0, 700.0, 0.5)
    top = (1483.0 + 40.0 * 174.0) * FOOT_M + 900.0
    fallen = np.interp(t - 300.0, seconds, feet) * FOOT_M
    agl = np.where(t < 300.0, np.minimum(20.0 * np.maximum(t - 60.0, 0.0), top), top - fallen)
    agl = np.where(t > 352.0, np.maximum(900.0 - 5.0 * (t - 352.0), 0.0), agl)
    north = np.where(t < 300.0, 45.0 * np.maximum(t - 50.0, 0.0), 45.0 * 250.0)
    north = north + 9.0 * np.clip(t - 352.0, 0.0, 180.0)
    found = find_phases(track_of(t, np.zeros_like(t), north, agl))
    fall = found.all("free fall")[0]
    assert fall.start_s == pytest.approx(300.0, abs=1.5)
    assert fall.end_s == pytest.approx(352.0, abs=2.0)


@pytest.mark.parametrize("kind", KINDS)
def test_kinds_of_jump(kind: str) -> None:
    bad = {}
    for seed in range(700_000, 700_004):
        jump = kind_jump(seed, kind)
        track = build_track(jump.recording)
        found = find_phases(track)
        assert (found.kind == "no jump") == (kind in RIDES), (seed, found.reason)
        assert bool(found.reason) == (kind in RIDES)
        if wrong(jump, track, found, 6.0 if kind in RIDES else 4.0):
            bad[seed] = wrong(jump, track, found)
    assert len(bad) <= 1, bad


def test_boundaries_and_landing_place_on_the_ensemble_of_record() -> None:
    late, place = [], []
    for seed in range(700_100, 700_120):
        jump = record_jump(seed)
        track = build_track(jump.recording)
        found = find_phases(track)
        assert wrong(jump, track, found) == [], seed
        assert found.landing_s is not None
        assert jump.truth.landing_utc_s is not None
        late.append(found.landing_s + track.start_utc_s - jump.truth.landing_utc_s)
        at = [np.interp(found.landing_s, track.t_s, v) for v in (track.east_m, track.north_m)]
        then = jump.truth.landing_utc_s - track.start_utc_s
        seen = [np.interp(then, track.t_s, v) for v in (track.east_m, track.north_m)]
        place.append(np.hypot(at[0] - seen[0], at[1] - seen[1]))
    assert np.median(np.abs(late)) < 0.5
    assert np.max(np.abs(late)) < 2.0
    assert np.quantile(place, 0.9) < 4.0


def test_intervals_tile_the_track() -> None:
    for kind in KINDS:
        jump = kind_jump(3, kind)
        track = build_track(jump.recording)
        parts = find_phases(track).intervals
        assert parts[0].start == 0
        assert parts[0].start_s == pytest.approx(float(track.t_s[0]))
        assert parts[-1].stop == len(track)
        assert parts[-1].end_s == pytest.approx(float(track.t_s[-1]))
        for a, b in pairwise(parts):
            assert a.stop == b.start
            assert a.end_s == b.start_s
            assert a.end_agl_m == b.start_agl_m
            assert a.name != b.name
            assert b.start_s > a.start_s


@settings(deadline=None, max_examples=10)
@given(
    turn=st.floats(0.0, 360.0), mirror=st.booleans(), east=st.floats(-1e4, 1e4), north=st.floats(-1e4, 1e4)
)
def test_turned_mirrored_shifted_worlds(turn: float, mirror: bool, east: float, north: float) -> None:
    track = CUTAWAY
    here = find_phases(track)
    there = find_phases(moved(track, turn_deg=turn, mirror=mirror, east_m=east, north_m=north))
    assert [(p.name, p.start, p.stop) for p in here.intervals] == [
        (p.name, p.start, p.stop) for p in there.intervals
    ]
    assert there.landing_s == pytest.approx(here.landing_s, abs=1e-3)


def test_notes_tell_what_was_odd() -> None:
    for kind, code in (
        ("cutaway", "second-fall"),
        ("static line", "no-free-fall"),
        ("starts under canopy", "starts-under-canopy"),
        ("starts in free fall", "starts-in-free-fall"),
        ("stops before landing", "stops-in-air"),
    ):
        found = find_phases(build_track(kind_jump(8, kind).recording))
        assert code in [n.code for n in found.notes]
        assert found.complete == (kind in ("cutaway", "static line", "starts in free fall"))
    assert find_phases(build_track(kind_jump(8, "ordinary").recording)).notes == ()


def test_a_single_height_above_a_rest_is_no_descent() -> None:
    """Some fixes, one of them a hundred metres up, with the rest found before it: nothing was flown."""
    heights = np.array([0.1] * 9 + [-0.7, -0.1, 0.1, 101.3, -0.3, -0.5, -0.1, 0.1, -0.3, 0.1])
    t = np.arange(19.0) + 2.0
    for last in range(8, 19):
        z = np.roll(heights, last - 18)
        found = find_phases(track_of(t, 0.1 * t, 0.0 * t, z))
        assert found.kind == "no jump"
        assert found.landing_s is None


def test_no_heights_and_heights_that_never_change_are_no_jump() -> None:
    track, _ = simple_jump(2.0)
    blind = track_of(track.t_s, track.east_m, track.north_m, np.full(len(track), np.nan))
    assert find_phases(blind).kind == "no jump"
    assert "no heights" in find_phases(blind).reason
    flat = track_of(track.t_s, track.east_m, track.north_m, np.zeros(len(track)))
    assert find_phases(flat).kind == "no jump"


def test_heights_in_feet_are_refused() -> None:
    for kind in ("ordinary", "static line", "ride down", "starts under canopy", "wingsuit"):
        found = find_phases(build_track(kind_jump(4, kind, receiver=RECEIVERS["height in feet"]).recording))
        assert found.kind == "no jump", kind
        assert found.landing_s is None


@pytest.mark.parametrize("seed", [6, 7, 730_000])
def test_an_aeroplane_of_which_only_the_slow_part_was_recorded_is_no_jump(seed: int) -> None:
    """A receiver that loses fixes above 30 m/s over ground keeps the last of the approach and the roll."""
    for kind in RIDES:
        jump = kind_jump(seed, kind, receiver=RECEIVERS["limit of 20 m/s down"])
        assert find_phases(build_track(jump.recording)).kind == "no jump"


def test_a_hole_over_climb_and_fall() -> None:
    """Fixes lost from the take-off to the canopy: the canopy flight and the landing stand, the rest is said to be unknown."""
    track, marks = simple_jump(5.0)
    holed = without(track, (track.t_s < 130.0) | (track.t_s > 935.0))
    found = find_phases(holed)
    assert [p.name for p in found.intervals] == ["ground before", "climb", "canopy", "ground after"]
    assert found.landing_s == pytest.approx(marks["ground after"], abs=0.8)
    assert {"exit-not-seen", "phase-in-a-hole"} <= {n.code for n in found.notes}


def test_a_hole_over_the_opening() -> None:
    """The heights on both sides of the hole place the deployment: 880…925 s fall, 925…929 s opening."""
    track, marks = simple_jump(5.0)
    holed = without(track, (track.t_s < 905.0) | (track.t_s > 940.0))
    found = find_phases(holed)
    opening = found.all("opening")[0]
    assert opening.start_s == pytest.approx(marks["opening"], abs=1.5)
    assert opening.end_s == pytest.approx(marks["canopy"], abs=1.5)
    assert found.all("canopy")[0].start_agl_m == pytest.approx(
        float(np.interp(929.0, track.t_s, track.agl_m)), abs=15.0
    )


def test_a_hole_over_the_exit() -> None:
    track, marks = simple_jump(5.0)
    holed = without(track, (track.t_s < 840.0) | (track.t_s > 890.0))
    fall = find_phases(holed).all("free fall")[0]
    assert fall.start_s == pytest.approx(marks["free fall"], abs=1.0)
    assert fall.start_agl_m == pytest.approx(3485.0, abs=5.0)


def test_landing_in_a_hole_says_so() -> None:
    track, marks = simple_jump(5.0)
    end = marks["ground after"]
    found = find_phases(without(track, (track.t_s < end - 15.0) | (track.t_s > end + 20.0)))
    assert found.landing_s == pytest.approx(end + 20.0, abs=0.5)
    assert found.landing_sd_s == pytest.approx(35.0 / np.sqrt(12.0), abs=0.5)
    assert "landing-in-a-hole" in [n.code for n in found.notes]


def test_a_walk_and_a_drive_downhill_do_not_move_the_landing() -> None:
    track, marks = simple_jump(2.0)
    more = np.arange(1.0, 300.0)
    t = np.concatenate([track.t_s, track.t_s[-1] + more])
    north = np.concatenate([track.north_m, track.north_m[-1] + 1.3 * more])
    agl = np.concatenate([track.agl_m, track.agl_m[-1] - 0.1 * more])
    east = np.concatenate([track.east_m, np.full(more.shape, track.east_m[-1])])
    assert find_phases(track_of(t, east, north, agl)).landing_s == pytest.approx(
        marks["ground after"], abs=0.8
    )


def test_touchdown_of_an_exact_hinge() -> None:
    """Down at 3 m/s and along at 7 until t = 10.37 s, then standing."""
    t = np.arange(0.0, 20.0, 0.25)
    left = np.maximum(10.37 - t, 0.0)
    found = find_touchdown(t, -7.0 * left, 0.0 * t, 3.0 * left, 9.0)
    assert found.t_s == pytest.approx(10.37, abs=0.1)
    assert found.sd_s < 0.45


def test_touchdown_into_a_wind_as_fast_as_the_canopy_is_timed_by_the_height() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 20.0, 0.5)
    left = np.maximum(10.37 - t, 0.0)
    flat = 0.1 * rng.standard_normal(t.shape[0])
    found = find_touchdown(t, flat, flat[::-1], 3.0 * left + 0.2 * rng.standard_normal(t.shape[0]), 9.0)
    assert found.t_s == pytest.approx(10.37, abs=0.6)


def test_edges_and_bridges() -> None:
    mask = np.array([1, 1, 0, 0, 1, 0, 1], dtype=bool)
    assert runs(mask).tolist() == [[0, 2], [4, 5], [6, 7]]
    assert bridge(runs(mask), np.arange(7.0), 2.5).tolist() == [[0, 2], [4, 7]]
    assert runs(np.zeros(4, dtype=bool)).shape == (0, 2)


def test_slope_of_a_line_whatever_the_sampling() -> None:
    rng = np.random.default_rng(1)
    t = np.cumsum(rng.uniform(0.1, 3.0, 200))
    assert moving_slope(t, 4.0 - 2.5 * t, 1.0) == pytest.approx(-2.5, abs=1e-6)


def test_day_of_two_jumps() -> None:
    day = day_of((draw_setup(11), draw_setup(12)), "two jumps")
    parts = split_jumps(day.recording)
    assert parts[0][0] == 0
    assert parts[-1][1] == len(day.recording)
    assert len(parts) == 2
    for (start, stop), truth in zip(parts, day.truths):
        track = build_track(day.recording.slice(start, stop))
        found = find_phases(track)
        assert found.complete
        assert found.landing_s is not None
        assert truth.landing_utc_s is not None
        assert found.landing_s + track.start_utc_s == pytest.approx(truth.landing_utc_s, abs=2.5)


def test_flights_without_end_are_refused() -> None:
    """A saw of more teeth than a week holds flights is no recording of jumps; half a million fixes tell it."""
    t = np.arange(500_000.0)
    with no_hang(), pytest.raises(FormatError, match="rise and fall more than"):
        flights(t, 400.0 * (t // 2 % 2))
    assert len(flights(t, np.abs(t % 2000.0 - 1000.0))) == 251


def test_falls_without_end_take_linear_work() -> None:
    """Thousands of short drops in one flight: no fall is claimed, and ten times the fixes take about ten times the work."""

    def drops(n: int) -> Callable[[], None]:
        t = np.arange(float(n))
        s = make_signals(t, 10.0 * t, 0.0 * t, 3000.0 + 25.0 * np.maximum(3.0 - t % 10.0, 0.0))

        def work() -> None:
            assert find_falls(s, n) == ()

        return work

    assert_linear(drops(20_000), drops(200_000), 10)


def test_one_range_for_one_jump_and_for_none() -> None:
    assert len(split_jumps(kind_jump(1, "cutaway").recording)) == 1
    assert len(split_jumps(kind_jump(1, "ride down").recording)) == 1
    recording = record_jump(1).recording
    assert split_jumps(recording.slice(0, 3)) == ((0, 3),)


@needs_real
@pytest.mark.parametrize("number", ["0009", "0014", "0033", "0041"])
def test_landing_of_real_glide_downs(number: str) -> None:
    """Paragliders launched on foot (twpayne/go-igc test data): the landing is where the speed ends."""
    track = build_track(read(str(REAL / f"paraglider_glide_{number}.gpx.gz")))
    s = make_signals(track.t_s, track.east_m, track.north_m, track.agl_m)
    found = find_landing(s, s.t.shape[0] // 2)
    assert found is not None
    speed = np.hypot(track.v_east, track.v_north)
    assert speed[track.index(found.t_s - 8.0)] > 4.0
    assert speed[track.t_s > found.t_s + 6.0].max() < 3.0
    assert abs(float(np.interp(found.t_s, track.t_s, track.agl_m))) < 8.0


@needs_real
def test_real_rocket_heights() -> None:
    """Two rockets under a drogue (RocketPy, genesis and camoes): one main opened at about 800 m, the other never did."""
    opened = _rocket("rocket_main_opened_5hz.csv")
    falls = find_falls(opened, opened.t.shape[0])
    assert opened.h[falls[0].deployment] == pytest.approx(800.0, abs=60.0)
    never = _rocket("rocket_main_never_opened_5hz.csv")
    falls = find_falls(never, never.t.shape[0])
    assert all(never.h[f.steady] < 40.0 for f in falls)
    heights = np.loadtxt(REAL / "rocket_main_never_opened_5hz.csv", delimiter=",", skiprows=1)
    zero = np.zeros(heights.shape[0])
    found = find_phases(track_of(heights[:, 0] - heights[0, 0], zero, zero, heights[:, 1]))
    assert found.kind == "no jump"
    assert not found.all("opening")


def _rocket(name: str):  # type: ignore[no-untyped-def]
    rows = np.loadtxt(REAL / name, delimiter=",", skiprows=1)
    zero = np.zeros(rows.shape[0])
    return make_signals(rows[:, 0], zero, zero, rows[:, 1])


def test_the_work_is_linear_in_the_fixes() -> None:
    short, long = (simple_jump(hz, noise_m=0.3)[0] for hz in (12.0, 120.0))
    assert len(short) > 14_000
    assert_linear(lambda: find_phases(short), lambda: find_phases(long), 10)
