"""Recorded speed, course and climb: whole or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from track_cases import notes, recording, turn

from analyser.track import build_track

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"


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
