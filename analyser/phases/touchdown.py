"""The moment of touchdown: where the height stops falling and the feet begin to take the speed away, to a fraction of the sampling."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.phases.thresholds import PHASES

__all__ = ["Touchdown", "find_touchdown"]

Vector = NDArray[np.float64]


class Touchdown(NamedTuple):
    """Time of touchdown [track s], its standard deviation [s], the ground speed then [m/s], and when all came to rest [track s]."""

    t_s: float
    sd_s: float
    speed_mps: float = 0.0
    rest_s: float = math.nan


class _Fixes(NamedTuple):
    """Fixes about the touchdown: time (m,), places and heights from their means (m,), noise of these [m], share of each that is news."""

    t: Vector
    e: Vector
    n: Vector
    h: Vector
    place_sd: float
    height_sd: float
    news: float


def find_touchdown(t: Vector, e: Vector, n: Vector, h: Vector, guess_s: float) -> Touchdown:
    """Touchdown within a few seconds of ``guess_s`` (t, e, n, h of the fixes around it, [s] and [m]).

    Before it the height falls and the position moves (each nearly straight, then braked by a flare), after it the height stays. The speed over
    ground at contact goes on without a jump and is taken away by the run or slide, evenly, in a time of its own; then the feet
    stand or walk. Every moment and every such time is weighed by the likelihood of height and position together, so that a
    landing into a wind as fast as the canopy is timed by its height. The standard deviation is the width of that likelihood and what the shape of the flare adds.
    """
    use = (t >= guess_s - PHASES.earliest_s - PHASES.around_s) & (
        t <= guess_s + PHASES.latest_s + PHASES.around_s
    )
    t, e, n, h = t[use], e[use] - e[use].mean(), n[use] - n[use].mean(), h[use] - h[use].mean()
    if t.shape[0] < 7:
        return Touchdown(guess_s, 1.5)
    step = float(np.median(np.diff(t)))
    if step < 0.5 / PHASES.dense_hz:
        t, e, n, h = _thinned(t, e, n, h)
        step = float(np.median(np.diff(t)))
    low, high = (
        max(t[0] + 2.0 * step, guess_s - PHASES.earliest_s),
        min(t[-1] - step, guess_s + PHASES.latest_s),
    )
    if high - low < step:
        return Touchdown(guess_s, 1.5)
    fixes = _Fixes(
        t,
        e,
        n,
        h,
        _noise(np.stack([e, n]), (PHASES.rough_place_m, PHASES.rough_height_m)[0]),
        _noise(h[None], (PHASES.rough_place_m, PHASES.rough_height_m)[1]),
        min(1.0, PHASES.news_hz * step),
    )
    tau = np.arange(low, high, 0.2)
    log, speed = _weigh(fixes, tau)
    chance = np.exp(log - log.max())
    chance /= chance.sum()
    moment = chance.sum(axis=0)
    mean = float(moment @ tau)
    sd = float(np.sqrt(moment @ (tau - mean) ** 2 + PHASES.shape_sd_s**2 + (0.15 * step) ** 2))
    return Touchdown(mean, sd, float(np.sum(chance * speed)))


def _thinned(*rows: Vector) -> list[Vector]:
    """Means of neighbouring fixes, about ``PHASES.dense_hz`` a second; the first row is the time [s]."""
    many = max(int(1.0 / PHASES.dense_hz / float(np.median(np.diff(rows[0])))), 1)
    whole = rows[0].shape[0] // many * many
    return [row[-whole:].reshape(-1, many).mean(axis=1) for row in rows]


def _noise(rows: Vector, least: float) -> float:
    """White noise of rows (k, m) from third differences, with ``least`` [m] added."""
    third = np.diff(rows, 3, axis=1)
    return float(np.hypot(1.4826 * np.median(np.abs(third)) / np.sqrt(20.0), least))


def _weigh(fixes: _Fixes, tau: Vector) -> tuple[Vector, Vector]:
    """Log chance (flares · slows, k) of every flare, time of slowing and moment ``tau`` (k,), and the ground speed at contact [m/s] with each."""
    x = fixes.t[None, :] - tau[:, None]
    before, after = np.minimum(x, 0.0), np.maximum(x, 0.0)
    one, place = np.ones_like(x), np.stack([fixes.e, fixes.n])
    bends = (before**2, before * before**2)
    log, speed = [], []
    for flare in PHASES.flares_s:
        flared = np.clip(x + flare, 0.0, flare) ** 2 / (2.0 * flare)
        falls = (one, before, flared - 0.5 * flare, *bends)
        height = _evidence(falls, fixes.h[None], fixes.height_sd, PHASES.height_sd, fixes.news)[0]
        for slows in PHASES.slows_s:
            rolled = np.minimum(after, slows)
            run = rolled - rolled**2 / (2.0 * slows)
            columns = (one, before + run, flared + run, *bends, after)
            found, beta = _evidence(columns, place, fixes.place_sd, PHASES.place_sd, fixes.news)
            speed.append(np.hypot(*(beta[:, 1] + beta[:, 2]).T))
            slowing = np.log(np.maximum(speed[-1], 0.3) / (slows * PHASES.slowing_mps2))
            log.append(height + found - 0.5 * (slowing / PHASES.slowing_spread) ** 2)
    return np.stack(log), np.stack(speed)


def _evidence(
    columns: tuple[Vector, ...], rows: Vector, noise: float, prior_sd: tuple[float, ...], news: float
) -> tuple[Vector, Vector]:
    """Log evidence (k,) of ``rows`` (r, m) as sums of ``columns`` (k, m each) with normal priors, and the coefficients (k, i, r)."""
    a = np.stack(columns, axis=-1)
    per_fix = news / noise**2
    prior = np.asarray(prior_sd)
    matrix = per_fix * (np.swapaxes(a, 1, 2) @ a) + np.diag(prior**-2.0)
    right = per_fix * (np.swapaxes(a, 1, 2) @ rows.T)
    beta = np.linalg.solve(matrix, right)
    fitted = np.einsum("kir,kir->k", beta, right)
    log = 0.5 * fitted - 0.5 * rows.shape[0] * (
        np.linalg.slogdet(matrix)[1] + 2.0 * float(np.sum(np.log(prior)))
    )
    return log, np.asarray(beta, dtype=np.float64)
