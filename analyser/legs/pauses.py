"""A long turn cut where the wing was level for a moment: two turns with next to no straight flight between."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.legs.heading import AirHeading, Stretch
from analyser.legs.thresholds import LEGS
from analyser.phases.signals import moving_slope

__all__ = ["split_at_pauses"]

Vector = NDArray[np.float64]


def split_at_pauses(heading: AirHeading, p: Stretch) -> list[Stretch]:
    """A long turn cut where its rate drops for a moment: two turns with next to no straight flight between."""
    if not p.turning or abs(p.change_deg) < 2.0 * LEGS.pause_deg:
        return [p]
    t, y = heading.t, heading.deg
    width = max(1.0, heading.box_s)
    inside = (t > p.start_s + 0.5 * width) & (t < p.end_s - 0.5 * width)
    if int(inside.sum()) < 4:
        return [p]
    k = _pause(heading, p, inside)
    if k is None:
        return [p]
    at = t[inside]
    now, deg = float(at[k]), float(np.interp(at[k], t, y))
    half = 0.25 * width
    before = Stretch(p.start_s, now - half, p.start_deg, deg, True)
    after = Stretch(now + half, p.end_s, deg, p.end_deg, True)
    pause = Stretch(now - half, now + half, deg, deg, False)
    return [*split_at_pauses(heading, before), pause, *split_at_pauses(heading, after)]


def _pause(heading: AirHeading, p: Stretch, inside: NDArray[np.bool_]) -> int | None:
    """Which of the headings inside a turn is a pause: its rate falls to less than half, or by as much as most of a second of level flight."""
    t, y, width = heading.t, heading.deg, max(1.0, heading.box_s)
    sign, at = math.copysign(1.0, p.change_deg), t[inside]
    rate = sign * moving_slope(t, y, 0.8 * width)[inside]
    turned = sign * (np.interp(at, t, y) - p.start_deg)
    open_ = (turned > LEGS.pause_deg) & (sign * p.change_deg - turned > LEGS.pause_deg)
    peaks = _peak_either_side(rate)
    some = open_ & (peaks > LEGS.turning_dps)
    depth = np.where(some, rate / np.maximum(peaks, 1e-6), np.inf)
    k = int(np.argmin(depth))
    if depth[k] <= LEGS.pause_depth:
        return k
    steady = _peak_either_side(sign * moving_slope(t, y, LEGS.steady_s)[inside])
    some = open_ & (steady > LEGS.turning_dps)
    depth = np.where(some, rate / np.maximum(steady, 1e-6), np.inf)
    k = int(np.argmin(depth))
    if depth[k] > LEGS.shallow_depth:
        return None
    around = (at >= at[k] - LEGS.longest_pause_s) & (at <= at[k] + LEGS.longest_pause_s)
    level = np.trapezoid(np.maximum(1.0 - rate[around] / steady[k], 0.0), at[around])
    return k if level >= LEGS.level_s else None


def _peak_either_side(rate: Vector) -> Vector:
    """The lower of the highest rates before and after each moment."""
    left, right = np.maximum.accumulate(rate), np.maximum.accumulate(rate[::-1])[::-1]
    return np.asarray(np.minimum(left, right), dtype=np.float64)
