"""Tracks faster than 20 fixes a second are averaged; two tracks mixed in one file are refused, near ones and far ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fix_cases import Fixes, counts, descent

from analyser.errors import FormatError
from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.importers.thin import thin
from analyser.synthetic.scenario import record_jump

M_DEG = 111_195.0


def straight(hz: float, seconds: float = 60.0, lon: float = 8.0) -> RawFixes:
    """12 m/s north, 5 m/s down, course swinging through north."""
    t = np.arange(0.0, seconds, 1.0 / hz)
    return RawFixes(
        format="gpx",
        time_s=1.9e9 + t,
        lat_deg=47.0 + 12.0 * t / M_DEG,
        lon_deg=np.full(t.size, lon),
        altitude_m=2000.0 - 5.0 * t,
        speed_mps=np.full(t.size, 12.0),
        course_deg=np.where(np.arange(t.size) % 2 == 0, 359.0, 1.0),
        segment=np.zeros(t.size, dtype=np.int64),
    )


@pytest.mark.parametrize("hz", [25.0, 100.0, 500.0])
def test_a_fast_track_becomes_its_own_means(hz: float) -> None:
    found = thin(straight(hz))
    rate = 1.0 / float(np.median(np.diff(found.time_s)))
    assert 10.0 <= rate <= 20.001
    t = found.time_s - 1.9e9
    assert found.lat_deg == pytest.approx(47.0 + 12.0 * t / M_DEG, abs=1e-9)
    assert found.altitude_m == pytest.approx(2000.0 - 5.0 * t, abs=1e-6)
    assert np.all(np.minimum(found.course_deg, 360.0 - found.course_deg) <= 1.0), (
        "no mean of 359° and 1° is 180°"
    )
    (note,) = found.notes
    assert (note.code, note.count) == ("thinned", straight(hz).time_s.size - t.size)


@pytest.mark.parametrize("hz", [1.0, 5.0, 10.0, 20.0])
def test_other_tracks_stay_as_they_are(hz: float) -> None:
    raw = straight(hz)
    assert thin(raw) is raw


def test_a_log_faster_than_its_receiver_is_not_averaged() -> None:
    slow = straight(10.0)
    raw = replace(
        slow,
        **{
            name: np.repeat(getattr(slow, name), 5)
            for name in ("lat_deg", "lon_deg", "altitude_m", "speed_mps", "course_deg", "segment")
        },
        time_s=slow.time_s[0] + np.arange(5 * len(slow)) / 50.0,
    )
    assert thin(raw) is raw


def test_gaps_missing_values_and_the_antimeridian_keep_their_fixes_apart() -> None:
    raw = straight(100.0, lon=180.0)
    lon = np.where(np.arange(len(raw)) % 2 == 0, 179.99999, -179.99999)
    time = np.where(np.arange(len(raw)) >= 3002, raw.time_s + 50.0, raw.time_s)
    altitude = raw.altitude_m.copy()
    altitude[::2] = np.nan
    found = thin(replace(raw, lon_deg=lon, time_s=time, altitude_m=altitude))
    assert np.all(np.abs(found.lon_deg) > 179.9)
    assert np.all(np.isfinite(found.altitude_m))
    assert float(np.max(np.diff(found.time_s))) > 49.0
    inside = (found.time_s > 1.9e9 + 30.0) & (found.time_s < 1.9e9 + 80.0)
    assert not np.any(inside & (found.time_s < 1.9e9 + 79.0) & (found.time_s > 1.9e9 + 31.0)), (
        "no mean across the gap"
    )


def mixed(first: Fixes, second: Fixes, late_s: float) -> RawFixes:
    """Both in the order of their times, the second recorded ``late_s`` after the first."""
    a, b = first.raw(), second.raw()
    b = replace(b, time_s=b.time_s + late_s)
    order = np.argsort(np.concatenate([a.time_s, b.time_s]), kind="stable")
    names = ("time_s", "lat_deg", "lon_deg", "altitude_m", "speed_mps", "course_deg", "segment")
    return replace(a, **{n: np.concatenate([getattr(a, n), getattr(b, n)])[order] for n in names})


@pytest.mark.parametrize("aside_m", [60.0, 400.0, 5000.0])
@pytest.mark.parametrize("late_s", [0.4, 0.0])
def test_two_jumpers_in_one_file_are_no_jump(aside_m: float, late_s: float) -> None:
    both = mixed(descent(), descent(lon=8.0 + aside_m / (M_DEG * np.cos(np.radians(47.0)))), late_s)
    with pytest.raises(FormatError, match="two tracks are mixed"):
        clean(both)


def test_one_jumper_alone_is_never_taken_for_two() -> None:
    for seed in range(40):
        fixes = record_jump(90_000 + seed).fixes
        raw = RawFixes(
            format="gpx",
            time_s=fixes.time_s,
            lat_deg=fixes.lat_deg,
            lon_deg=fixes.lon_deg,
            altitude_m=fixes.altitude_m,
            speed_mps=fixes.speed_mps,
            course_deg=fixes.course_deg,
            segment=np.zeros(fixes.time_s.size, dtype=np.int64),
        )
        assert "thinned" not in counts(clean(raw))
