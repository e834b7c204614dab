"""The swing of a wing that never comes to rest under its pilot, taken out of the heading."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.legs.heading import AirHeading, Stretch
from analyser.legs.segments import find_stretches
from analyser.legs.thresholds import LEGS

__all__ = ["steadied"]

Vector = NDArray[np.float64]


def steadied(heading: AirHeading, stretches: list[Stretch]) -> tuple[AirHeading, list[Stretch]]:
    """Heading and stretches of a wing that swings on and on under its pilot, averaged over a swing; of any other as they are."""
    period = _period_s(stretches)
    if period <= heading.box_s:
        return heading, stretches
    t, y = heading.t, heading.deg
    half = np.minimum(0.5 * period, np.minimum(t - t[0], t[-1] - t))
    area = np.concatenate([[0.0], np.cumsum(0.5 * (y[1:] + y[:-1]) * np.diff(t))])
    whole = _area(t + half, t, y, area) - _area(t - half, t, y, area)
    mean = np.where(half > LEGS.step_s, whole / np.maximum(2.0 * half, LEGS.step_s), y)
    swing = float(np.sqrt(np.median((y - mean) ** 2) * 2.0))
    steady = AirHeading(t, mean, heading.speed, math.hypot(period, heading.box_s), swing)
    return steady, find_stretches(steady)


def _area(at: Vector, t: Vector, y: Vector, area: Vector) -> Vector:
    """Integral of the heading from its begin to each time, linear between the headings."""
    k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, t.shape[0] - 2)
    since = at - t[k]
    slope = (y[k + 1] - y[k]) / (t[k + 1] - t[k])
    out: Vector = area[k] + since * (y[k] + 0.5 * slope * since)
    return out


def _period_s(stretches: list[Stretch]) -> float:
    """Twice the usual time between turns that go to and fro, where many of them do; 0 where the wing is steady."""
    turns = [s for s in stretches if s.turning]
    best: list[float] = []
    run: list[float] = []
    for a, b in pairwise(turns):
        apart = 0.5 * (b.start_s + b.end_s - a.start_s - a.end_s)
        back = (
            a.change_deg * b.change_deg < 0.0 and min(abs(a.change_deg), abs(b.change_deg)) >= LEGS.swing_deg
        )
        run = [*run, apart] if back and apart <= LEGS.longest_swing_s else []
        best = max(best, run, key=len)
    return 2.0 * float(np.mean(best)) if len(best) >= LEGS.swings else 0.0
