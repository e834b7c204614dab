"""Velocity of a recording: from positions, or from the recorded Doppler values where these hold. One source, never a mix."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Note, Recording
from analyser.track.doppler import recorded_climb, recorded_velocity
from analyser.track.velocity import half_width_s, local_velocity, noise_sd

__all__ = ["Motion", "find_motion"]

Vector = NDArray[np.float64]

# What white noise does not explain: turns rounded by the receiver's own filter, its slow error, the window. Ours, from
# made-up jumps with filters of 0.6 s and slow errors of 0.5-2.5 m a minute, where 0.1-0.3 m/s remain.
UNSEEN_MPS = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Velocity (n,) [m/s], the sd of a horizontal component, where it comes from, the white position noise [m] and notes."""

    v_east: Vector
    v_north: Vector
    v_up: Vector
    velocity_sd: float
    source: Literal["position", "doppler"]
    noise_m: float
    notes: tuple[Note, ...]


def find_motion(
    recording: Recording, t: Vector, east: Vector, north: Vector, altitude: Vector, gap_s: float
) -> Motion:
    """Velocity at every fix, from the recording and its local places and (joined) altitudes [m].

    NaN at a fix alone between two gaps; climb also where there is no altitude.
    """
    interval = float(np.median(np.diff(t))) if t.size > 1 else 1.0
    place = np.stack([east, north], axis=1)
    noise = _moving_noise(t, place, gap_s)
    fit = local_velocity(t, place, noise=noise, gap_s=gap_s)
    sd = _median(fit.velocity_sd, noise)
    v_up = _climb(t, altitude, interval, gap_s)
    v_up = recorded_climb(recording.climb_mps, t, v_up, gap_s)
    doppler, note = recorded_velocity(recording, t, fit.velocity, sd, gap_s)
    notes = () if note is None else (note,)
    source: Literal["position", "doppler"] = "position" if doppler is None else "doppler"
    velocity = fit.velocity if doppler is None else doppler
    if doppler is not None:
        sd = float(np.nan_to_num(np.mean([noise_sd(t, column, gap_s) for column in doppler.T]), nan=0.1))
    return Motion(
        velocity[:, 0].copy(), velocity[:, 1].copy(), v_up, math.hypot(sd, UNSEEN_MPS), source, noise, notes
    )


def _median(values: Vector, fallback: float) -> float:
    good = values[np.isfinite(values)]
    return float(np.median(good)) if good.size else fallback


def _moving_noise(t: Vector, place: Vector, gap_s: float) -> float:
    """White noise of the positions while they move (a receiver at rest often holds its position still)."""
    if t.size < 6:
        return 1.0
    step = np.hypot(*np.diff(place, axis=0).T) / np.diff(t)
    moving = np.concatenate([[False], step > 2.0]) & np.concatenate([step > 2.0, [False]])
    scales = []
    for column in place.T:
        known = np.where(moving, column, np.nan)
        scale = noise_sd(t, known, gap_s)
        scales.append(scale if math.isfinite(scale) else noise_sd(t, column, gap_s))
    mean = float(np.mean(scales))
    return max(mean, 0.02) if math.isfinite(mean) else 1.0


def _climb(t: Vector, altitude: Vector, interval: float, gap_s: float) -> Vector:
    """Vertical velocity from the altitudes; their own window, because heights are noisier than places."""
    known = np.isfinite(altitude)
    climb = np.full(t.shape, np.nan)
    if int(np.count_nonzero(known)) < 3:
        return climb
    noise = noise_sd(t[known], altitude[known], gap_s)
    noise = max(noise, 0.05) if math.isfinite(noise) else 1.0
    width = half_width_s(noise, interval, speed_mps=6.0)
    climb[known] = local_velocity(
        t[known], altitude[known], noise=noise, half_width=width, gap_s=gap_s
    ).velocity
    return climb
