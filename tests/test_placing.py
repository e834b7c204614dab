"""Where metres count from: a target of this field is kept, one of another field is left out with a reason."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.debrief import debrief_recording
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.placing import place
from analyser.settings import Settings, Site
from analyser.track import build_track

TARGET = (49.7215, -107.9342)
KM_PER_DEGREE_OF_LATITUDE = 111.2  # WGS 84 at 50 degrees north: 111.23 km


@pytest.fixture(scope="module")
def recording() -> Recording:
    return read(Path(__file__).resolve().parent.parent / "sample_tracks" / "late_final.gpx")


def at(target: tuple[float, float]) -> Settings:
    return Settings(site=Site(target=target))


@pytest.mark.parametrize("lat_deg", [TARGET[0], TARGET[0] + 40.0 / KM_PER_DEGREE_OF_LATITUDE])
def test_a_target_within_reach_of_the_track_is_kept(recording: Recording, lat_deg: float) -> None:
    settings, track, why = place(recording, at((lat_deg, TARGET[1])))
    assert why is None
    assert settings.site.target == (lat_deg, TARGET[1])
    assert (track.frame.lat_deg, track.frame.lon_deg) == (lat_deg, TARGET[1])


@pytest.mark.parametrize(
    "wrong",
    [
        (TARGET[0] + 60.0 / KM_PER_DEGREE_OF_LATITUDE, TARGET[1]),
        (TARGET[0], -TARGET[1]),
        (-TARGET[0], TARGET[1]),
        (-TARGET[0], 180.0 + TARGET[1]),
    ],
    ids=["60 km off", "sign of longitude", "sign of latitude", "other side of the globe"],
)
def test_a_target_of_another_field_is_left_out(recording: Recording, wrong: tuple[float, float]) -> None:
    settings, track, why = place(recording, at(wrong))
    assert why is not None
    assert "far from the track" in why
    assert settings.site.target is None
    alone = build_track(recording)
    np.testing.assert_array_equal(track.east_m, alone.east_m)


def test_a_target_across_the_date_line_is_near(recording: Recording) -> None:
    moved = replace(recording, lon_deg=recording.lon_deg - np.median(recording.lon_deg) + 179.999)
    assert place(moved, at((TARGET[0], -179.999)))[2] is None


def test_the_debrief_goes_on_without_it(recording: Recording) -> None:
    wrong = debrief_recording(recording, at((TARGET[0], -TARGET[1])))
    bare = debrief_recording(recording, Settings())
    assert not wrong.has_target
    assert "check the signs" in wrong.reasons["target"]
    assert wrong.landing is not None
    assert wrong.landing.offset_m is None
    assert wrong.flown is not None
    assert bare.flown is not None
    assert wrong.flown.landing_deg == bare.flown.landing_deg
