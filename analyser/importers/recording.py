"""Recording: what an importer hands over, whatever the format."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["AltitudeSource", "Note", "Recording"]

AltitudeSource = Literal["barometric", "gps", "unknown"]


@dataclass(frozen=True, slots=True)
class Note:
    """Something a reader or a stage saw: a stable ``code`` and a sentence; ``count`` where things were counted."""

    code: str
    text: str
    count: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Fixes in time order, strictly increasing, all arrays (n,) float64; NaN where the file has no value.

    ``time_s`` seconds since 1970-01-01 UTC; ``lat_deg``, ``lon_deg`` WGS 84; ``altitude_m`` above sea level
    (or above whatever the receiver took for it); ``gps_altitude_m`` a second, satellite altitude beside a
    barometric ``altitude_m``; ``speed_mps``/``course_deg`` recorded (Doppler) ground speed and course;
    ``climb_mps`` recorded vertical speed, up positive. ``copies``: how many of the fixes that the notes count as dropped
    were exact copies (time, place, altitude) of one that was kept, or its place again in a log faster than its receiver; with
    them nothing was lost.
    """

    time_s: NDArray[np.float64]
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    altitude_m: NDArray[np.float64]
    speed_mps: NDArray[np.float64]
    course_deg: NDArray[np.float64]
    gps_altitude_m: NDArray[np.float64] | None = None
    climb_mps: NDArray[np.float64] | None = None
    altitude_source: AltitudeSource = "unknown"
    format: str = "gpx"
    device: str | None = None
    name: str | None = None
    file: str = ""
    sha256: str = ""
    notes: tuple[Note, ...] = field(default=())
    copies: int = 0

    def __repr__(self) -> str:
        """One line."""
        return f"<Recording of {len(self)} fixes, {self.format}, heights {self.altitude_source}: {self.file[-60:]}>"

    @property
    def lost(self) -> int:
        """How many fixes and values were dropped, copies not counted."""
        return sum(note.count or 0 for note in self.notes) - self.copies

    def __post_init__(self) -> None:
        n = self.time_s.shape
        arrays = (
            self.time_s,
            self.lat_deg,
            self.lon_deg,
            self.altitude_m,
            self.speed_mps,
            self.course_deg,
            self.gps_altitude_m,
            self.climb_mps,
        )
        for values in arrays:
            if values is None:
                continue
            if values.shape != n or values.dtype != np.float64:
                raise ValueError(
                    f"a recording needs float64 arrays of one shape {n}, got {values.dtype} {values.shape}"
                )
            values.setflags(write=False)
        if n[0] > 1 and not bool(np.all(np.diff(self.time_s) > 0)):
            raise ValueError("the times of a recording must increase strictly")

    def __len__(self) -> int:
        return int(self.time_s.shape[0])

    def slice(self, start: int, stop: int) -> Recording:
        """The fixes ``start:stop`` as a recording of their own, with the same notes."""

        def cut(values: NDArray[np.float64]) -> NDArray[np.float64]:
            return values[start:stop].copy()

        return replace(
            self,
            time_s=cut(self.time_s),
            lat_deg=cut(self.lat_deg),
            lon_deg=cut(self.lon_deg),
            altitude_m=cut(self.altitude_m),
            speed_mps=cut(self.speed_mps),
            course_deg=cut(self.course_deg),
            gps_altitude_m=None if self.gps_altitude_m is None else cut(self.gps_altitude_m),
            climb_mps=None if self.climb_mps is None else cut(self.climb_mps),
        )
