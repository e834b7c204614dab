"""clean: fixes that are none, clocks that leap, heights that are none, each with its counted note."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fix_cases import HALF_DAY, START, Fixes, counts, descent
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import AnalyserError, NoFixesError
from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.phases import find_phases
from analyser.track import build_track

ROOT = Path(__file__).resolve().parents[2]
# ---- single fixes ----------------------------------------------------------------------------------------------------


def spoiled(fixes: Fixes, at: list[int], **values: float) -> Fixes:
    arrays = {n: getattr(fixes, n).copy() for n in ("t", "lat", "lon", "alt")}
    for name, value in values.items():
        arrays[name][at] = value
    return Fixes(**arrays)


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"t": math.nan}, "no-time"),
        ({"t": -1e11}, "impossible-date"),
        ({"t": 1e11}, "impossible-date"),
        ({"lat": math.nan}, "no-position"),
        ({"lon": math.nan}, "no-position"),
        ({"lat": 147.0}, "out-of-range"),
        ({"lon": -999.0}, "out-of-range"),
        ({"lat": 0.0, "lon": 0.0}, "null-position"),
        ({"lat": 47.5}, "spike"),
    ],
)
def test_fixes_that_are_none_are_dropped_and_counted(values: dict[str, float], code: str) -> None:
    found = clean(spoiled(descent(), [40, 90, 200], **values).raw())
    assert counts(found) == {code: 3}
    assert len(found) == 337
    assert np.all(np.diff(found.time_s) > 0)


def test_recorded_speeds_of_a_fall_are_kept_and_impossible_ones_are_not() -> None:
    fixes = descent()
    speed = np.full(340, 12.0)
    speed[[10, 20, 30, 40]] = 95.0, 349.0, 351.0, -1.0
    found = clean(fixes.raw(speed_mps=speed, course_deg=np.full(340, 90.0)))
    assert found.speed_mps[[10, 20]].tolist() == [95.0, 349.0]
    assert np.flatnonzero(np.isnan(found.speed_mps)).tolist() == [30, 40]


def test_a_spike_of_three_fixes() -> None:
    assert counts(clean(spoiled(descent(), [50, 51, 52], lat=47.3).raw())) == {"spike": 3}


def test_fast_but_true_motion_is_kept() -> None:
    """An aeroplane at 80 m/s, a dive at 90 m/s, and noise of 3 m at 10 Hz are no spikes."""
    t = np.arange(0, 200, 0.1)
    rng = np.random.default_rng(5)
    lat = 47 + (80 * t + rng.normal(0, 3, t.size)) / 111195
    z = np.where(t < 100, 4000.0, np.maximum(4000 - 90 * (t - 100), 400.0))
    found = clean(Fixes(START + t, lat, np.full(t.size, 8.0) + rng.normal(0, 3, t.size) / 7e4, z).raw())
    assert counts(found) == {}


def test_every_second_fix_twice() -> None:
    fixes = descent()
    found = clean(fixes.take(np.repeat(np.arange(340), np.where(np.arange(340) % 2, 2, 1))).raw())
    assert counts(found) == {"duplicate": 170}
    np.testing.assert_array_equal(found.time_s, fixes.t)


def test_a_repeated_block() -> None:
    at = np.concatenate([np.arange(150), np.arange(110, 340)])
    found = clean(descent().take(at).raw())
    assert counts(found) == {"duplicate": 40}
    np.testing.assert_array_equal(found.time_s, descent().t)


def test_time_that_goes_back_at_a_leap() -> None:
    """A receiver that finds itself again stamps five fixes 7 s too late, then comes back."""
    fixes = descent()
    late = fixes.t.copy()
    late[100:105] += 7.0
    found = clean(fixes.raw(time_s=late))
    assert counts(found) == {"backwards": 5}
    assert len(found) == 335


def test_a_clock_set_back_by_seconds_leaves_no_seam() -> None:
    fixes = descent()
    wrong = np.where(np.arange(340) < 100, fixes.t, fixes.t - 3.0)
    found = clean(fixes.raw(time_s=wrong))
    assert counts(found) == {"clock-shift": 1}
    np.testing.assert_allclose(np.diff(found.time_s), 1.0)


@pytest.mark.parametrize("shift", [-2.0, HALF_DAY])
def test_a_leap_in_slow_flight_is_seen_through_the_noise_of_many_fixes(shift: float) -> None:
    """Into the wind at 2 m/s and down at 3, five fixes a second, heights off by 0.4 m: from fix to fix the noise is the larger part."""
    for seed in range(12):
        noise = np.random.default_rng(seed)
        t = 1_780_000_000.0 + np.arange(1500) / 5.0
        u = t - t[0]
        lat = 47.0 + (2.0 * u + 0.15 * noise.standard_normal(1500)) / 111195.0
        lon = 8.0 + 0.15 * noise.standard_normal(1500) / 75830.0
        alt = 1400.0 - 3.0 * u + 0.4 * noise.standard_normal(1500)
        wrong = t + np.where(np.arange(1500) > 900, shift, 0.0)
        found = clean(
            descent(5.0).take(slice(0, 1500)).raw(time_s=wrong, lat_deg=lat, lon_deg=lon, altitude_m=alt)
        )
        assert counts(found) == {"clock-shift": 1}
        assert len(found) == 1500
        np.testing.assert_allclose(np.diff(found.time_s), 0.2, atol=1e-6)


def test_thousands_of_leaps_are_sorted() -> None:
    fixes = descent(10)
    wrong = fixes.t + np.where(np.arange(fixes.t.size) % 2, 5000.0, 0.0)
    found = clean(fixes.raw(time_s=wrong))
    assert len(found) == fixes.t.size
    assert set(counts(found)) == {"reordered"}


def test_a_file_that_begins_with_the_last_fix() -> None:
    fixes = descent()
    found = clean(fixes.take(slice(None, None, -1)).raw())
    assert counts(found) == {"reordered": None}
    np.testing.assert_array_equal(found.lat_deg, fixes.lat)


@pytest.mark.parametrize("shift", [-HALF_DAY, -3600.0, HALF_DAY, -86400.0])
@pytest.mark.parametrize("at", [5, 200])
def test_a_shift_of_the_clock_is_undone_and_said(shift: float, at: int) -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[at:] += shift
    found = clean(fixes.raw(time_s=wrong))
    assert counts(found) == {"clock-shift": 1}
    kept = shift if at == 5 else 0.0  # the greater part of the fixes keeps its time
    np.testing.assert_allclose(found.time_s, fixes.t + kept, rtol=0, atol=1.0)


def test_a_pause_within_a_shift_of_the_clock_stays_a_pause() -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[200:] -= 3600.0
    at = np.delete(np.arange(340), np.arange(200, 220))
    found = clean(fixes.take(at).raw(time_s=wrong[at]))
    assert counts(found) == {"clock-shift": 1}
    np.testing.assert_allclose(found.time_s, fixes.t[at], rtol=0, atol=1e-6)


def test_a_shift_that_comes_back() -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[100:180] -= HALF_DAY
    found = clean(fixes.raw(time_s=wrong))
    np.testing.assert_allclose(found.time_s, fixes.t, rtol=0, atol=1.0)
    assert counts(found) == {"clock-shift": 2}


@pytest.mark.parametrize("ahead", [4000.0, HALF_DAY, 365 * 86400.0])
def test_one_fix_with_a_stray_time_moves_no_other(ahead: float) -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[[100, 250]] += ahead
    found = clean(fixes.raw(time_s=wrong))
    assert counts(found) == {"backwards": 2}
    np.testing.assert_array_equal(found.time_s, np.delete(fixes.t, [100, 250]))


def test_a_leap_behind_a_stray_fix_is_still_seen() -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[150:] += 40 * 86400.0
    wrong[150] += 40 * 86400.0
    found = clean(fixes.raw(time_s=wrong))
    assert np.max(np.diff(found.time_s)) < 3.0
    assert {"clock-shift", "backwards"} >= set(counts(found)) >= {"clock-shift"}


def test_a_week_counter_that_rolls_over_within_the_file() -> None:
    """The first fixes 1024 weeks early, before the receiver knows the date (IS-GPS-200: ten bits of week number)."""
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[:20] -= 1024 * 7 * 86400
    found = clean(fixes.raw(time_s=wrong))
    np.testing.assert_allclose(found.time_s, fixes.t, rtol=0, atol=1e-6)
    assert counts(found) == {"clock-shift": 1}


def test_a_few_fixes_of_another_year_are_dropped() -> None:
    fixes = descent()
    wrong = fixes.t.copy()
    wrong[:5] -= 300 * 86400.0
    away = fixes.lat.copy()
    away[:5] += 3.0
    found = clean(fixes.raw(time_s=wrong, lat_deg=away))
    assert counts(found) == {"far-date": 5}
    np.testing.assert_array_equal(found.time_s, fixes.t[5:])
    wrong[:5] = fixes.t[:5] - 3 * 86400.0
    assert counts(clean(fixes.raw(time_s=wrong, lat_deg=away))) == {"far-date": 5}
    wrong[:5] = fixes.t[:5] - 0.9 * 86400.0  # within a day: a night between two days of jumps
    assert "far-date" not in counts(clean(fixes.raw(time_s=wrong, lat_deg=away)))


def test_a_date_of_1024_weeks_ago_is_said() -> None:
    fixes = descent()
    old = fixes.raw(time_s=fixes.t - 1024 * 7 * 86400)
    assert counts(clean(old)) == {"odd-date": None}
    known = replace(old, created_s=float(fixes.t[0]))
    assert "1024 weeks" in clean(known).notes[0].text


def test_a_pause_is_a_gap_not_a_shift() -> None:
    """An hour's pause at rest, and an hour without reception from which the recording returns elsewhere."""
    rest = Fixes(START + np.arange(60.0), np.full(60, 47.0), np.full(60, 8.0), np.full(60, 400.0))
    later = descent()
    pause = clean(
        RawFixes(
            "gpx",
            np.concatenate([rest.t, later.t + 3600]),
            np.concatenate([rest.lat, later.lat]),
            np.concatenate([rest.lon, later.lon]),
            np.concatenate([rest.alt, later.alt]),
            np.full(400, np.nan),
            np.full(400, np.nan),
            np.zeros(400, dtype=np.int64),
        )
    )
    assert "clock-shift" not in counts(pause)
    assert np.max(np.diff(pause.time_s)) > 3000
    lost = descent().take(np.r_[0:100, 101:340])
    far = lost.raw(
        time_s=np.where(np.arange(339) < 100, lost.t, lost.t + 4000),
        lat_deg=lost.lat + (np.arange(339) >= 100) * 0.1,
    )
    assert counts(clean(far)) == {}


def test_segments_out_of_order_are_sorted() -> None:
    fixes = descent()
    at = np.r_[200:340, 0:200]
    segment = np.r_[np.zeros(140, dtype=np.int64), np.ones(200, dtype=np.int64)]
    found = clean(fixes.take(at).raw(segment=segment))
    assert counts(found) == {}
    np.testing.assert_array_equal(found.time_s, fixes.t)


def test_ten_fixes_a_second_under_whole_stamps_are_spread() -> None:
    fixes = descent(10).take(slice(7, None))
    found = clean(fixes.raw(time_s=np.floor(fixes.t + 1e-6)))
    assert counts(found) == {"stamps-spread": None}
    np.testing.assert_allclose(found.time_s, fixes.t, rtol=0, atol=0.051)


def test_a_log_faster_than_its_receiver() -> None:
    fine = descent(10)
    held = np.arange(fine.t.size) // 10 * 10
    found = clean(fine.raw(lat_deg=fine.lat[held], lon_deg=fine.lon[held]))
    assert set(counts(found)) == {"repeated-position"}
    assert np.median(np.diff(found.time_s)) == pytest.approx(1.0)
    assert found.lost == 0, "the receiver gave no more"


def test_a_place_held_while_the_jump_sinks() -> None:
    """Static hold: into a strong wind the ground speed falls below the receiver's threshold, and it holds the place."""
    fixes = descent()
    held = spoiled(fixes, list(range(200, 230)), lat=fixes.lat[200], lon=fixes.lon[200])
    found = clean(held.raw())
    assert counts(found) == {"frozen": 29}
    assert len(found) == 311


def test_a_place_held_to_the_end_of_a_recording() -> None:
    """No leap follows that could tell: the height alone does."""
    fixes = descent().take(slice(None, 260))
    held = spoiled(fixes, list(range(252, 260)), lat=fixes.lat[252], lon=fixes.lon[252])
    assert counts(clean(held.raw())) == {"frozen": 7}


def test_a_place_held_through_a_whole_flight_that_ends_at_its_height() -> None:
    """A receiver that never finds its place writes the last one it knew, from one rest on the ground to the next."""
    t = np.arange(0.0, 1000.0)
    z = np.interp(t, [0, 200, 500, 560, 800, 1000], [300.0, 300.0, 1800.0, 1100.0, 300.0, 300.0])
    held = Fixes(START + t, np.full(t.size, 47.0), np.full(t.size, 8.0), z)
    found = clean(held.raw())
    assert counts(found) == {"frozen": 999}
    assert find_phases(build_track(found)).kind == "no jump"


def test_an_hour_at_rest_with_drift_and_stray_heights_is_kept() -> None:
    t = np.arange(0.0, 3600.0)
    z = 300.0 + 25.0 * np.sin(t / 600.0)
    z[[5, 900, 901, 3000]] = 900.0
    z[100:1500] = 0.0  # a column that was filled with zeros for a while
    rest = Fixes(START + t, np.full(t.size, 47.0), np.full(t.size, 8.0), z)
    assert "frozen" not in counts(clean(rest.raw()))


def test_a_place_held_at_rest_is_kept() -> None:
    fixes = descent()
    assert np.all(fixes.lat[301:] == fixes.lat[301])
    assert counts(clean(fixes.raw())) == {}


# ---- places on the globe -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lat", "lon"), [(47.0, 180.0), (-17.0, 179.999), (84.99, 20.0), (-84.9, -179.999), (0.0, 0.0)]
)
def test_anywhere_on_the_globe(lat: float, lon: float) -> None:
    fixes = descent(lat=lat, lon=lon)
    wrapped = fixes.raw(lon_deg=np.mod(fixes.lon + 180.0, 360.0) - 180.0)
    found = clean(wrapped)
    assert set(counts(found)) <= {"null-position"}
    assert len(found) >= 339


# ---- heights -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("altitude", "match"),
    [
        (0.0, "every altitude is zero"),
        (123.0, "every altitude is 123 m"),
        (9e4, "every altitude is 90000 m"),
        (math.nan, "no fix has an altitude"),
    ],
)
def test_a_column_without_heights_is_refused(altitude: float, match: str) -> None:
    fixes = descent()
    with pytest.raises(NoFixesError, match=match):
        clean(fixes.raw(altitude_m=np.full(340, altitude)))


def test_satellite_height_stands_in_for_a_missing_barometer() -> None:
    fixes = descent()
    found = clean(fixes.raw(altitude_m=np.zeros(340), gps_altitude_m=fixes.alt, altitude_source="barometric"))
    assert found.altitude_source == "gps"
    assert found.gps_altitude_m is None
    np.testing.assert_array_equal(found.altitude_m, fixes.alt)


@pytest.mark.parametrize(
    ("value", "code"),
    [(0.0, "zero-altitude"), (1e6, "bad-altitude"), (3000.0, "altitude-spike"), (1700.0, "altitude-spike")],
)
def test_single_heights_that_are_none(value: float, code: str) -> None:
    found = clean(spoiled(descent(), [30, 90], alt=value).raw())
    assert counts(found) == {code: 2}
    assert np.isnan(found.altitude_m[[30, 90]]).all()
    assert len(found) == 340


def jump_heights(t: np.ndarray) -> np.ndarray:
    """Exit at 4000 m above a field at 200 m, 55 m/s for a minute, then 5 m/s."""
    return np.where(
        t < 20, 4200.0, np.where(t < 80, 4200 - 55 * (t - 20), np.maximum(900 - 5 * (t - 80), 200.0))
    )


def test_heights_in_feet_are_said_and_left_alone() -> None:
    t = np.arange(0, 300.0)
    fixes = Fixes(START + t, 47 + 10 * np.minimum(t, 220) / 111195, np.full(300, 8.0), jump_heights(t))
    assert counts(clean(fixes.raw())) == {}
    feet = clean(fixes.raw(altitude_m=fixes.alt / 0.3048))
    assert counts(feet) == {"altitude-maybe-feet": None}
    np.testing.assert_allclose(feet.altitude_m, fixes.alt / 0.3048)
    beside = clean(fixes.raw(altitude_m=fixes.alt / 0.3048, gps_altitude_m=fixes.alt))
    assert "satellite heights" in beside.notes[0].text


def test_a_canopy_in_feet_is_said() -> None:
    fixes = descent()
    assert counts(clean(fixes.raw(altitude_m=fixes.alt / 0.3048))) == {"altitude-maybe-feet": None}


# ---- any mixture -------------------------------------------------------------------------------------------------------

number = st.one_of(
    st.floats(allow_nan=True, allow_infinity=False), st.sampled_from([0.0, 47.0, 8.0, 180.0, -90.0, 1e9])
)
row = st.tuples(
    st.one_of(st.floats(START, START + 50), st.sampled_from([math.nan, START, START + 1, -1e12, 4e9])),
    st.one_of(number, st.floats(46.99, 47.01)),
    st.one_of(number, st.floats(7.99, 8.01)),
    st.one_of(number, st.floats(0, 4000)),
    number,
    number,
    st.integers(0, 2),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(row, max_size=40))
def test_any_fixes_give_a_recording_or_our_error(rows: list[tuple[float, ...]]) -> None:
    columns = np.array(rows, dtype=float).reshape(-1, 7).T
    raw = RawFixes("gpx", *columns[:6], columns[6].astype(np.int64))
    try:
        found = clean(raw)
    except AnalyserError:
        return
    assert 0 < len(found) <= len(rows)
    assert np.all(np.diff(found.time_s) > 0)
    assert np.all(np.abs(found.lat_deg) <= 90)
    assert np.any(np.isfinite(found.altitude_m))
    assert len(rows) - len(found) == sum(n.count for n in found.notes if n.count and n.code not in _KEPT)


_KEPT = {"clock-shift", "zero-altitude", "bad-altitude", "altitude-spike"}
