"""Tracks made in the tests from plain arrays: no receiver, no synthetic jump, every time known in closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.frame import LocalFrame
from analyser.track import Quality, Track

Vector = NDArray[np.float64]


def track_of(t: Vector, east: Vector, north: Vector, agl: Vector) -> Track:
    """A track with the velocities of its own differences."""
    rate = 1.0 / float(np.median(np.diff(t)))
    return Track(
        t_s=t.copy(),
        east_m=east.copy(),
        north_m=north.copy(),
        agl_m=agl.copy(),
        v_east=np.gradient(east, t),
        v_north=np.gradient(north, t),
        v_up=np.gradient(agl, t),
        start_utc_s=1.7e9,
        frame=LocalFrame(50.0, 10.0),
        ground_elevation_m=100.0,
        ground_elevation_sd_m=0.3,
        agl_sd_m=2.0,
        position_sd_m=2.0,
        velocity_sd=0.2,
        velocity_source="position",
        quality=Quality("good", "gps", (), (), rate),
    )


def moved(
    track: Track, *, turn_deg: float = 0.0, mirror: bool = False, east_m: float = 0.0, north_m: float = 0.0
) -> Track:
    """The same flight in a world mirrored at the north axis, turned clockwise and shifted."""

    def put(e: Vector, n: Vector, de: float, dn: float) -> tuple[Vector, Vector]:
        a = math.radians(turn_deg)
        e = -e if mirror else e
        return e * math.cos(a) + n * math.sin(a) + de, -e * math.sin(a) + n * math.cos(a) + dn

    east, north = put(track.east_m, track.north_m, east_m, north_m)
    v_east, v_north = put(track.v_east, track.v_north, 0.0, 0.0)
    return replace(track, east_m=east, north_m=north, v_east=v_east, v_north=v_north)


def without(track: Track, keep: NDArray[np.bool_]) -> Track:
    """The fixes to keep."""
    names = ("t_s", "east_m", "north_m", "agl_m", "v_east", "v_north", "v_up")
    return replace(track, **{name: getattr(track, name)[keep].copy() for name in names})


def simple_jump(rate_hz: float = 5.0, noise_m: float = 0.0, seed: int = 0) -> tuple[Track, dict[str, float]]:
    """100 s on the ground, climb, 45 s of fall, 4 s of opening, a straight canopy flight at 10 and 5 m/s, 2 s of flare, standing."""
    step = 0.02
    clock = np.arange(0.0, 1300.0, step)
    speed, climb = np.zeros_like(clock), np.zeros_like(clock)
    marks = {"climb": 120.0, "free fall": 880.0, "opening": 925.0, "canopy": 929.0}
    roll = (clock >= 100.0) & (clock < 120.0)
    speed[roll] = 2.0 * (clock[roll] - 100.0)
    up = (clock >= 120.0) & (clock < 880.0)
    speed[up] = 40.0
    climb[up] = np.where(clock[up] < 820.0, 5.0 * np.minimum((clock[up] - 120.0) / 6.0, 1.0), 0.0)
    fall = (clock >= 880.0) & (clock < 925.0)
    speed[fall] = 40.0 * np.exp(-(clock[fall] - 880.0) / 5.0)
    climb[fall] = -54.0 * np.tanh(9.81 * (clock[fall] - 880.0) / 54.0)
    opening = (clock >= 925.0) & (clock < 929.0)
    part = (clock[opening] - 925.0) / 4.0
    speed[opening], climb[opening] = 10.0 * part, -54.0 + 49.0 * part
    canopy = clock >= 929.0
    speed[canopy], climb[canopy] = 10.0, -5.0
    height = np.cumsum(climb) * step
    left = height - 0.0
    flare = canopy & (left < 8.0) & (left > 0.0)
    first = int(np.flatnonzero(flare)[0])
    marks["ground after"] = float(clock[first]) + 2.0
    down = (clock >= clock[first]) & (clock < marks["ground after"])
    part = (clock[down] - clock[first]) / 2.0
    speed[down], climb[down] = 10.0 - 4.0 * part, -height[first] / 2.0
    after = clock >= marks["ground after"]
    speed[after], climb[after] = 0.0, 0.0
    height, north = np.cumsum(climb) * step, np.cumsum(speed) * step
    t = np.arange(0.0, marks["ground after"] + 60.0, 1.0 / rate_hz)
    rng = np.random.default_rng(seed)
    wind = np.where(clock > 880.0, 3.0, 0.0) * (clock < marks["ground after"])
    rows = [
        np.interp(t, clock, v) + noise_m * rng.standard_normal(t.shape[0])
        for v in (np.cumsum(wind) * step, north, height)
    ]
    return track_of(t, rows[0], rows[1], rows[2]), marks


def flown_pattern(
    headings_deg: list[float],
    gates_m: list[float],
    *,
    airspeed_mps: float = 10.0,
    sink_mps: float = 4.0,
    wind_mps: tuple[float, float] = (0.0, 0.0),
    turn_dps: float = 30.0,
    start_agl_m: float = 450.0,
    rate_hz: float = 5.0,
    noise_m: float = 0.0,
    seed: int = 0,
    sides: list[int] | None = None,
) -> Track:
    """A canopy flight of straight headings with turns of one rate; turn ``k`` onto ``headings_deg[k + 1]`` begins at ``gates_m[k]``.

    Uniform wind (east, north), landing at height 0, then a minute of standing. ``sides`` +1 right, −1 left, 0 the shorter way.
    """
    step = 0.02
    psi, agl, k = headings_deg[0], start_agl_m, 0
    side, left = 0, 0.0
    east, north = [0.0], [0.0]
    heights = [agl]
    while agl > 0.0:
        if left <= 0.0 and k < len(gates_m) and agl <= gates_m[k]:
            want = (headings_deg[k + 1] - psi + 180.0) % 360.0 - 180.0
            side = (sides[k] if sides else 0) or (1 if want >= 0.0 else -1)
            left, k = (want * side) % 360.0, k + 1
        turn = min(turn_dps * step, left)
        psi, left = psi + side * turn, left - turn
        a = math.radians(psi)
        east.append(east[-1] + (airspeed_mps * math.sin(a) + wind_mps[0]) * step)
        north.append(north[-1] + (airspeed_mps * math.cos(a) + wind_mps[1]) * step)
        agl -= sink_mps * step
        heights.append(agl)
    clock = np.arange(len(heights)) * step
    t = np.arange(0.0, clock[-1] + 60.0, 1.0 / rate_hz)
    rng = np.random.default_rng(seed)
    rows = [
        np.interp(t, clock, np.array(v)) + noise_m * rng.standard_normal(t.shape[0])
        for v in (east, north, heights)
    ]
    return track_of(t, rows[0], rows[1], rows[2])
