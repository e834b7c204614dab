"""The touchdown against approaches whose contact is known: still feet, run-outs, slides, from 0.5 to 16 m/s over ground."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from made_tracks import track_of
from worlds.touchdowns import Approach, approach

from analyser.phases import Phases
from analyser.phases.ground_events import find_landing
from analyser.phases.signals import make_signals
from analyser.phases.thresholds import PHASES
from analyser.phases.touchdown import Touchdown
from analyser.score import find_landing as landing_of

SEEDS = range(52_000, 52_060)


def seen(case: Approach) -> tuple[Touchdown, float]:
    """What is found and how far along its way the place then is [m]."""
    found = find_landing(make_signals(case.t, case.east, case.north, case.agl), 5)
    assert found is not None
    east = float(np.interp(found.t_s, case.t, case.east)) - case.place[0]
    north = float(np.interp(found.t_s, case.t, case.north)) - case.place[1]
    return found, east * math.sin(case.direction) + north * math.cos(case.direction)


@pytest.fixture(scope="module")
def landings() -> list[tuple[Approach, Touchdown, float]]:
    cases = [approach(seed) for seed in SEEDS]
    return [(case, *seen(case)) for case in cases]


def test_fast_landings_are_not_found_late(landings: list[tuple[Approach, Touchdown, float]]) -> None:
    fast = [along for case, _, along in landings if case.speed_mps > 6.0]
    assert len(fast) > 10
    assert abs(np.median(fast)) < 3.0


def test_the_place_lies_inside_its_error(landings: list[tuple[Approach, Touchdown, float]]) -> None:
    inside = [
        abs(along) < 1.96 * math.hypot(found.sd_s * found.speed_mps, 1.0) for _, found, along in landings
    ]
    assert 0.9 <= np.mean(inside)


def test_the_moment_lies_inside_its_error(landings: list[tuple[Approach, Touchdown, float]]) -> None:
    late = np.array([found.t_s - case.contact_s - case.latency_s for case, found, _ in landings])
    sd = np.array([found.sd_s for _, found, _ in landings])
    assert np.mean(np.abs(late) < 1.96 * sd) >= 0.85
    assert abs(np.median(late)) < 0.5


def test_the_speed_at_contact_is_told(landings: list[tuple[Approach, Touchdown, float]]) -> None:
    off = [found.speed_mps - case.speed_mps for case, found, _ in landings]
    assert np.median(np.abs(off)) < 1.5


def test_the_error_along_grows_with_the_ground_speed() -> None:
    t = np.arange(0.0, 60.0)
    left = np.maximum(30.0 - t, 0.0)
    track = track_of(t, 0.0 * t, -8.0 * left, 4.0 * left)
    phases = Phases((), "jump", "", 30.0, 30, True, (), math.hypot(0.5, PHASES.clock_sd_s))
    slow = landing_of(track, phases, has_target=True)
    fast = landing_of(track, replace(phases, landing_speed_mps=8.0), has_target=True)
    assert slow is not None
    assert fast is not None
    assert slow.along_sd_m == pytest.approx(track.position_sd_m, abs=1e-6)
    assert fast.along_sd_m == pytest.approx(math.hypot(track.position_sd_m, 8.0 * 0.5), abs=1e-6)
    assert fast.across_sd_m == pytest.approx(slow.across_sd_m, abs=1e-6)
