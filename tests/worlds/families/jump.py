"""What a made-up jump of any family is: a recording and its truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.importers.recording import Recording

__all__ = ["TABLE_M", "WorldGate", "WorldJump", "WorldPhase", "WorldTruth"]

Vector = NDArray[np.float64]

TABLE_M = (0.0, 10.0, 25.0, *(50.0 * k for k in range(1, 81)))


class WorldPhase(NamedTuple):
    """A phase of the recording, UTC seconds; names as in the debrief's JSON."""

    name: str
    start_utc_s: float
    end_utc_s: float


class WorldGate(NamedTuple):
    """A turn of the pattern: the leg it leads onto, the moment the pilot began it, and the leg's mean heading and track."""

    name: str
    agl_m: float
    utc_s: float
    east_m: float
    north_m: float
    end_agl_m: float
    heading_deg: float
    track_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class WorldTruth:
    """What really happened; metres from the target, UTC seconds, winds as velocity of the air (where it goes).

    ``wind_agl_m``, ``wind_east``, ``wind_north`` (k,) the mean wind without gusts and thermals, with its change in time taken when
    the canopy crossed that height (averaged over 25 m of it). Arrays from ``t_utc_s`` on cover the canopy flight (every 0.05 s,
    ``ours`` 0.1 s) from line stretch to touchdown: place and height of the receiver's wearer, horizontal velocity of the
    wearer through the air, gusts (thermals included upwards), heading and bank [deg], brake 0…1, ``riser`` −1 (rear) … 1 (front).

    ``airspeed_mps`` (horizontal) and ``sink_mps``: steady straight flight hands up at 1.225 kg/m³. ``opening_utc_s`` the canopy is
    inflated; ``settled_utc_s`` the stowed brakes are released and twists, if any, are out; both None where a family has no such moment.
    ``final_brake`` mean brake between the end of the last turn and the flare; ``off_wind_deg`` heading of the final minus straight into
    the wind at 30 m; ``latency_s`` how late
    the receiver writes; ``sky``, ``pilot``, ``receiver`` name what was drawn.
    """

    family: str
    seed: int
    style: str
    kind: str
    hand: str | None
    landing_deg: float | None
    target_lat: float
    target_lon: float
    ground_elevation_m: float
    airspeed_mps: float
    sink_mps: float
    wind_agl_m: Vector
    wind_east: Vector
    wind_north: Vector
    t_utc_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    air_east: Vector
    air_north: Vector
    gust_east: Vector
    gust_north: Vector
    gust_up: Vector
    heading_deg: Vector
    bank_deg: Vector
    brake: Vector
    riser: Vector
    phases: tuple[WorldPhase, ...]
    gates: tuple[WorldGate, ...]
    opening_utc_s: float | None
    settled_utc_s: float | None
    landing_utc_s: float
    landing_lat: float
    landing_lon: float
    landing_east_m: float
    landing_north_m: float
    final_brake: float
    off_wind_deg: float
    latency_s: float
    sky: str
    pilot: str
    receiver: str

    def wind(self, agl_m: ArrayLike) -> tuple[Vector, Vector]:
        """Mean wind (east, north) [m/s] at heights above the landing area."""
        h = np.asarray(agl_m, dtype=np.float64)
        return np.interp(h, self.wind_agl_m, self.wind_east), np.interp(h, self.wind_agl_m, self.wind_north)

    def wind_table(self) -> tuple[Vector, Vector, Vector]:
        """Heights 0, 10, 25 m and every 50 m up to where the canopy flight began, and the mean wind there."""
        heights = np.array([h for h in TABLE_M if h <= float(np.max(self.agl_m))])
        return heights, *self.wind(heights)

    def gate(self, name: str) -> WorldGate | None:
        """The turn onto the leg of that name, or None."""
        return next((g for g in self.gates if g.name == name), None)


@dataclass(frozen=True, slots=True, eq=False)
class WorldJump:
    """A recording as a receiver would have made it, and what really happened."""

    recording: Recording
    truth: WorldTruth
