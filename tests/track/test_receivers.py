"""Tracks of made-up jumps through odd receivers, against their known truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from track_cases import notes
from worlds.receivers import PLACES

from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump
from analyser.track import Track, build_track

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"


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


@pytest.mark.parametrize("place", PLACES)
def test_awkward_places(place: str) -> None:
    """Across ±180° of longitude, at 85° of latitude, where equator and zero meridian meet: the same errors as elsewhere."""
    lat, lon = PLACES[place]
    found = record_jump(420, lat_deg=lat, lon_deg=lon, receiver=Receiver(name="plain"))
    truth, track = found.truth, through(found)
    utc = track.start_utc_s + track.t_s
    at = (utc > truth.t_utc_s[0] + 3) & (utc < truth.t_utc_s[-1] - 3)
    for there, v, mine in (
        (truth.east_m, track.v_east, track.east_m),
        (truth.north_m, track.v_north, track.north_m),
    ):
        off = v[at] - np.interp(utc[at], truth.t_utc_s, np.gradient(there, truth.t_utc_s))
        assert np.sqrt(np.mean(off**2)) < 0.35
        assert np.max(np.abs(mine[at] - np.interp(utc[at], truth.t_utc_s, there))) < 15.0
    assert track.quality.grade == "good"


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
