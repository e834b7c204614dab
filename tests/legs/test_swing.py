"""The swing of a wing that never comes to rest under its pilot."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from analyser.legs.heading import AirHeading
from analyser.legs.segments import find_stretches
from analyser.legs.swing import steadied

Vector = NDArray[np.float64]

STEP_S = 0.02
BEGINS = tuple(20.0 + 16.0 * k for k in range(6))
FINE = np.arange(0.0, 120.0, STEP_S)


def toggles() -> Vector:
    """Rate asked for [deg/s]: six turns of 90 degrees, each in three seconds, to both sides."""
    return sum(
        (-1.0) ** (k // 2) * 30.0 * ((at <= FINE) & (at + 3.0 > FINE)) for k, at in enumerate(BEGINS)
    ) + np.zeros_like(FINE)


def lagging(asked: Vector, lag_s: float) -> Vector:
    keep = np.exp(-STEP_S / lag_s)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], asked))


def seen(rate: Vector, seed: int, swing: Vector | float = 0.0) -> AirHeading:
    """As a receiver of 5 Hz sees it: means over a second."""
    deg = np.cumsum(rate) * STEP_S + swing
    t = np.arange(1.0, 118.0, 0.2)
    mean = np.mean([np.interp(t + s, FINE, deg) for s in np.linspace(-0.45, 0.45, 10)], axis=0)
    noise = np.random.default_rng(seed).normal(0.0, 0.7, t.size)
    return AirHeading(t, mean + noise, np.full(t.size, 10.0), 1.0)


def test_a_swing_that_goes_on_is_taken_out_and_the_legs_are_left() -> None:
    swing = 25.0 * np.sin(2.0 * np.pi * FINE / 5.0)
    heading = seen(lagging(toggles(), 0.5), 3, swing)
    stretches = find_stretches(heading)
    assert sum(s.turning for s in stretches) > 20
    steady, left = steadied(heading, stretches)
    assert steady.swing_deg == pytest.approx(25.0 / np.sqrt(2.0), rel=0.3)
    assert steady.box_s == pytest.approx(5.0, abs=0.5)
    turns = [s for s in left if s.turning and 5.0 < s.start_s < 110.0]
    assert len(turns) == len(BEGINS)
    for turn, begin in zip(turns, BEGINS):
        assert abs(turn.change_deg) == pytest.approx(90.0, abs=12.0)
        assert 0.5 * (turn.start_s + turn.end_s) == pytest.approx(begin + 2.0, abs=1.5)


def test_two_s_turns_are_no_swing() -> None:
    asked = np.zeros_like(FINE)
    for k, at in enumerate((40.0, 44.0, 50.0, 56.0)):
        asked += (-1.0) ** k * (15.0 if k in (0, 3) else 20.0) * ((at <= FINE) & (at + 3.0 > FINE))
    heading = seen(lagging(asked, 0.5), 4)
    stretches = find_stretches(heading)
    assert sum(s.turning for s in stretches) >= 4
    assert steadied(heading, stretches) == (heading, stretches)
