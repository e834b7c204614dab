"""What a receiver and its software make of the true path: latency, tracking filters, slow and white errors, bursts, barometers, rounding.

Order as in a real one: the filter sees noisy places and its output is written late, stamped with the time of writing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter, lfiltic

from analyser.importers.recording import Recording
from analyser.synthetic.earth import to_geodetic

from .craft import DT_S
from .day import Day
from .kinematic import ornstein

__all__ = ["Device", "Path", "draw_device", "record", "tracked"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """The true path every 0.05 s from ``start_utc_s``, metres from the target and above the landing area."""

    start_utc_s: float
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    lat_deg: float
    lon_deg: float
    day: Day


@dataclass(frozen=True, slots=True)
class Device:
    """``slow_m`` (place) and ``slow_up_m`` errors of correlation ``slow_s``; ``tracker_s`` time scale of a tracking filter that carries
    velocity on (0: none); ``bursts`` of multipath up to ``burst_m``; ``barometer`` heights of the standard atmosphere with a drift."""

    name: str = "plain"
    rate_hz: float = 5.0
    white_m: float = 0.2
    slow_m: float = 1.5
    slow_up_m: float = 2.5
    slow_s: float = 150.0
    latency_s: float = 0.0
    tracker_s: float = 0.0
    bursts: int = 0
    burst_m: float = 5.0
    barometer: bool = False
    baro_drift_m: float = 2.0
    decimals: int = 7
    doppler: bool = False


def tracked(values: Vector, scale_s: float, dt: float = DT_S) -> Vector:
    """The output of a steady α–β tracker (position and velocity carried on): no lag in steady motion, overshoot after a change of speed.

    Natural frequency 1/``scale_s`` with damping 0.7; transfer (α + (β − α)z⁻¹)/(1 − (2 − α − β)z⁻¹ + (1 − α)z⁻²)
    (Bar-Shalom, Estimation with Applications to Tracking and Navigation).
    """
    w = dt / scale_s
    alpha, beta = 1.0 - math.exp(-1.4 * w), w * w
    b, a = [alpha, beta - alpha], [1.0, -(2.0 - alpha - beta), 1.0 - alpha]
    x0 = float(values[0])
    start = lfiltic(b, a, [x0, x0], [x0, x0])
    return np.asarray(lfilter(b, a, values, zi=start)[0])


def _bursts(rng: np.random.Generator, t: Vector, device: Device) -> tuple[Vector, Vector, Vector]:
    """Multipath: the place pulled aside for 4 to 20 s, and the height twice as much."""
    east, north, up = np.zeros_like(t), np.zeros_like(t), np.zeros_like(t)
    for _ in range(device.bursts):
        middle, half = rng.uniform(0.0, t[-1]), rng.uniform(2.0, 10.0)
        bump = np.clip(np.cos(0.5 * math.pi * np.clip((t - middle) / half, -1.0, 1.0)), 0.0, None)
        size, angle = device.burst_m * rng.uniform(0.4, 1.0), rng.uniform(0.0, 2.0 * math.pi)
        east += size * math.sin(angle) * bump
        north += size * math.cos(angle) * bump
        up += 2.0 * size * rng.uniform(-1.0, 1.0) * bump
    return east, north, up


def record(rng: np.random.Generator, device: Device, path: Path, name: str) -> Recording:
    """The recording that the device writes of a path."""
    t = np.arange(path.east_m.shape[0]) * DT_S
    true_up = path.day.told_by_barometer(path.agl_m) if device.barometer else path.agl_m
    slow = [ornstein(rng, t.shape[0], sd, device.slow_s) for sd in (device.slow_m, device.slow_m)]
    up_error = ornstein(
        rng, t.shape[0], device.baro_drift_m if device.barometer else device.slow_up_m, 3.0 * device.slow_s
    )
    burst = _bursts(rng, t, device)
    if device.barometer:
        burst = (burst[0], burst[1], np.zeros_like(t))
    seen = [
        path.east_m + slow[0] + burst[0],
        path.north_m + slow[1] + burst[1],
        true_up + up_error + burst[2],
    ]
    if device.tracker_s > 0.0:
        level = 2 if device.barometer else 3
        seen = [tracked(v, device.tracker_s) if i < level else v for i, v in enumerate(seen)]
    clock = np.arange(0.0, t[-1], 1.0 / device.rate_hz)
    taken = np.maximum(clock - device.latency_s, 0.0)
    east, north, up = (np.interp(taken, t, v) for v in seen)
    velocity = [np.interp(taken, t, np.gradient(v, DT_S)) for v in seen[:2]]
    east, north = (v + device.white_m * rng.standard_normal(v.shape[0]) for v in (east, north))
    up = up + (0.25 if device.barometer else 2.0 * device.white_m) * rng.standard_normal(up.shape[0])
    lat, lon = to_geodetic(path.lat_deg, path.lon_deg, east, north)
    speed, course = _doppler(rng, device, velocity)
    return Recording(
        time_s=np.round(path.start_utc_s + clock, 3),
        lat_deg=np.round(lat, device.decimals),
        lon_deg=np.round(lon, device.decimals),
        altitude_m=np.round(path.day.elevation_m + up, 1),
        speed_mps=speed,
        course_deg=course,
        altitude_source="barometric" if device.barometer else "unknown",
        name=name,
        file=f"{name}.gpx",
    )


def _doppler(rng: np.random.Generator, device: Device, velocity: list[Vector]) -> tuple[Vector, Vector]:
    n = velocity[0].shape[0]
    if not device.doppler:
        return np.full(n, np.nan), np.full(n, np.nan)
    east, north = (v + 0.1 * rng.standard_normal(n) for v in velocity)
    return np.hypot(east, north), np.mod(np.degrees(np.arctan2(east, north)), 360.0)


def draw_device(rng: np.random.Generator) -> Device:
    """Devices as they are carried: telephones, watches, loggers."""
    rate = float(rng.choice([1.0, 2.0, 4.0, 5.0, 10.0], p=[0.4, 0.1, 0.1, 0.25, 0.15]))
    latency = float(rng.uniform(0.2, 1.2)) if rng.random() < 0.65 else float(rng.uniform(0.0, 0.2))
    tracker = float(rng.uniform(0.3, 1.2)) if rng.random() < 0.45 else 0.0
    bursts = int(rng.poisson(4.0)) if rng.random() < 0.35 else 0
    barometer = bool(rng.random() < 0.25)
    decimals = int(rng.choice([5, 6, 7], p=[0.1, 0.35, 0.55]))
    words = [f"{rate:g} Hz", f"late {latency:.1f} s"]
    words += [w for w, yes in (("tracker", tracker), ("bursts", bursts), ("barometer", barometer)) if yes]
    return Device(
        name=", ".join([*words, f"1e-{decimals} deg"]),
        rate_hz=rate,
        white_m=float(rng.uniform(0.05, 0.5)),
        slow_m=float(rng.uniform(0.8, 2.5)),
        slow_up_m=float(rng.uniform(1.5, 4.0)),
        slow_s=float(rng.uniform(80.0, 300.0)),
        latency_s=latency,
        tracker_s=tracker,
        bursts=bursts,
        burst_m=float(rng.uniform(2.0, 8.0)),
        barometer=barometer,
        baro_drift_m=float(rng.uniform(0.8, 3.0)),
        decimals=decimals,
        doppler=bool(rng.random() < 0.25),
    )
