"""How a canopy answers: steady turn, second-order airspeed, lagging sink, and the brakes as the sink betrays them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors

__all__ = ["Brakes", "brake_filter", "lagged_sink", "responded", "turn_factors"]

Vector = NDArray[np.float64]

GRID_S = 0.25
FINE_S = 0.1
# Lags are rounded to FINE_S; this much variance keeps what is left positive definite.
ROUNDING = 0.01
REACH_S = 60.0


def turn_factors(bank_tan: Vector, glide: float) -> tuple[Vector, Vector]:
    """Horizontal airspeed and sink of a steady gliding turn over those of straight flight.

    Constant lift coefficient, no sideslip: tan γ = tan γ0 / cos φ, V² = V0² cos γ / (cos γ0 cos φ) (textbook; in shallow
    glides the factors are √n and n^1.5 of the load factor n = 1/cos φ: Welch & Irving). ``glide`` infinite: level flight.
    """
    tan0 = 1.0 / max(glide, 0.5)
    cos_bank = 1.0 / np.sqrt(1.0 + bank_tan**2)
    tan = tan0 / cos_bank
    cos0, cos = 1.0 / np.sqrt(1.0 + tan0**2), 1.0 / np.sqrt(1.0 + tan**2)
    speed = np.sqrt(cos / (cos0 * cos_bank)) * cos / cos0
    return speed, speed / cos_bank


def _air_kernel(priors: Priors, step: float = GRID_S) -> Vector:
    lag = np.arange(0.5, 12.0 / step) * step
    w0 = 2.0 * np.pi / priors.period_s
    kernel = np.exp(-priors.damping * w0 * lag) * np.sin(w0 * np.sqrt(1.0 - priors.damping**2) * lag)
    return np.asarray(kernel / kernel.sum())


def _sink_kernel(priors: Priors, step: float = GRID_S) -> Vector:
    kernel = np.exp(-np.arange(0.5, 6.0 / step) * step / priors.sink_lag_s)
    return np.asarray(kernel / kernel.sum())


def _through(t: Vector, x: Vector, kernel: Vector) -> Vector:
    """``x`` at times ``t``, convolved with a causal kernel on steps of ``GRID_S``; gaps longer than a minute are cut out."""
    clock = t[0] + np.concatenate([[0.0], np.cumsum(np.minimum(np.diff(t), REACH_S))])
    grid = np.arange(clock[0] - kernel.size * GRID_S, clock[-1] + 2 * GRID_S, GRID_S)
    out = np.convolve(np.interp(grid, clock, x), kernel)[: grid.size]
    return np.asarray(np.interp(clock, grid + 0.5 * GRID_S, out))


def responded(t: Vector, x: Vector, priors: Priors) -> Vector:
    """What the airspeed makes of a changing trim ``x`` (n,) at ``t`` [s]: second order, so it lags, then overshoots."""
    return _through(t, x, _air_kernel(priors))


def lagged_sink(t: Vector, x: Vector, priors: Priors) -> Vector:
    """What the sink makes of a changing trim: first order."""
    return _through(t, x, _sink_kernel(priors))


@dataclass(frozen=True, slots=True, eq=False)
class Brakes:
    """``gain`` (n, n) makes of deviations of the sink [m/s] the deviation x that the airspeed has answered; ``left`` (n, n) is
    the covariance of what it misses."""

    gain: Vector
    left: Vector


def brake_filter(t: Vector, noise: Vector, priors: Priors) -> Brakes:
    """Best linear estimate of the brakes' effect on the airspeed from the sink (Wiener 1949).

    The steady sink changes as an exponentially correlated process; airspeed and sink follow, each with its response;
    ``noise`` (n, n) is the error covariance of the measured sink.
    """
    half = round(REACH_S / FINE_S)
    process = priors.sink_sd**2 * np.exp(np.abs(np.arange(-half, half + 1)) * (-FINE_S / priors.brake_s))
    air, sink = _air_kernel(priors, FINE_S), _sink_kernel(priors, FINE_S)
    lag = np.clip(np.rint((t[:, None] - t) * (1.0 / FINE_S)), -half, half).astype(np.int32) + half
    air_air = _correlate(process, air, air)[lag]
    air_sink = _correlate(process, air, sink)[lag]
    total = _correlate(process, sink, sink)[lag] + noise
    gain = np.asarray(np.linalg.solve(total, air_sink.T).T, dtype=np.float64)
    left = air_air - gain @ air_sink.T
    left[np.diag_indices_from(left)] += ROUNDING * priors.sink_sd**2
    return Brakes(gain, left)


def _correlate(process: Vector, first: Vector, second: Vector) -> Vector:
    """Covariance of (first ∗ p)(t + lag) with (second ∗ p)(t) on the lags of ``process``."""
    out = np.convolve(process, first)[: process.size]
    back = np.convolve(out[::-1], second)[: process.size]
    return np.asarray(back[::-1])
