"""What a made-up receiver makes of the true flight: when it fixes, white and slow errors, smoothing, lost and frozen fixes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.timeline import DT_S, Joined

__all__ = ["ClockFault", "HeightFault", "Receiver", "Sampled", "sample", "slow_error"]

Vector = NDArray[np.float64]
HeightFault = Literal["", "zero", "constant", "feet", "missing"]
ClockFault = Literal["", "leap back", "stale", "duplicates", "12 h", "12 h later", "week rollover"]

DRIFT_TAU_S = 180.0


@dataclass(frozen=True, slots=True)
class Receiver:
    """Errors of a receiver.

    ``drift_m`` standard deviation of the change of the slow error over a minute, per axis (``height_drift_m`` for the height);
    ``smooth_s`` symmetric smoothing (standard deviation of a Gaussian), ``lag_s`` age of what is written; ``lost`` share of fixes lost
    at random; ``interval_s`` shortest and longest interval where uneven; ``smart`` leaves out fixes in straight flight;
    ``hold_below_mps`` static hold: slower than that, the position stays frozen; ``most_down_mps`` and ``most_level_mps``: beyond
    those speeds there are no fixes, and for ``reacquire_s`` after them the position is off by ``reacquire_m``, dying away;
    ``gap_s`` no fixes for so long before the canopy is open; ``ground_drift_m`` change of the height error over the whole recording;
    ``baro_step_m`` standard deviation of steps of the height, three in a recording; ``doppler`` writes speed and course.
    """

    name: str = "record"
    rate_hz: float = 5.0
    white_m: float = 0.15
    drift_m: float = 1.2
    height_white_m: float = 0.4
    height_drift_m: float = 1.8
    height_offset_m: float = 0.0
    smooth_s: float = 0.0
    lag_s: float = 0.0
    lost: float = 0.0
    digits: int = 7
    height_digits: int = 1
    doppler: bool = False
    speed_white_mps: float = 0.1
    interval_s: tuple[float, float] | None = None
    smart: bool = False
    hold_below_mps: float = 0.0
    most_down_mps: float = math.inf
    most_level_mps: float = math.inf
    reacquire_s: float = 4.0
    reacquire_m: float = 12.0
    gap_s: float = 0.0
    ground_drift_m: float = 0.0
    baro_step_m: float = 0.0
    height_fault: HeightFault = ""
    clock_fault: ClockFault = ""


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """Fixes on the clock of the flight, all (n,): place in metres from the target, height above the landing area, Doppler or None."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    speed_mps: Vector | None = None
    course_deg: Vector | None = None


def slow_error(rng: np.random.Generator, t: Vector, change_per_minute: float) -> Vector:
    """An error of exponential correlation over three minutes whose change over one has that standard deviation."""
    sd = change_per_minute / math.sqrt(2.0 * (1.0 - math.exp(-60.0 / DRIFT_TAU_S)))
    step = 2.0
    n = int((t[-1] - t[0]) / step) + 3
    keep = math.exp(-step / DRIFT_TAU_S)
    kicks = rng.standard_normal(n) * sd
    kicks[1:] *= math.sqrt(1.0 - keep * keep)
    walk: Vector = np.convolve(kicks, keep ** np.arange(min(n, 900)))[:n]
    wander: Vector = np.interp(t - t[0], np.arange(n) * step, walk)
    return wander


def _smooth(values: Vector, smooth_s: float) -> Vector:
    if smooth_s <= 0.0:
        return values
    half = max(int(4.0 * smooth_s / DT_S), 1)
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * DT_S / smooth_s) ** 2)
    padded = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    smoothed: Vector = np.convolve(padded, kernel / kernel.sum(), mode="valid")
    return smoothed


def _clock(rng: np.random.Generator, receiver: Receiver, end_s: float) -> Vector:
    if receiver.interval_s is not None:
        shortest, longest = receiver.interval_s
        clock = np.cumsum(rng.uniform(shortest, longest, int(end_s / shortest)))
        clock = clock[clock < end_s]
    else:
        clock = np.arange(int(end_s * receiver.rate_hz + 1e-9) + 1) / receiver.rate_hz
    if receiver.lost > 0.0:
        clock = clock[rng.random(clock.shape[0]) >= receiver.lost]
    return np.asarray(clock, dtype=np.float64)


def sample(rng: np.random.Generator, receiver: Receiver, flight: Joined) -> Sampled:
    """The fixes that the receiver makes of a flight given every 0.1 s."""
    t = flight.t_s
    true = [_smooth(v, receiver.smooth_s) for v in (flight.east_m, flight.north_m, flight.agl_m)]
    speeds = [np.gradient(v, DT_S) for v in true]
    clock = _clock(rng, receiver, float(t[-1]))
    seen = np.maximum(clock - receiver.lag_s, 0.0)
    places = [np.interp(seen, t, v) for v in true]
    velocity = [np.interp(seen, t, v) for v in speeds]
    kept, places = _sanity(receiver, flight, clock, velocity, places, rng)
    places = [p + e for p, e in zip(places, _errors(rng, receiver, clock))]
    level = np.hypot(velocity[0], velocity[1])
    frozen = level < receiver.hold_below_mps
    if receiver.hold_below_mps > 0.0:
        last = np.maximum.accumulate(np.where(frozen, 0, np.arange(clock.shape[0])))
        places = [places[0][last], places[1][last], places[2]]
    if receiver.smart:
        kept = kept & _smart(clock, velocity, places[2])
    speed, course = _doppler(rng, receiver, velocity, frozen)
    fixes = Sampled(clock, places[0], places[1], places[2], speed, course)
    return _only(fixes, kept)


def _errors(rng: np.random.Generator, receiver: Receiver, clock: Vector) -> list[Vector]:
    n = clock.shape[0]
    rows = []
    for white, drift in (
        (receiver.white_m, receiver.drift_m),
        (receiver.white_m, receiver.drift_m),
        (receiver.height_white_m, receiver.height_drift_m),
    ):
        rows.append(white * rng.standard_normal(n) + slow_error(rng, clock, drift))
    rows[2] = rows[2] + receiver.height_offset_m + receiver.ground_drift_m * clock / clock[-1]
    if receiver.baro_step_m > 0.0:
        for at in rng.uniform(0.1, 0.9, 3) * clock[-1]:
            rows[2] = rows[2] + receiver.baro_step_m * float(rng.standard_normal()) * (clock > at)
    return rows


def _sanity(
    receiver: Receiver,
    flight: Joined,
    clock: Vector,
    velocity: list[Vector],
    places: list[Vector],
    rng: np.random.Generator,
) -> tuple[NDArray[np.bool_], list[Vector]]:
    """No fixes beyond the receiver's speed limits nor in its gap; off for some seconds after."""
    lost = (np.abs(velocity[2]) > receiver.most_down_mps) | (
        np.hypot(velocity[0], velocity[1]) > receiver.most_level_mps
    )
    if receiver.gap_s > 0.0 and any(s.name == "canopy" for s in flight.spans):
        opening = flight.start("canopy")
        lost |= (clock > opening - receiver.gap_s) & (clock < opening)
    if not bool(lost.any()):
        return ~lost, places
    since = clock - np.maximum.accumulate(np.where(lost, clock, -1e9))
    angle = float(rng.uniform(0.0, 2.0 * math.pi))
    off = receiver.reacquire_m * np.exp(-since / receiver.reacquire_s)
    return ~lost & ~(since < 0.5 * receiver.reacquire_s), [
        places[0] + off * math.sin(angle), places[1] + off * math.cos(angle), places[2] + 0.7 * off
    ]  # fmt: skip


def _smart(clock: Vector, velocity: list[Vector], agl: Vector) -> NDArray[np.bool_]:
    """Keep a fix where course, speed or height changed since the last kept one, or seven seconds passed."""
    course = np.unwrap(np.arctan2(velocity[0], velocity[1]))
    speed = np.hypot(velocity[0], velocity[1])
    rows = list(zip(clock.tolist(), course.tolist(), speed.tolist(), agl.tolist()))
    kept = [True]
    t0, c0, v0, h0 = rows[0]
    for t, c, v, h in rows[1:]:
        keep = t - t0 >= 7.0 or abs(v - v0) > 2.0 or abs(h - h0) > 25.0 or (abs(c - c0) > 0.2 and v > 1.0)
        kept.append(keep)
        if keep:
            t0, c0, v0, h0 = t, c, v, h
    return np.array(kept)


def _doppler(
    rng: np.random.Generator, receiver: Receiver, velocity: list[Vector], frozen: NDArray[np.bool_]
) -> tuple[Vector | None, Vector | None]:
    if not receiver.doppler:
        return None, None
    east, north = (v + receiver.speed_white_mps * rng.standard_normal(v.shape[0]) for v in velocity[:2])
    speed, course = np.hypot(east, north), np.mod(np.degrees(np.arctan2(east, north)), 360.0)
    return np.where(frozen, 0.0, speed), course


def _only(fixes: Sampled, kept: NDArray[np.bool_]) -> Sampled:
    def cut(values: Vector | None) -> Vector | None:
        return None if values is None else values[kept]

    return Sampled(
        fixes.t_s[kept],
        fixes.east_m[kept],
        fixes.north_m[kept],
        fixes.agl_m[kept],
        cut(fixes.speed_mps),
        cut(fixes.course_deg),
    )
