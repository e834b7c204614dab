"""One circle through velocities whose errors follow each other: the whitening in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.wind.circle import _linear


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_whitened_airspeeds_weigh_as_the_inverse_of_their_correlation(phi: float) -> None:
    """Errors of correlation φ^|i−j|: mean, squares and products are those of generalised least squares (Aitken), times 1 − φ²."""
    rng = np.random.default_rng(6)
    x, y = rng.normal(0.0, 8.0, (2, 7))
    wind = np.array([1.0, -2.0])
    away = np.stack([x - wind[0], y - wind[1]], axis=1)
    speed = np.hypot(*away.T)
    step = np.abs(np.arange(7)[:, None] - np.arange(7))
    inverse = np.linalg.inv(phi**step)
    share = inverse.sum(axis=0) / inverse.sum()
    slope = -away / speed[:, None]
    off, slope = speed - share @ speed, slope - share @ slope
    jac, rest, mean = _linear(x, y, wind, phi)
    assert mean == pytest.approx(share @ speed)
    assert rest @ rest == pytest.approx((1.0 - phi**2) * off @ inverse @ off)
    np.testing.assert_allclose(jac.T @ jac, (1.0 - phi**2) * slope.T @ inverse @ slope)
    np.testing.assert_allclose(jac.T @ rest, (1.0 - phi**2) * slope.T @ inverse @ off)
