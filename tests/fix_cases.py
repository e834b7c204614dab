"""A made descent whose fixes the tests of reading and cleaning spoil."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from analyser.importers.raw import RawFixes
from analyser.importers.recording import Recording

START = datetime(2026, 5, 1, 12, tzinfo=UTC).timestamp()
HALF_DAY = 43200.0


@dataclass(frozen=True)
class Fixes:
    """A descent in circles from 1200 m with a rest of 40 s after it; whole-number truth to spoil."""

    t: np.ndarray
    lat: np.ndarray
    lon: np.ndarray
    alt: np.ndarray

    def raw(self, **changes: object) -> RawFixes:
        nan = np.full(self.t.shape, np.nan)
        fixes = RawFixes(
            format="gpx",
            time_s=self.t,
            lat_deg=self.lat,
            lon_deg=self.lon,
            altitude_m=self.alt,
            speed_mps=nan,
            course_deg=nan.copy(),
            segment=np.zeros(self.t.size, dtype=np.int64),
        )
        return replace(fixes, **changes)

    def take(self, at: object) -> Fixes:
        return Fixes(self.t[at], self.lat[at], self.lon[at], self.alt[at])

    def gpx(self) -> str:
        rows = "".join(
            f'<trkpt lat="{a:.7f}" lon="{o:.7f}"><ele>{z:.1f}</ele>'
            f"<time>{(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(t))).isoformat()}</time></trkpt>"
            for t, a, o, z in zip(self.t, self.lat, self.lon, self.alt)
        )
        return f'<gpx version="1.1"><trk><trkseg>{rows}</trkseg></trk></gpx>'


def descent(hz: float = 1.0, *, lat: float = 47.0, lon: float = 8.0, wind: float = 3.0) -> Fixes:
    t = np.arange(0, 340, 1 / hz)
    u = np.minimum(t, 300.0)
    east = 60 * np.sin(u / 8) + wind * u
    north = 60 * np.cos(u / 8)
    z = 400.0 + 4.0 * (300.0 - u)
    return Fixes(
        START + t, lat + north / 111195, lon + east / (111195 * math.cos(math.radians(lat))), np.round(z, 1)
    )


def counts(recording: Recording) -> dict[str, int | None]:
    return {n.code: n.count for n in recording.notes}
