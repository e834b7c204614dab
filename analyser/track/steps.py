"""Steps of the altitude: a barometer that is set again in flight. Found and joined, so that heights stay continuous."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Note
from analyser.track.velocity import noise_sd

__all__ = ["Steps", "find_steps"]

Vector = NDArray[np.float64]
Index = NDArray[np.intp]

MOST_STEPS = 8  # ours: a barometer is set again a few times in a recording; more is no barometer
STEP_M = 5.0  # ours: less hides in the motion of a canopy
SIDE = 4  # fixes about a second apart on either side
SPACING_S = 2.2  # sparser heights do not show a step
STRAIGHT_M = 1.0  # ours: heights further beside their line are in the midst of an opening
SLOPES_AGREE_MPS = 3.0  # ours: else it is an opening, a flare, the start of a spiral
SUDDEN = 0.75  # ours: share of a leap that falls between two fixes a second apart; a wing that swings in its turn takes longer


class Steps(NamedTuple):
    """What to add to the altitudes (n,) [m] to join them to their end, how many steps there are, and a note."""

    offset_m: Vector
    found: int
    notes: tuple[Note, ...]


def find_steps(t: Vector, altitude: Vector, gap_s: float) -> Steps:
    """Leaps of at least 5 m between straight lines through the four seconds before and after, whose slopes agree."""
    offset = np.zeros(t.shape)
    known = np.flatnonzero(np.isfinite(altitude))
    at = known[_apart(t[known])] if known.size else known
    if at.size < 2 * SIDE + 1:
        return Steps(offset, 0, ())
    noise = float(np.nan_to_num(noise_sd(t[at], altitude[at], gap_s), nan=0.0))
    limit = max(STEP_M, 8.0 * noise)
    jump = _jumps(t[at], altitude[at], min(gap_s, SPACING_S), max(STRAIGHT_M, 3.0 * noise), 0.5 * limit)
    size = np.abs(jump)
    best = np.max(np.lib.stride_tricks.sliding_window_view(np.pad(size, SIDE), 2 * SIDE + 1), axis=1)
    found = np.flatnonzero((size > limit) & (size >= best))
    if found.size > MOST_STEPS:
        return Steps(
            offset, 0, (Note("altitude-step", f"the altitude steps {found.size} times; left as it is"),)
        )
    for i in found.tolist():
        a, b = int(at[i]), int(at[i + 1])
        between = known[(known >= a) & (known <= b)]
        place = int(between[np.argmax(np.abs(np.diff(altitude[between])))]) + 1
        offset[:place] += jump[i]
    if found.size == 0:
        return Steps(offset, 0, ())
    sizes = ", ".join(f"{v:+.0f}" for v in jump[found][:5])
    often = "once" if found.size == 1 else f"{found.size} times"
    text = f"the altitude steps {often} ({sizes} m); the heights before were moved to join"
    return Steps(offset, int(found.size), (Note("altitude-step", text, int(found.size)),))


def _apart(t: Vector) -> Index:
    """The first of every whole second of ``t``."""
    second = np.floor(t)
    return np.flatnonzero(np.concatenate([[True], np.diff(second) > 0]))


def _jumps(t: Vector, z: Vector, apart_s: float, straight_m: float, least_m: float) -> Vector:
    """Leap (m,) between each fix and the next, zero where it can not be told; ``z[i + 1]`` side minus ``z[i]`` side.

    Looked for only where a difference of height departs from those before and after by ``least_m``.
    """
    jump = np.zeros(t.shape)
    rise = np.diff(z)
    odd = rise[1:-1] - 0.5 * (rise[:-2] + rise[2:])
    first = np.flatnonzero(np.abs(odd) > least_m) + 2 - SIDE
    rows = first[(first >= 0) & (first <= t.size - 2 * SIDE)][:, None] + np.arange(2 * SIDE)
    sudden = odd[rows[:, SIDE - 1] - 1]
    middle = 0.5 * (t[rows[:, SIDE - 1]] + t[rows[:, SIDE]])
    before, slope_before, bent_before = _line(t[rows[:, :SIDE]] - middle[:, None], z[rows[:, :SIDE]])
    after, slope_after, bent_after = _line(t[rows[:, SIDE:]] - middle[:, None], z[rows[:, SIDE:]])
    joined = np.max(np.diff(t[rows], axis=1), axis=1, initial=0.0) <= apart_s
    alike = np.abs(slope_after - slope_before) < SLOPES_AGREE_MPS
    alike &= np.maximum(bent_before, bent_after) < straight_m
    alike &= np.abs(sudden) > SUDDEN * np.abs(after - before)
    jump[rows[:, SIDE - 1]] = np.where(joined & alike, after - before, 0.0)
    return jump


def _line(t: Vector, z: Vector) -> tuple[Vector, Vector, Vector]:
    """Least-squares line through each row: its value at t = 0, its slope, and the root mean square beside it."""
    mean_t, mean_z = t.mean(axis=1), z.mean(axis=1)
    apart = t - mean_t[:, None]
    slope = np.sum(apart * (z - mean_z[:, None]), axis=1) / np.sum(apart * apart, axis=1)
    beside = z - mean_z[:, None] - slope[:, None] * apart
    return mean_z - slope * mean_t, slope, np.sqrt(np.mean(beside**2, axis=1))
