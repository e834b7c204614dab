"""Brakes on final: the airspeed they take is not taken for wind."""

from __future__ import annotations

import math

import numpy as np
import pytest
from worlds.followed import PlanErrors, fly_plan

from analyser.phases import find_phases
from analyser.synthetic.air import Air
from analyser.synthetic.setup import draw_setup
from analyser.track import build_track
from analyser.wind.estimate import estimate_wind
from analyser.wind.priors import Priors

FINALS = [
    ("entry", 250.0, -180.0, -120.0, 0.0),
    ("base", 180.0, -90.0, 80.0, 90.0),
    ("final", 100.0, 0.0, 110.0, 180.0),
]


def headwind_errors(brake: float, seeds: range, priors: Priors | None = None) -> np.ndarray:
    """Estimated less true headwind at 50 m on final [m/s], over its stated sd, for made-up jumps that fly final in brakes."""
    rows = []
    for seed in seeds:
        setup = draw_setup(seed)
        air = Air(setup.air.agl_m, *power_law(setup.air.agl_m), gust_sd=0.4)
        wing = setup.canopy
        made = fly_plan(
            FINALS, landing_deg=180.0, airspeed_mps=wing.airspeed_mps, sink_mps=wing.sink_mps, air=air, seed=seed,
            errors=PlanErrors(final_brake=brake), gusts=True, canopy=wing,
        )  # fmt: skip
        track = build_track(made.recording)
        canopy = find_phases(track).canopy()
        assert canopy is not None
        at = estimate_wind(track, canopy.start, canopy.stop, priors=priors).profile.at(50.0)
        true_north = float(made.truth.wind(np.array([50.0]))[1][0])
        rows.append((at.north - true_north, math.sqrt(at.covariance[1, 1])))
    return np.array(rows)


def power_law(agl_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Four metres per second from the south at 10 m."""
    return np.zeros(agl_m.shape), 4.0 * (np.maximum(agl_m, 2.0) / 10.0) ** 0.15


@pytest.mark.slow
def test_deep_brakes_on_final_are_not_taken_for_wind() -> None:
    """Final in 85 % brakes costs a third of the airspeed: of the 3 to 4 m/s no more than a few tenths may be read as headwind,
    fewer than where brakes are all but ruled out, and the stated errors hold; without brakes there is nothing to take."""
    seeds = range(31_400, 31_424)
    braked, without = headwind_errors(0.85, seeds), headwind_errors(0.85, seeds, Priors(stay_every_s=1e9))
    free = headwind_errors(0.0, seeds)
    assert abs(np.mean(braked[:, 0])) < 0.4
    assert abs(np.mean(braked[:, 0])) < abs(np.mean(without[:, 0]))
    assert abs(np.mean(free[:, 0])) < 0.15
    for rows in (braked, free):
        assert np.mean(np.abs(rows[:, 0]) <= 1.96 * rows[:, 1]) >= 0.85
