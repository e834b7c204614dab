"""Where a day's heights turn, and how sharply a way over the ground bends, against what can be counted by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analyser.phases.day import _first_turn
from analyser.phases.no_exit import _sharpest_deg


@pytest.mark.parametrize("seed", range(8))
def test_the_first_turn_is_that_of_looking_at_every_fix(seed: int) -> None:
    """Walks of 6,000 fixes, longer than the first windows; fix by fix: the lowest so far, and the first that lies high enough above it."""
    rng = np.random.default_rng(seed)
    h = np.cumsum(rng.normal(-0.5, 3.0, 6000))
    h[4500:] += np.linspace(0.0, 2000.0, 1500)
    for start, least in ((0, 300.0), (700, 150.0), (2500, 1200.0), (0, 1e5)):
        low, first = np.inf, None
        for i in range(start, h.size):
            low = min(low, h[i])
            if h[i] - low > least:
                first = i
                break
        assert _first_turn(h, start, least) == first


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_a_steady_turn_bends_by_its_rate_times_the_time_between(rate: float) -> None:
    """On a circle a chord of five seconds and the one that begins five seconds after its end are ten seconds of turn apart; up to the last fix."""
    t = np.arange(0.0, 120.0)
    angle = np.radians(rate * t)
    s = SimpleNamespace(t=t, e=500.0 * np.sin(angle), n=500.0 * np.cos(angle))
    assert _sharpest_deg(s, 0, t.size) == pytest.approx(rate * 10.0, rel=0.01)  # type: ignore[arg-type]
