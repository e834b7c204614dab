"""find_settled: from which moment the canopy flight counts for the winds, found in the track and not on a clock.

After the opening the brakes stay stowed until the jumper releases them, and the canopy flies at little more than half its airspeed.
The later flight tells wind and airspeed, with their errors; many draws of these turn the ground velocities of the first minute into
shares of the airspeed. A hidden Markov chain (held slow, then released for good; later brakes come and go) weighs every moment of
release by these shares, and the moments that openings usually take decide where nothing is seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.phases.air import AirDraws, draw_air
from analyser.phases.thresholds import PHASES
from analyser.phases.uncounted import Stretch, sinks_fast, stretches_that_do_not_count
from analyser.track import Track

__all__ = ["Settled", "find_settled", "release_chances"]

Vector = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """The moment from which the flight counts [track s], its standard deviation [s], and the first fix from then on.

    ``counts`` (n,) of the fixes of the canopy flight: False up to one standard deviation after that moment (a second too early costs
    more than a second too late) and in the ``stretches`` that are no steady flight (each with its reason).
    """

    settled_s: float
    settled_sd_s: float
    index: int
    counts: Mask
    stretches: tuple[Stretch, ...] = ()


def find_settled(track: Track, start: int, stop: int) -> Settled:
    """From when the canopy flight ``start:stop`` counts for the winds.

    Never raises: a flight too short to tell is given what openings usually take, with their spread.
    """
    part = slice(start, stop)
    t, h = track.t_s[part], track.agl_m[part]
    v = np.stack([track.v_east[part], track.v_north[part]])
    sink = -track.v_up[part]
    elevation = track.ground_elevation_m if np.isfinite(track.ground_elevation_m) else 0.0
    known = np.isfinite(h) & np.isfinite(sink) & np.all(np.isfinite(v), axis=0)
    if int(known.sum()) < 2:
        return Settled(
            float(t[0]) if t.size else 0.0,
            PHASES.usual_spread * PHASES.usual_s,
            start,
            np.zeros(t.size, bool),
        )
    air = draw_air(t[known], h[known], v[:, known], elevation, later_s=PHASES.later_s)
    moments, chances = release_chances(t[known], h[known], v[:, known], air)
    after = np.maximum(moments + PHASES.recovers_s, 0.0)
    mean = float(chances @ after)
    sd = float(np.sqrt(chances @ (after - mean) ** 2 + PHASES.recovers_sd_s**2))
    settled = min(float(t[0]) + mean, float(t[-1]))
    index = start + min(int(np.searchsorted(t, settled - 1e-9)), t.size - 1)
    fast, share = sinks_fast(t, sink, settled), np.full(t.shape, np.nan)
    share[fast] = _share(h[fast], v[:, fast], air)
    stretches = stretches_that_do_not_count(t, h, sink, share, settled)
    counts = t >= min(settled + sd, float(t[-1]) - 1.0) - 1e-9
    for s in stretches:
        counts &= ~((t >= s.start_s) & (t < s.end_s))
    return Settled(settled, sd, index, counts, stretches)


def release_chances(t: Vector, h: Vector, v: Vector, air: AirDraws) -> tuple[Vector, Vector]:
    """Moments of release [s after the first fix] and the probability of each; ``v`` (2, n) ground velocity, ``air`` what the later flight tells."""
    span = min(PHASES.longest_s, 0.6 * float(t[-1] - t[0]))
    seconds = np.arange(0.5, max(span, 2.0), 1.0)
    moments = np.arange(-PHASES.recovers_s, float(seconds[-1]), 1.0)
    share = air.shares(*_each_second(t, h, v, seconds))
    seen = np.abs(t[_nearest(t, t[0] + seconds)] - t[0] - seconds) < PHASES.no_fix_s
    log = _prior(moments) + _evidence(share, seen, seconds, moments)
    chances = np.exp(log - log.max())
    return moments, chances / chances.sum()


def _prior(moments: Vector) -> Vector:
    settled = np.maximum(moments + PHASES.recovers_s, 0.25)
    usual = np.exp(-0.5 * (np.log(settled / PHASES.usual_s) / PHASES.usual_spread) ** 2) / settled
    at_once = np.exp(-0.5 * (settled / 1.5) ** 2)
    return np.asarray(
        np.log((1.0 - PHASES.at_once) * usual / usual.sum() + PHASES.at_once * at_once / at_once.sum())
    )


def _each_second(t: Vector, h: Vector, v: Vector, seconds: Vector) -> tuple[Vector, Vector]:
    at = t[0] + seconds
    return np.interp(at, t, h), np.stack([np.interp(at, t, row) for row in v])


def _nearest(t: Vector, at: Vector) -> NDArray[np.intp]:
    right = np.clip(np.searchsorted(t, at), 1, t.size - 1)
    return right - (at - t[right - 1] < t[right] - at)


def _normal(x: Vector, mean: float | Vector, sd: float) -> Vector:
    return np.asarray(np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi)))


def _evidence(share: Vector, seen: Mask, seconds: Vector, moments: Vector) -> Vector:
    """Log evidence (m,) of every moment of release, averaged over the draws; ``share`` (k, s) of the airspeed, each second."""
    use: Vector = PHASES.keeps * seen.astype(np.float64)
    slow = [
        (1.0 - PHASES.odd) * _normal(share, a, PHASES.level_sd) + PHASES.odd * ((share < 1.0) + 1e-3)
        for a in PHASES.levels
    ]
    held = _summed(use * np.log(slow))  # (levels, k, s + 1)
    surge = _summed(use * np.log((share > PHASES.surge_low) * (share < PHASES.surge_high) / 1.2 + 1e-3))
    i, j = (np.searchsorted(seconds, moments + later) for later in (0.0, PHASES.recovers_s))
    level = np.logaddexp.reduce(held[:, :, i] + np.log(np.array(PHASES.level_weights))[:, None, None], axis=0)
    total = level + (surge[:, j] - surge[:, i]) + _later(share, use)[:, j]
    return np.asarray(np.logaddexp.reduce(total, axis=0))


def _summed(x: Vector) -> Vector:
    """Running sums along the last axis, from 0."""
    return np.asarray(np.cumsum(np.concatenate([np.zeros_like(x[..., :1]), x], axis=-1), axis=-1))


def _later(share: Vector, use: Vector) -> Vector:
    """Log chance (k, s + 1) of all shares from a second on, flown free at first: free flight and brakes by turns, backwards."""
    free = np.log(0.97 * _normal(share, 1.0, PHASES.flies_sd) + 0.03 * 0.4)
    braked = np.log(_normal(share, PHASES.braked, PHASES.braked_sd) + 1e-3)
    stay, go = np.log1p(-1.0 / PHASES.into_brakes_s), -np.log(PHASES.into_brakes_s)
    hold, back = np.log1p(-1.0 / PHASES.out_of_brakes_s), -np.log(PHASES.out_of_brakes_s)
    f, b = np.zeros(share.shape[0]), np.zeros(share.shape[0])
    found = np.zeros((share.shape[0], share.shape[1] + 1))
    for i in range(share.shape[1] - 1, -1, -1):
        to_f, to_b = f + use[i] * free[:, i], b + use[i] * braked[:, i]
        f, b = np.logaddexp(stay + to_f, go + to_b), np.logaddexp(back + to_f, hold + to_b)
        found[:, i] = f
    return found


def _share(h: Vector, v: Vector, air: AirDraws) -> Vector:
    """Share of the airspeed at fixes (n,), the middle one of the draws."""
    return np.asarray(np.median(air.shares(h, v), axis=0))
