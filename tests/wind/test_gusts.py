"""The mean gust of a way: whole on a short one, averaged out on a long one."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.wind.covariance import gust_length_m, gust_sd, mean_gust_sd
from analyser.wind.priors import Priors


def test_the_mean_gust_of_a_way_against_its_integral() -> None:
    """The variance of a mean is the mean of the covariance over all pairs of places; summed here on a fine grid."""
    priors, agl, low_wind = Priors(), 150.0, 5.0
    at = np.array([agl])
    sd, length = float(gust_sd(at, low_wind, priors)[0]), float(gust_length_m(at, priors)[0])
    for way in (1.0, 80.0, 300.0, 2000.0):
        places = (np.arange(800) + 0.5) * way / 800.0
        wanted = sd * np.sqrt(np.mean(np.exp(-np.abs(places[:, None] - places) / length)))
        assert mean_gust_sd(agl, way, low_wind, priors) == pytest.approx(float(wanted), rel=0.01)


def test_a_short_way_has_the_whole_gust() -> None:
    priors = Priors()
    whole = float(gust_sd(np.array([40.0]), 6.0, priors)[0])
    assert mean_gust_sd(40.0, 0.0, 6.0) == pytest.approx(whole, rel=1e-3)
