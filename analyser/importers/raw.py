"""RawFixes: what a format's reader found, in file order and uncleaned."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import AltitudeSource, Note

__all__ = ["RawFixes"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class RawFixes:
    """Fixes in file order, arrays (n,) float64 with NaN where a value is missing or unreadable.

    Units as in :class:`~analyser.importers.recording.Recording`. ``segment`` (n,) numbers the stretches the file itself
    keeps apart (a new track, a new segment, a chained file); ``notes`` what the reader had to put up with.
    """

    format: str
    time_s: Vector
    lat_deg: Vector
    lon_deg: Vector
    altitude_m: Vector
    speed_mps: Vector
    course_deg: Vector
    segment: NDArray[np.int64]
    gps_altitude_m: Vector | None = None
    climb_mps: Vector | None = None
    altitude_source: AltitudeSource = "unknown"
    device: str | None = None
    name: str | None = None
    created_s: float | None = None
    notes: tuple[Note, ...] = field(default=())

    def __len__(self) -> int:
        return int(self.time_s.shape[0])
