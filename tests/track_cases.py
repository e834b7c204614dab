"""Recordings and paths that the tests of tracks, velocities and Doppler share."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from analyser.frame import LocalFrame
from analyser.importers.recording import Recording
from analyser.track import Track

REAL = Path(__file__).resolve().parents[1] / "shared" / "real"
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
