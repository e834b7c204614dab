"""Layer means against the handbook's own numbers and the profile's covariance."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.units import FOOT_M, KNOT_MPS
from analyser.wind.layer_means import layer_mean
from analyser.wind.profile import WindProfile


def test_25_knots_drift_1286_m() -> None:
    # F/NLF handbook (2011): 25 kt to 2,000 ft <-> 1,250 m with its 1 kt = 0.5 m/s; exact 1,286 m
    mean = layer_mean(WindProfile.from_points([(0.0, 25 * KNOT_MPS, 250.0), (700.0, 25 * KNOT_MPS, 250.0)]))
    assert mean is not None
    assert mean.drift_m == pytest.approx(1286.1, abs=0.1)
    assert mean.from_deg == pytest.approx(250.0)
    assert mean.top_m == pytest.approx(2000 * FOOT_M)
    assert mean.complete


def test_mean_of_a_linear_profile_and_its_sd() -> None:
    top = 2000 * FOOT_M
    profile = WindProfile.from_points([(0.0, 2.0, 270.0), (top, 6.0, 270.0)], sd_mps=0.6)
    mean = layer_mean(profile)
    assert mean is not None
    assert mean.speed_mps == pytest.approx(4.0)
    assert mean.speed_sd_mps == pytest.approx(
        0.6 * np.sqrt(0.5)
    )  # two independent ends, each counting one half


def test_half_unknown_is_refused() -> None:
    k = 3
    profile = WindProfile(
        np.array([0.0, 300.0, 700.0]),
        np.ones(k),
        np.ones(k),
        np.eye(2 * k),
        ("undetermined", "measured", "undetermined"),
        ("x", "", "x"),
    )
    assert layer_mean(profile) is None
