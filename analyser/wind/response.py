"""How a canopy answers: steady turn, second-order airspeed, lagging sink, and the brakes as the sink betrays them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors

__all__ = [
    "Brakes",
    "brake_filter",
    "full_flight",
    "lagged_sink",
    "off_or_on",
    "responded",
    "rolling",
    "turn_factors",
]

Vector = NDArray[np.float64]

GRID_S = 0.25
FINE_S = 0.1
# Lags are rounded to FINE_S; this much variance keeps what is left positive definite.
ROUNDING = 0.01
REACH_S = 60.0
# Ours: how far a smoothed sink may lie from full flight and still be taken for it [m/s].
NEAR_MPS = 0.35


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


def rolling(x: Vector, width: int) -> Vector:
    """Means (n,) over ``width`` neighbours, over fewer at the ends."""
    ones = np.convolve(np.ones_like(x), np.ones(width), mode="same")[: x.size]
    return np.asarray(np.convolve(x, np.ones(width), mode="same")[: x.size] / ones)


def full_flight(sink: Vector, percent: float) -> tuple[float, int]:
    """The smoothed sink (n,) that is flown most, sought from a percentile of it: brakes only ever take sink away. Its value and how many samples hold it."""
    value = float(np.percentile(sink, percent))
    near = np.abs(sink - value) <= NEAR_MPS
    for _ in range(20):
        near = np.abs(sink - value) <= NEAR_MPS
        if not near.any():
            break
        new = float(np.mean(sink[near]))
        if abs(new - value) < 1e-4:
            break
        value = new
    return value, int(np.count_nonzero(near))


@dataclass(frozen=True, slots=True, eq=False)
class Brakes:
    """``gain`` (n, n) makes of deviations of the sink [m/s] the deviation x that the airspeed has answered; ``left`` (n, n) is
    the covariance of what it misses, ``variance`` that of x itself."""

    gain: Vector
    left: Vector
    variance: float


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
    return Brakes(gain, left, float(air_air[0, 0]))


def off_or_on(linear: Vector, brakes: Brakes, priors: Priors) -> tuple[Vector, Vector]:
    """Mean of the brakes' effect x (n,) and the factor (n,) on the standard deviation of what is missed, from the filter's estimate.

    Brakes are off most of the time, or clearly on. The linear estimate is read as x plus noise, and the posterior is taken
    under a mixture of three normal laws: off, on, anything else (spike and slab: Mitchell & Beauchamp 1988).
    """
    left = np.minimum(np.diagonal(brakes.left), 0.99 * brakes.variance)
    share = brakes.variance / (brakes.variance - left)
    seen, noise = linear * share, left * share
    weight, mean, sd = (np.array(column)[:, None] for column in zip(*priors.brake_states))
    total = sd * sd + noise
    log = np.log(weight) - 0.5 * np.log(total) - 0.5 * (seen - mean) ** 2 / total
    p = np.exp(log - log.max(axis=0))
    p /= p.sum(axis=0)
    each = mean + sd * sd / total * (seen - mean)
    x = np.sum(p * each, axis=0)
    variance = np.sum(p * (sd * sd * noise / total + each * each), axis=0) - x * x
    return x, np.sqrt(priors.brake_missed * np.maximum(variance, 1e-4) / left)


def _correlate(process: Vector, first: Vector, second: Vector) -> Vector:
    """Covariance of (first ∗ p)(t + lag) with (second ∗ p)(t) on the lags of ``process``."""
    out = np.convolve(process, first)[: process.size]
    back = np.convolve(out[::-1], second)[: process.size]
    return np.asarray(back[::-1])
