"""Exact copies of fixes are counted and told, but nothing is lost with them: the grade stays."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from fix_cases import counts, descent

from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.track import build_track

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
POINT = re.compile(rb"<trkpt.*?</trkpt>\s*", re.DOTALL)


def same_fixes(one: Recording, other: Recording) -> None:
    for name in ("time_s", "lat_deg", "lon_deg", "altitude_m"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def doubled(raw: RawFixes, at: np.ndarray) -> RawFixes:
    arrays = {f.name: getattr(raw, f.name) for f in fields(raw)}
    return replace(raw, **{name: a[at] for name, a in arrays.items() if isinstance(a, np.ndarray)})


def test_a_gpx_with_every_point_twice_is_as_good_as_with_each_once(tmp_path: Path) -> None:
    data = (SAMPLES / "strong_wind.gpx").read_bytes()
    twice = tmp_path / "twice.gpx"
    twice.write_bytes(POINT.sub(lambda m: m.group() * 2, data))
    once, found = read(SAMPLES / "strong_wind.gpx"), read(twice)
    same_fixes(once, found)
    assert counts(found) == {"duplicate": len(once)}
    assert found.copies == len(once)
    assert "all of them exact copies" in found.notes[0].text
    assert build_track(found).quality.grade == build_track(once).quality.grade == "good"


def test_a_fit_file_chained_with_itself_is_as_good_as_alone(tmp_path: Path) -> None:
    data = (SAMPLES / "steady_breeze.fit").read_bytes()
    chained = tmp_path / "chained.fit"
    chained.write_bytes(data * 2)
    once, found = read(SAMPLES / "steady_breeze.fit"), read(chained)
    same_fixes(once, found)
    assert counts(found)["duplicate"] == len(once)
    assert build_track(found).quality.grade == build_track(once).quality.grade == "good"


@pytest.mark.parametrize("at", [np.repeat(np.arange(1700), 2), np.tile(np.arange(1700), 2)])
def test_copies_under_stamps_of_whole_seconds_are_no_loss_either(at: np.ndarray) -> None:
    """Five fixes share each stamp, and each of them is there twice, side by side or as a block."""
    raw = descent(hz=5.0).raw()
    raw = replace(raw, time_s=np.floor(raw.time_s))
    once, found = clean(raw), clean(doubled(raw, at))
    same_fixes(once, found)
    assert (found.copies, found.lost) == (1700, 0)


@pytest.mark.parametrize("change", [{"alt": 1.0}, {"lat": 0.5 / 111195}])
def test_second_fixes_of_another_height_or_place_are_lost(change: dict[str, float]) -> None:
    """One of two that do not agree was left out, and nobody knows which was right."""
    fixes = descent()
    at = np.tile(np.arange(340), 2)
    second = np.arange(680) >= 340
    raw = fixes.take(at).raw()
    found = clean(
        replace(
            raw,
            altitude_m=raw.altitude_m + change.get("alt", 0.0) * second,
            lat_deg=raw.lat_deg + change.get("lat", 0.0) * second,
        )
    )
    assert found.copies < 20
    assert found.lost > 300
    assert build_track(found).quality.grade == "poor"


def test_a_few_copies_among_many_lost_ones_are_told_apart() -> None:
    """Forty fixes twice, and five stamped 7 s late that have to go."""
    fixes = descent()
    raw = fixes.take(np.concatenate([np.arange(150), np.arange(110, 340)])).raw()
    late = raw.time_s.copy()
    late[240:245] += 7.0
    found = clean(replace(raw, time_s=late))
    assert counts(found) == {"duplicate": 40, "backwards": 5}
    assert (found.copies, found.lost) == (40, 5)
