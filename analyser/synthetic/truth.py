"""Truth of a made-up jump: the mean wind, the true flight, the phases, the gates, the plan that was followed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.importers.recording import Recording
from analyser.synthetic.setup import Setup
from analyser.synthetic.timeline import PhaseSpan

__all__ = ["Fixes", "Gate", "PlanGate", "SyntheticJump", "Truth"]

Vector = NDArray[np.float64]


class Gate(NamedTuple):
    """A turn that was flown: name of the leg it leads onto, where and when it began, the height where it ended."""

    name: str
    agl_m: float
    utc_s: float
    east_m: float
    north_m: float
    end_agl_m: float
    heading_deg: float
    track_deg: float


class PlanGate(NamedTuple):
    """A gate of the plan the pilot had in mind: metres from the target, heading and track of the leg that begins there."""

    name: str
    agl_m: float
    east_m: float
    north_m: float
    heading_deg: float
    track_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What really happened. Places in metres from the target, times in UTC seconds, winds as velocity of the air.

    ``wind_agl_m``, ``wind_east``, ``wind_north`` (k,) the mean wind without gusts, at the time the canopy passed each height;
    the arrays from ``t_utc_s`` on cover the canopy flight every 0.1 s: place, height, horizontal air velocity
    (heading times airspeed), gusts, heading and bank [deg], brake 0…1. ``kind`` and ``hand`` as in the debrief's JSON.
    ``landing_deg`` the true track of the last leg. ``airspeed_mps``, ``sink_mps`` trim at sea level.
    ``optional`` names of legs that may be told or left out (flown, but not as a leg of their own).
    """

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
    heading_deg: Vector
    bank_deg: Vector
    brake: Vector
    phases: tuple[PhaseSpan, ...]
    gates: tuple[Gate, ...]
    plan: tuple[PlanGate, ...]
    plan_landing_deg: float | None
    plan_wind: tuple[tuple[float, float, float], ...]
    opening_utc_s: float | None
    landing_utc_s: float | None
    landing_lat: float | None
    landing_lon: float | None
    landing_east_m: float | None
    landing_north_m: float | None
    errors: tuple[str, ...] = ()
    jump: str = "ordinary"
    receiver: str = "record"
    optional: tuple[str, ...] = ()

    def wind(self, agl_m: ArrayLike) -> tuple[Vector, Vector]:
        """Mean wind (east, north) [m/s] at heights above the landing area."""
        h = np.asarray(agl_m, dtype=np.float64)
        return np.interp(h, self.wind_agl_m, self.wind_east), np.interp(h, self.wind_agl_m, self.wind_north)

    def gate(self, name: str) -> Gate | None:
        """The flown gate of that name, or None."""
        return next((g for g in self.gates if g.name == name), None)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON data, rounded: winds every 50 m, the flight once a second."""
        heights = np.arange(0.0, float(self.agl_m[0]) + 1.0, 50.0) if self.agl_m.size else np.zeros(0)
        east, north = self.wind(heights)
        every = slice(None, None, 10)
        return {
            "schema": "crabline.truth/1",
            "seed": self.seed,
            "jump": self.jump,
            "style": self.style,
            "receiver": self.receiver,
            "errors": list(self.errors),
            "target": {"lat": round(self.target_lat, 7), "lon": round(self.target_lon, 7)},
            "ground_elevation_m": round(self.ground_elevation_m, 2),
            "canopy": {"airspeed_mps": round(self.airspeed_mps, 3), "sink_mps": round(self.sink_mps, 3)},
            "pattern": {"kind": self.kind, "hand": self.hand, "landing_deg": _round(self.landing_deg, 2)},
            "winds": [
                {"agl_m": float(h), "east_mps": round(float(e), 3), "north_mps": round(float(n), 3)}
                for h, e, n in zip(heights, east, north)
            ],
            "phases": [{"phase": p.name, "start_utc_s": round(p.start_utc_s, 2), "end_utc_s": round(p.end_utc_s, 2)} for p in self.phases],
            "gates": [_rounded(g._asdict()) for g in self.gates],
            "plan": {
                "landing_deg": _round(self.plan_landing_deg, 2),
                "gates": [_rounded(g._asdict()) for g in self.plan],
                "winds": [{"agl_m": h, "east_mps": round(e, 3), "north_mps": round(n, 3)} for h, e, n in self.plan_wind],
            },
            "opening_utc_s": _round(self.opening_utc_s, 2),
            "landing": {
                "utc_s": _round(self.landing_utc_s, 2),
                "lat": _round(self.landing_lat, 7),
                "lon": _round(self.landing_lon, 7),
                "east_m": _round(self.landing_east_m, 2),
                "north_m": _round(self.landing_north_m, 2),
            },
            "flight": {
                "utc_s": np.round(self.t_utc_s[every], 1).tolist(),
                "east_m": np.round(self.east_m[every], 1).tolist(),
                "north_m": np.round(self.north_m[every], 1).tolist(),
                "agl_m": np.round(self.agl_m[every], 1).tolist(),
                "heading_deg": np.round(self.heading_deg[every], 0).tolist(),
                "brake": np.round(self.brake[every], 2).tolist(),
            },
        }  # fmt: skip


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(float(value), digits)


def _rounded(row: dict[str, Any]) -> dict[str, Any]:
    return {k: round(v, 2) if isinstance(v, float) else v for k, v in row.items()}


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """The rows of a track file in file order, faults and all, (n,): NaN where there is no value.

    ``faulty`` marks rows that a faultless reader would leave out (repeated, stale, or with a wrong clock); ``true_s`` when
    each was really taken [UTC s].
    """

    time_s: Vector
    lat_deg: Vector
    lon_deg: Vector
    altitude_m: Vector
    speed_mps: Vector
    course_deg: Vector
    faulty: NDArray[np.bool_]
    true_s: Vector

    def __len__(self) -> int:
        return int(self.time_s.shape[0])

    def with_times(self, time_s: Vector, faulty: NDArray[np.bool_]) -> Fixes:
        """The same rows with other time stamps."""
        return replace(self, time_s=np.round(time_s, 3), faulty=faulty)

    def taken(self, order: NDArray[np.intp], faulty: NDArray[np.bool_]) -> Fixes:
        """Rows picked by index, in that order."""
        return Fixes(
            self.time_s[order],
            self.lat_deg[order],
            self.lon_deg[order],
            self.altitude_m[order],
            self.speed_mps[order],
            self.course_deg[order],
            faulty,
            self.true_s[order],
        )


@dataclass(frozen=True, slots=True, eq=False)
class SyntheticJump:
    """A recording as a receiver would have made it, what really happened, the rows of its file, and the setup that made it."""

    recording: Recording
    truth: Truth
    fixes: Fixes
    name: str
    setup: Setup
