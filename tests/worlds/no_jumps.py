"""Recordings that are no jump: on wheels, on skis, on foot, on ropes and rails, and in wings that soar. Kinematic, with a receiver's errors.

Each kind is a list of stretches (seconds, speed over ground, climb, turn); speeds and slopes are what such vehicles do (common
practice, no source). ``no_jump_track(kind, seed)``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Recording

__all__ = ["KINDS", "no_jump_track", "with_spikes"]

Vector = NDArray[np.float64]
Rng = np.random.Generator


class Part(NamedTuple):
    """A stretch: how long [s], speed over ground [m/s], climb [m/s], turn to the right [deg/s]."""

    seconds: float
    speed: float
    climb: float = 0.0
    turn: float = 0.0


def _u(rng: Rng, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _bends(
    rng: Rng, total_s: float, speed: tuple[float, float], slope: tuple[float, float]
) -> Iterator[Part]:
    """A winding way: speed and slope (climb over distance) drawn anew every 8 to 30 s."""
    left = total_s
    while left > 0.0:
        seconds = _u(rng, 8.0, 30.0)
        v = _u(rng, *speed)
        yield Part(seconds, v, v * _u(rng, *slope), _u(rng, -12.0, 12.0) if rng.random() < 0.6 else 0.0)
        left -= seconds


def _bicycle(rng: Rng) -> Iterator[Part]:
    yield from _bends(rng, _u(rng, 600.0, 1500.0), (2.5, 5.0), (0.04, 0.1))
    if rng.random() < 0.6:
        yield Part(_u(rng, 20.0, 200.0), 0.0)
    yield from _bends(rng, _u(rng, 200.0, 500.0), (6.0, 16.0), (-0.13, -0.05))
    yield Part(60.0, 0.0)


def _car(rng: Rng) -> Iterator[Part]:
    if rng.random() < 0.6:
        yield from _bends(rng, _u(rng, 300.0, 600.0), (9.0, 24.0), (0.03, 0.09))
    yield from _bends(rng, _u(rng, 250.0, 500.0), (8.0, 24.0), (-0.12, -0.04))
    yield Part(80.0, 0.0)


def _cable_car(rng: Rng) -> Iterator[Part]:
    speed, slope = _u(rng, 5.0, 10.0), _u(rng, 0.25, 0.6)
    seconds = _u(rng, 250.0, 500.0)
    if rng.random() < 0.5:
        yield Part(seconds, speed, speed * slope)
        yield Part(_u(rng, 60.0, 300.0), 0.3, 0.0, 4.0)
    for part in range(8):
        yield Part(seconds / 8.0, speed, -speed * slope * (0.8 + 0.05 * part))
    yield Part(90.0, 0.3)


def _ski(rng: Rng) -> Iterator[Part]:
    for _ in range(int(rng.integers(1, 4))):
        if rng.random() < 0.75:
            yield Part(_u(rng, 200.0, 500.0), _u(rng, 2.3, 5.5), _u(rng, 0.9, 1.8))
            yield Part(_u(rng, 5.0, 90.0), _u(rng, 0.0, 2.0))
        for _ in range(int(rng.integers(2, 6))):
            yield from _bends(rng, _u(rng, 20.0, 60.0), (6.0, 18.0), (-0.4, -0.12))
            yield Part(_u(rng, 4.0, 40.0), 0.0)
    yield Part(60.0, 0.0)


def _soaring(rng: Rng) -> Iterator[Part]:
    if rng.random() < 0.6:
        yield Part(_u(rng, 30.0, 200.0), 0.2)
    for _ in range(int(rng.integers(2, 6))):
        yield Part(_u(rng, 60.0, 200.0), _u(rng, 8.0, 11.0), -_u(rng, 1.0, 1.6))
        yield Part(_u(rng, 80.0, 300.0), 8.5, _u(rng, 0.8, 3.5), float(rng.choice([-18.0, 18.0])))
    if rng.random() < 0.5:
        yield Part(_u(rng, 15.0, 40.0), 12.0, -_u(rng, 8.0, 18.0), 70.0)
    yield Part(_u(rng, 400.0, 700.0), 9.5, -_u(rng, 1.1, 1.6))
    yield Part(60.0, 0.0)


def _hike_and_glide(rng: Rng) -> Iterator[Part]:
    yield from _bends(rng, _u(rng, 1200.0, 2500.0), (0.7, 1.4), (0.2, 0.4))
    yield Part(_u(rng, 60.0, 600.0), 0.1)
    yield Part(4.0, 4.0)
    for _ in range(int(rng.integers(4, 10))):
        yield Part(_u(rng, 20.0, 80.0), _u(rng, 8.0, 11.0), -_u(rng, 1.0, 1.7), _u(rng, -8.0, 8.0))
    yield Part(90.0, 0.0)


def _sailplane(rng: Rng) -> Iterator[Part]:
    yield Part(60.0, 0.0)
    yield Part(20.0, 20.0)
    yield Part(_u(rng, 40.0, 300.0), 27.0, _u(rng, 3.0, 9.0))
    for _ in range(int(rng.integers(2, 5))):
        yield Part(_u(rng, 60.0, 200.0), _u(rng, 24.0, 30.0), -_u(rng, 0.7, 1.2))
        yield Part(_u(rng, 80.0, 200.0), 23.0, _u(rng, 0.5, 3.0), float(rng.choice([-16.0, 16.0])))
    yield Part(_u(rng, 250.0, 400.0), 25.0, -_u(rng, 1.0, 2.5), 2.0)
    yield Part(20.0, 10.0)
    yield Part(60.0, 0.0)


def _funicular(rng: Rng) -> Iterator[Part]:
    speed, slope = _u(rng, 4.0, 11.0), _u(rng, 0.3, 0.55)
    yield Part(_u(rng, 0.0, 30.0), 0.0)
    yield Part(_u(rng, 100.0, 260.0), speed, -speed * slope)
    yield Part(_u(rng, 100.0, 260.0), speed, -speed * slope * 0.8, 0.4)
    yield Part(90.0, 0.0)


def _walk(rng: Rng) -> Iterator[Part]:
    yield from _bends(rng, _u(rng, 900.0, 1800.0), (0.8, 1.6), (0.08, 0.3))
    yield from _bends(rng, _u(rng, 900.0, 1800.0), (0.9, 1.7), (-0.3, -0.08))
    yield Part(60.0, 0.0)


def _drone(rng: Rng) -> Iterator[Part]:
    yield Part(30.0, 0.0)
    yield Part(_u(rng, 40.0, 80.0), 0.5, _u(rng, 2.0, 5.0))
    for _ in range(6):
        yield Part(_u(rng, 10.0, 40.0), _u(rng, 0.0, 15.0), _u(rng, -1.0, 1.0), _u(rng, -30.0, 30.0))
    yield Part(_u(rng, 40.0, 90.0), _u(rng, 0.0, 10.0), -3.0)
    yield Part(60.0, 0.0)


_KINDS: dict[str, Callable[[Rng], Iterator[Part]]] = {
    "bicycle": _bicycle,
    "car": _car,
    "cable car": _cable_car,
    "ski": _ski,
    "soaring": _soaring,
    "hike and glide": _hike_and_glide,
    "sailplane": _sailplane,
    "funicular": _funicular,
    "walk": _walk,
    "drone": _drone,
}
KINDS = tuple(_KINDS)


def no_jump_track(kind: str, seed: int) -> Recording:
    """One recording of a kind out of :data:`KINDS`."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 977])
    step = float(rng.choice([1.0, 1.0, 1.0, 0.5, 4.0]))
    rows = _integrated(rng, list(_KINDS[kind](rng)), step)
    return _received(rng, *rows, step)


def _integrated(rng: Rng, parts: list[Part], step: float) -> tuple[Vector, Vector, Vector, Vector]:
    """Time, east, north, height; speeds and turns go over into each other within some 3 s."""
    clock = np.arange(0.0, sum(p.seconds for p in parts), step)
    ends = np.cumsum([p.seconds for p in parts])
    which = np.minimum(np.searchsorted(ends, clock, side="right"), len(parts) - 1)
    table = np.array([[p.speed, p.climb, p.turn] for p in parts])[which]
    width = max(round(3.0 / step), 1)
    smooth = [
        np.convolve(np.pad(c, width, mode="edge"), np.ones(width) / width, mode="same")[width:-width]
        for c in table.T
    ]
    wobble = 1.0 + 0.05 * rng.standard_normal(clock.size)
    heading = np.radians(_u(rng, 0.0, 360.0) + np.cumsum(smooth[2]) * step)
    speed = smooth[0] * wobble
    east, north = (np.cumsum(speed * f(heading)) * step for f in (np.sin, np.cos))
    height = np.cumsum(smooth[1]) * step
    return clock, east, north, height - height.min() + _u(rng, 100.0, 1500.0)


def _received(rng: Rng, clock: Vector, east: Vector, north: Vector, height: Vector, step: float) -> Recording:
    keep = 1.0 - step / 60.0
    drift = np.zeros((3, clock.size))
    kick = (
        math.sqrt(1.0 - keep * keep)
        * np.array([2.0, 2.0, 3.0])[:, None]
        * rng.standard_normal((3, clock.size))
    )
    for i in range(1, clock.size):
        drift[:, i] = keep * drift[:, i - 1] + kick[:, i]
    lat = _u(rng, -50.0, 60.0)
    e, n, h = (
        a + d + w * rng.standard_normal(clock.size)
        for a, d, w in zip((east, north, height), drift, (0.3, 0.3, 0.5))
    )
    nan = np.full(clock.size, np.nan)
    return Recording(
        1.76e9 + clock,
        lat + n / 111_200.0,
        7.0 + e / (111_320.0 * math.cos(math.radians(lat))),
        h,
        nan,
        nan.copy(),
    )


def with_spikes(recording: Recording, seed: int) -> Recording:
    """The same with one to four spikes of the height: kilometres for seconds, standing or dying away."""
    rng = np.random.default_rng([seed, 978])
    h, t = recording.altitude_m.copy(), recording.time_s
    for _ in range(int(rng.integers(1, 5))):
        since = t - t[int(rng.integers(5, t.size - 5))]
        lasts, size = _u(rng, 1.0, 60.0), _u(rng, 700.0, 5000.0)
        form = (
            np.exp(-np.maximum(since, 0.0) / lasts) if rng.random() < 0.5 else (since < lasts).astype(float)
        )
        h += size * np.where(since >= 0.0, form, 0.0)
    copy = recording.slice(0, len(recording))
    return Recording(copy.time_s, copy.lat_deg, copy.lon_deg, h, copy.speed_mps, copy.course_deg)
