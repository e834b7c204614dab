"""Velocity of a recording: from positions, or from the recorded Doppler values where these hold. One source, never a mix."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.angles import to_vector
from analyser.importers.recording import Note, Recording
from analyser.velocity import half_width_s, local_velocity, noise_sd, segments

__all__ = ["Motion", "find_motion"]

Vector = NDArray[np.float64]

DOPPLER_SHARE = 0.95  # ours: recorded at nearly every fix, else the positions are the source
DOPPLER_LAG_S = 0.75  # ours: a recorded velocity that trails the positions by more has been smoothed
DOPPLER_MISFIT_MPS = 1.0  # ours: median vector difference from the positions' velocity, beyond both noises


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
    """Velocity at every fix, from the recording and its local places and (joined) altitudes [m]; NaN at a fix alone between two gaps, climb also where there is no altitude."""
    interval = float(np.median(np.diff(t))) if t.size > 1 else 1.0
    place = np.stack([east, north], axis=1)
    noise = _moving_noise(t, place, gap_s)
    fit = local_velocity(t, place, noise=noise, gap_s=gap_s)
    sd = _median(fit.velocity_sd, noise)
    v_up = _climb(t, altitude, interval, gap_s)
    doppler, note = _doppler(recording, t, fit.velocity, sd, gap_s)
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


def _doppler(
    recording: Recording, t: Vector, reference: Vector, sd: float, gap_s: float
) -> tuple[Vector | None, Note | None]:
    """Recorded velocity (n, 2) where it is complete, plausible and agrees with the positions; else None and why."""
    speed, course = recording.speed_mps, recording.course_deg
    if not np.any(np.isfinite(speed)):
        return None, None
    if not np.any(np.isfinite(course)):
        return None, Note(
            "speed-without-course", "recorded speed has no course beside it; velocity is from positions"
        )
    course = np.where(np.isfinite(speed) & (speed < 0.5) & ~np.isfinite(course), 0.0, course)
    velocity = np.stack(to_vector(speed, course), axis=1)
    good = np.all(np.isfinite(velocity), axis=1) & (speed >= 0.0) & (speed < 150.0)
    if float(np.mean(good)) < DOPPLER_SHARE:
        return None, Note(
            "recorded-speed-incomplete",
            f"recorded speed and course at {100 * float(np.mean(good)):.0f} % of the fixes only; velocity is from positions",
        )
    velocity = _bridge(t, velocity, good, gap_s)
    lag, misfit = _agreement(t, velocity, reference)
    noise = float(np.mean([noise_sd(t, column, gap_s) for column in velocity.T]))
    if not math.isfinite(misfit) or misfit > DOPPLER_MISFIT_MPS + sd or abs(lag) > DOPPLER_LAG_S:
        return None, Note(
            "recorded-speed-inconsistent",
            f"recorded speed and course differ from the positions (median {misfit:.1f} m/s, delay {lag:+.1f} s); velocity is from positions",
        )
    if noise > max(1.5 * sd, 0.3):
        return None, Note(
            "recorded-speed-coarse",
            f"recorded speed and course are coarser ({noise:.2f} m/s) than the positions allow ({sd:.2f} m/s); velocity is from positions",
        )
    return velocity, None


def _bridge(t: Vector, velocity: Vector, good: NDArray[np.bool_], gap_s: float) -> Vector:
    """Single missing values filled from their recorded neighbours, no wider than a gap; else NaN."""
    if bool(np.all(good)):
        return velocity
    at = np.flatnonzero(good)
    filled = np.stack([np.interp(t, t[at], column[at]) for column in velocity.T], axis=1)
    right = np.searchsorted(at, np.arange(t.size), side="left").clip(0, at.size - 1)
    left = (np.searchsorted(at, np.arange(t.size), side="right") - 1).clip(0, at.size - 1)
    wide = (t[at[right]] - t[at[left]] > gap_s) | (
        segments(t, gap_s)[at[right]] != segments(t, gap_s)[at[left]]
    )
    return np.where((~good & wide)[:, None], np.nan, filled)


def _agreement(t: Vector, velocity: Vector, reference: Vector) -> tuple[float, float]:
    """Delay [s] of the recorded velocity behind the positions, and the median vector difference [m/s] at that delay."""
    moving = np.flatnonzero(np.hypot(reference[:, 0], reference[:, 1]) > 3.0)
    if moving.size < 20:
        moving = np.arange(t.size)
    moving = moving[:: max(1, moving.size // 3000)]
    best = (0.0, math.inf)
    for lag in np.arange(-2.0, 2.01, 0.25):
        shifted = [np.interp(t[moving] + lag, t, column) for column in velocity.T]
        apart = np.hypot(shifted[0] - reference[moving, 0], shifted[1] - reference[moving, 1])
        misfit = float(np.nanmedian(apart)) if np.any(np.isfinite(apart)) else math.inf
        if misfit < best[1] - 1e-9 or (misfit <= best[1] + 1e-9 and abs(lag) < abs(best[0])):
            best = (float(lag), misfit)
    return best
