"""The heading through the air, the wind taken out, and the stretches it is cut into."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["AirHeading", "Stretch", "air_heading"]

Vector = NDArray[np.float64]


class AirHeading(NamedTuple):
    """Heading through the air: times [s], heading [deg true, without jumps at north], airspeed [m/s]; all (n,).

    ``box_s`` is the length of the stretch of flight that each value is the mean of; ``swing_deg`` how far the heading swung (rms)
    before that was taken out.
    """

    t: Vector
    deg: Vector
    speed: Vector
    box_s: float
    swing_deg: float = 0.0


class Stretch(NamedTuple):
    """A stretch of flight between two times [s]; headings [deg, without jumps at north] at both; ``turning`` or straight."""

    start_s: float
    end_s: float
    start_deg: float
    end_deg: float
    turning: bool

    @property
    def change_deg(self) -> float:
        """Signed change of heading, right positive."""
        return self.end_deg - self.start_deg

    @property
    def curved(self) -> bool:
        """One long bend: neither a turn nor straight."""
        return not self.turning and self.start_deg != self.end_deg

    @property
    def seconds(self) -> float:
        """Length in time [s]."""
        return self.end_s - self.start_s


def air_heading(
    t: Vector, east: Vector, north: Vector, wind_east: Vector, wind_north: Vector, baseline_s: float = 1.0
) -> AirHeading:
    """Heading of the air velocity from displacements over ``baseline_s`` or one sampling interval, whichever is longer.

    ``t`` [s], ``east``, ``north`` [m] and the wind at each fix [m/s], all (n,). Displacements over holes of more than
    five seconds are left out; single outliers are taken out by a running median of three, which a turn passes unchanged.
    """
    step = float(np.median(np.diff(t)))
    base = max(baseline_s, step)
    j = np.searchsorted(t, t + base - 0.3 * step)
    i = np.flatnonzero(j < t.shape[0])
    j = j[i]
    dt = t[j] - t[i]
    keep = (dt > 0.3 * step) & (dt <= max(5.0, 2.5 * step))
    i, j, dt = i[keep], j[keep], dt[keep]
    ve = (east[j] - east[i]) / dt - 0.5 * (wind_east[i] + wind_east[j])
    vn = (north[j] - north[i]) / dt - 0.5 * (wind_north[i] + wind_north[j])
    deg = np.degrees(np.unwrap(np.arctan2(ve, vn)))
    if deg.shape[0] > 2:
        middle = np.median(np.stack([deg[:-2], deg[1:-1], deg[2:]]), axis=0)
        deg = np.concatenate([deg[:1], middle, deg[-1:]])
    return AirHeading(0.5 * (t[i] + t[j]), deg, np.hypot(ve, vn), float(np.median(dt)))
