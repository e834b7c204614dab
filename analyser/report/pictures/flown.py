"""The flown path as the pictures and the moving marker need it: decimated, rounded, with what was known at each moment."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analyser.angles import to_vector
from analyser.atmosphere import true_airspeed_factor
from analyser.debrief import Debrief
from analyser.report.pictures.spec import MAX_POINTS, decimate, numbers

__all__ = ["FlownPath", "end_index", "flown_path"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FlownPath:
    """Canopy fixes, arrays (n,): ``index`` into the track, time to touchdown [s, negative before], metres, m/s, ``togo_m`` way left.

    ``wind_east``, ``wind_north`` and ``airspeed`` are NaN where no wind was found; ``upwind_m`` along the wind line, where there is one.
    """

    index: NDArray[np.intp]
    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    v_east: Vector
    v_north: Vector
    togo_m: Vector
    wind_east: Vector
    wind_north: Vector
    airspeed: Vector
    legs: tuple[str, ...]
    upwind_m: Vector | None

    @cached_property
    def ground_speed(self) -> Vector:
        """Speed over the ground [m/s]."""
        return np.hypot(self.v_east, self.v_north)

    def as_json(self) -> dict[str, object]:
        """Columns for the page's moving marker."""
        metres = {"t": self.t_s, "e": self.east_m, "n": self.north_m, "agl": self.agl_m, "togo": self.togo_m}
        if self.upwind_m is not None:
            metres["upwind"] = self.upwind_m
        speeds = {
            "ve": self.v_east,
            "vn": self.v_north,
            "we": self.wind_east,
            "wn": self.wind_north,
            "tas": self.airspeed,
        }
        changes = [i for i, leg in enumerate(self.legs) if i == 0 or leg != self.legs[i - 1]]
        columns: dict[str, object] = {name: numbers(v) for name, v in metres.items()}
        columns |= {name: numbers(v, 2) for name, v in speeds.items()}
        return columns | {"legs": [[i, self.legs[i]] for i in changes if i or self.legs[i]]}


def end_index(debrief: Debrief) -> int | None:
    """Index of the fix at touchdown, or of the last canopy fix where there was no landing; None without a canopy flight."""
    if debrief.phases.landing_index is not None:
        return debrief.phases.landing_index
    canopy = debrief.phases.canopy()
    return None if canopy is None else min(canopy.stop, len(debrief.track)) - 1


def flown_path(debrief: Debrief, at_most: int = MAX_POINTS) -> FlownPath | None:
    """The canopy flight, at most ``at_most`` fixes; None where there is none to show."""
    canopy, end, track = debrief.phases.canopy(), end_index(debrief), debrief.track
    if canopy is None or end is None or end - canopy.start < 2:
        return None
    whole = slice(canopy.start, end + 1)
    steps = np.hypot(np.diff(track.east_m[whole]), np.diff(track.north_m[whole]))
    togo = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
    i = decimate(canopy.start, end + 1, at_most)
    wind_east, wind_north, airspeed = _air(debrief, track.agl_m[i])
    t = track.t_s[i]
    legs = _legs(debrief, t)
    up = to_vector(1.0, debrief.reach.from_deg) if debrief.reach is not None else None
    return FlownPath(
        i,
        t - track.t_s[end],
        track.east_m[i],
        track.north_m[i],
        track.agl_m[i],
        track.v_east[i],
        track.v_north[i],
        togo[i - canopy.start],
        wind_east,
        wind_north,
        airspeed,
        legs,
        None if up is None else track.east_m[i] * up[0] + track.north_m[i] * up[1],
    )


def _air(debrief: Debrief, agl: Vector) -> tuple[Vector, Vector, Vector]:
    """Wind and trim airspeed at the heights ``agl``; NaN where the wind is undetermined or unknown."""
    nothing = np.full(agl.shape, math.nan)
    if debrief.wind is None:
        return nothing, nothing, nothing
    profile, speed = debrief.wind.profile, debrief.wind.canopy.airspeed_mps
    east, north = profile.vector(agl)
    known = np.array([s != "undetermined" for s in profile.status], dtype=np.float64)
    hidden = np.interp(agl, profile.agl_m, known) < 0.999
    altitude = np.maximum(agl, 0.0) + debrief.air_altitude_m
    trim = nothing if speed is None else speed * true_airspeed_factor(altitude)
    return np.where(hidden, math.nan, east), np.where(hidden, math.nan, north), trim


def _legs(debrief: Debrief, t: Vector) -> tuple[str, ...]:
    names = np.full(t.shape, "", dtype=object)
    for leg in debrief.flown.legs if debrief.flown else ():
        begin = leg.turn.start_s if leg.turn is not None else leg.start_s
        names[(t >= begin) & (t <= leg.end_s)] = leg.name
    return tuple(str(n) for n in names)
