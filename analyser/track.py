"""build_track: Recording -> Track (local metres, height above the landing area, velocity, quality)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.frame import LocalFrame
from analyser.importers.recording import AltitudeSource, Note, Recording

__all__ = ["Gap", "Quality", "Track", "build_track"]

Vector = NDArray[np.float64]


class Gap(NamedTuple):
    """A hole in the recording: start [s since the epoch, UTC] and length [s]."""

    start_s: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Quality:
    """How far the numbers can be trusted. The rules of the grade are written at ``grade_of``."""

    grade: Literal["good", "usable", "poor"]
    altitude: AltitudeSource
    gaps: tuple[Gap, ...]
    notes: tuple[Note, ...]
    rate_hz: float


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A recording in local metres. All arrays (n,) float64, ``t_s`` strictly increasing.

    ``t_s`` seconds since ``start_utc_s`` (the first fix); ``east_m``, ``north_m`` from the frame's origin;
    ``agl_m`` height above the landing area (NaN where the file has no altitude); ``v_east``, ``v_north`` ground
    velocity and ``v_up`` climb [m/s]; ``velocity_sd`` standard deviation of one horizontal velocity component [m/s]
    (white part); ``velocity_source`` "position" or "doppler"; ``agl_sd_m`` slow (common) error of the heights [m, 1 sigma];
    ``position_sd_m`` slow error of the position per axis [m, 1 sigma].
    """

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    v_east: Vector
    v_north: Vector
    v_up: Vector
    start_utc_s: float
    frame: LocalFrame
    ground_elevation_m: float
    ground_elevation_sd_m: float
    agl_sd_m: float
    position_sd_m: float
    velocity_sd: float
    velocity_source: Literal["position", "doppler"]
    quality: Quality

    def __post_init__(self) -> None:
        shape = self.t_s.shape
        for name in ("t_s", "east_m", "north_m", "agl_m", "v_east", "v_north", "v_up"):
            values = getattr(self, name)
            if values.shape != shape:
                raise ValueError(f"track array {name} has shape {values.shape}, expected {shape}")
            values.setflags(write=False)

    def __len__(self) -> int:
        return int(self.t_s.shape[0])

    def index(self, t_s: float) -> int:
        """Index of the fix nearest in time."""
        return int(np.argmin(np.abs(self.t_s - t_s)))


def build_track(
    recording: Recording,
    *,
    origin: tuple[float, float] | None = None,
    elevation_m: float | None = None,
) -> Track:
    """Local metres, velocity and height above the landing area.

    ``origin`` (lat, lon) of the local frame; default: the last resting place. ``elevation_m`` of the landing area above
    sea level in the file's own altitude reference; default: the resting fixes after landing, else before take-off.
    """
    raise NotImplementedError
