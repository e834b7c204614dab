"""Recorded (Doppler) speed, course and climb: taken whole where they hold against the positions, or not at all."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.angles import to_vector
from analyser.importers.recording import Note, Recording
from analyser.track.velocity import noise_sd, segments

__all__ = ["recorded_climb", "recorded_velocity"]

Vector = NDArray[np.float64]

DOPPLER_SHARE = 0.95  # ours: recorded at nearly every fix, else the positions are the source
DOPPLER_LAG_S = 0.75  # ours: a recorded velocity that trails the positions by more has been smoothed
DOPPLER_MISFIT_MPS = 1.0  # ours: median vector difference from the positions' velocity, beyond both noises


def recorded_velocity(
    recording: Recording, t: Vector, reference: Vector, sd: float, gap_s: float
) -> tuple[Vector | None, Note | None]:
    """Recorded velocity (n, 2) [m/s] where it is complete, plausible and agrees with the positions; else None and why.

    ``reference`` (n, 2) the velocity from the positions and ``sd`` its white noise [m/s]; a few missing values are bridged.
    """
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


def recorded_climb(climb: Vector | None, t: Vector, reference: Vector, gap_s: float) -> Vector:
    """The recorded vertical speed (n,) [m/s] under the same rules; else the ``reference`` from the altitudes."""
    if climb is None:
        return reference
    good = np.isfinite(climb) & (np.abs(climb) < 150.0)
    if float(np.mean(good)) < DOPPLER_SHARE:
        return reference
    filled = _bridge(t, np.stack([climb, np.zeros_like(climb)], axis=1), good, gap_s)
    lag, misfit = _agreement(t, filled, np.stack([reference, np.zeros_like(reference)], axis=1))
    if not misfit <= DOPPLER_MISFIT_MPS or abs(lag) > DOPPLER_LAG_S or noise_sd(t, filled[:, 0], gap_s) > 0.3:
        return reference
    return filled[:, 0].copy()


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
