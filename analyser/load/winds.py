"""One wind of a load: the profiles of all tracks as observations of one wind that changes with time.

What jumper i found at height h is the wind of that height, plus its change since, plus the error of his fit:

    y_i(h) = W(h) + g(h, t_i(h)) + e_i(h)

``W`` is free at every height; ``g`` is a Gauss-Markov process in time (correlation exp(−Δt/τ), over height exp(−Δh/H)); ``e_i`` has the joint
covariance of its fit. A part of it all jumpers have in common and no number of them makes smaller: everybody lands the same way, and brakes there.
The rest is independent. Some fits err by more than they say, most do not: by what each jumper's errors have to be widened is told by the others,
who predict what he should have found. That, and how much the wind changed, is weighed by the evidence at a few heights (Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, chapter 5) and averaged over:
between neighbouring heights a profile is as smooth as its fit wanted it, which says nothing of its errors. The answer for each
jumper is W + g at his own times.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.load.flights import Flight
from analyser.load.thresholds import LOAD
from analyser.wind.profile import WindProfile, WindStatus
from analyser.wind.status import MEASURED_SD_MPS
from analyser.wind.trim import CanopyEstimate

__all__ = ["HeldWind", "LoadWind", "held_wind", "load_wind", "shared_airspeed"]

Vector = NDArray[np.float64]


# Ours, from made-up loads: the part of a fit's variance that all of a load have in common: aloft, at the ground, and how it falls off with height.


@dataclass(frozen=True, slots=True, eq=False)
class HeldWind:
    """What one jumper's track says of the wind: the profile, and when each of its ``k`` heights was crossed [s since 1970, UTC]."""

    profile: WindProfile
    t_s: Vector


@dataclass(frozen=True, slots=True, eq=False)
class LoadWind:
    """One wind for a load: a profile for each jumper, at his own heights and times; ``change_mps`` how much the wind may change in the time of
    the table, ``factors`` what each jumper's errors were multiplied by, ``widened`` the middle one (all weighed by the evidence); ``used``
    whose profile held anything.
    """

    profiles: tuple[WindProfile, ...]
    change_mps: float
    widened: float
    used: tuple[bool, ...]
    factors: tuple[float, ...] = ()


def held_wind(profile: WindProfile, flight: Flight) -> HeldWind:
    """A profile with the times at which the flight crossed its heights; above and below the flight its first and last moment."""
    span = flight.under_canopy
    if span is None:
        return HeldWind(profile, np.full(profile.agl_m.shape, float(flight.t_s[-1])))
    use = (flight.t_s >= span[0]) & (flight.t_s <= span[1]) & np.isfinite(flight.agl_m)
    t, h = flight.t_s[use], flight.agl_m[use]
    if t.size < 2:
        return HeldWind(profile, np.full(profile.agl_m.shape, span[1]))
    lowest = np.minimum.accumulate(h)
    return HeldWind(profile, np.interp(profile.agl_m, lowest[::-1], t[::-1]))


def usable(profile: WindProfile) -> NDArray[np.bool_]:
    """Which heights (k,) of a profile count as observations: those that are determined."""
    return np.array([status != "undetermined" for status in profile.status])


def load_wind(held: Sequence[HeldWind]) -> LoadWind:
    """The winds of all jumpers of a load fitted together; profiles come back as they were where nobody's holds anything."""
    keep = [usable(h.profile) for h in held]
    used = tuple(bool(k.any()) for k in keep)
    if sum(used) < 2:
        return LoadWind(tuple(h.profile for h in held), 0.0, 1.0, used)
    y, noise, rows = _observed(held, keep)
    targets = _rows(held, [np.ones(k.size, dtype=bool) for k in keep])
    few = np.isin(rows.agl_m, LOAD.evidence_m)
    some = _Rows(rows.whose[few], rows.part[few], rows.agl_m[few], rows.t_s[few])
    found, evidence, wider = [], [], []
    for change in LOAD.changes_mps:
        factors = _factors(y[few], noise[np.ix_(few, few)], some, change, len(held))
        by = np.outer(factors, factors)
        found.append(_fitted(y, noise * by[np.ix_(rows.whose, rows.whose)], rows, targets, change))
        close = noise[np.ix_(few, few)] * by[np.ix_(some.whose, some.whose)]
        evidence.append(_evidence(y[few], close, some, change) + _odds(factors))
        wider.append(factors)
    share = np.exp(np.array(evidence) - max(evidence))
    share /= share.sum()
    mean = np.einsum("o,on->n", share, np.array([fit.mean for fit in found]))
    covariance = np.zeros((mean.size, mean.size))
    for weight, fit in zip(share, found):
        if weight > LOAD.least_share:
            off = fit.mean - mean
            covariance += weight * (fit.covariance + np.outer(off, off))
    factors = np.einsum("o,oj->j", share, np.array(wider))
    widened = float(np.median(factors[list(used)]))
    covariance += widened**2 * _in_common(held)
    change = float(share @ np.array(LOAD.changes_mps))
    return LoadWind(_profiles(held, keep, mean, covariance), change, widened, used, tuple(factors.tolist()))


def _factors(y: Vector, noise: Vector, rows: _Rows, change_mps: float, jumpers: int) -> Vector:
    """By what each jumper's errors (jumpers,) are too small, as what the others found has it: everyone against all others, twice round."""
    options = np.array(LOAD.wider)
    factors = np.ones(jumpers)
    shared = _shared(rows, rows, change_mps)
    for _ in range(LOAD.rounds):
        for k in np.unique(rows.whose):
            mine, rest = np.flatnonzero(rows.whose == k), np.flatnonzero(rows.whose != k)
            if rest.size == 0:
                continue
            others = factors[rows.whose[rest]]
            known = shared[np.ix_(rest, rest)] + noise[np.ix_(rest, rest)] * np.outer(others, others)
            gain = np.linalg.solve(known, shared[np.ix_(rest, mine)]).T
            off = y[mine] - gain @ y[rest]
            sure = shared[np.ix_(mine, mine)] - gain @ shared[np.ix_(rest, mine)]
            own = noise[np.ix_(mine, mine)]
            told = np.array([_log_normal(off, sure + f**2 * own) for f in options]) + np.log(LOAD.wider_odds)
            weight = np.exp(told - told.max())
            factors[k] = math.sqrt(float(weight @ options**2) / float(weight.sum()))
    return factors


def _odds(factors: Vector) -> float:
    """Log of the odds of some factors, between those of the table."""
    return float(np.sum(np.interp(factors, LOAD.wider, np.log(LOAD.wider_odds))))


class _Rows(NamedTuple):
    """Rows (n,) of a vector of winds: whose, 0 east or 1 north, height [m], time [s]."""

    whose: NDArray[np.intp]
    part: NDArray[np.intp]
    agl_m: Vector
    t_s: Vector


class _Fitted(NamedTuple):
    """Mean and covariance of the wanted winds."""

    mean: Vector
    covariance: Vector


def _rows(held: Sequence[HeldWind], keep: Sequence[NDArray[np.bool_]]) -> _Rows:
    sizes = [int(use.sum()) for use in keep]
    whose = np.concatenate([np.full(2 * n, i, dtype=np.intp) for i, n in enumerate(sizes)])
    part = np.concatenate([np.repeat(np.arange(2, dtype=np.intp), n) for n in sizes])
    agl = np.concatenate([np.tile(one.profile.agl_m[use], 2) for one, use in zip(held, keep)])
    t = np.concatenate([np.tile(one.t_s[use], 2) for one, use in zip(held, keep)])
    return _Rows(whose, part, agl, t)


def _observed(held: Sequence[HeldWind], keep: Sequence[NDArray[np.bool_]]) -> tuple[Vector, Vector, _Rows]:
    """The winds that were found (n,), the joint covariance of their errors (n, n), and their rows."""
    rows = _rows(held, keep)
    noise = np.zeros((rows.whose.size, rows.whose.size))
    y, at = [], 0
    for one, use in zip(held, keep):
        both = np.concatenate([use, use])
        y.append(np.concatenate([one.profile.east, one.profile.north])[both])
        n = int(both.sum())
        noise[at : at + n, at : at + n] = one.profile.covariance[
            np.ix_(both, both)
        ] + LOAD.grain_mps**2 * np.eye(n)
        at += n
    return np.concatenate(y), noise, rows


def _shared(a: _Rows, b: _Rows, change_mps: float) -> Vector:
    """Covariance (n, m) of true winds [m²/s²]: one free wind per height, and its change."""
    same = a.part[:, None] == b.part[None, :]
    high = np.abs(a.agl_m[:, None] - b.agl_m[None, :])
    late = np.abs(a.t_s[:, None] - b.t_s[None, :])
    change = change_mps**2 * np.exp(-late / LOAD.change_s - high / LOAD.change_m)
    return np.asarray(same * (LOAD.free_mps**2 * (high < 0.5) + change))


def _common(agl_m: Vector) -> Vector:
    """The part of the variance at heights (k,) that all jumpers have in common."""
    return np.asarray(LOAD.common + LOAD.common_low * np.exp(-np.maximum(agl_m, 0.0) / LOAD.common_fall_m))


def _in_common(held: Sequence[HeldWind]) -> Vector:
    """What the errors of every jumper's fit have in common with the others' (n, n), jumper by jumper."""
    sizes = [2 * one.profile.agl_m.size for one in held]
    whole, at = np.zeros((sum(sizes), sum(sizes))), 0
    for one, n in zip(held, sizes):
        root = np.tile(np.sqrt(_common(one.profile.agl_m)), 2)
        known = np.tile(usable(one.profile), 2)
        part = one.profile.covariance * np.outer(root, root)
        # where nothing is known alone, the others' errors are the usual ones
        usual = np.median(np.diagonal(part)[known]) if known.any() else MEASURED_SD_MPS**2
        part = np.where(np.outer(known, known), part, np.eye(n) * usual)
        whole[at : at + n, at : at + n] = part
        at += n
    return whole


def _evidence(y: Vector, noise: Vector, rows: _Rows, change_mps: float) -> float:
    """Log of the evidence of winds (n,) under a change and their errors."""
    if y.size == 0:
        return 0.0
    return _log_normal(y, _shared(rows, rows, change_mps) + noise)


def _log_normal(off: Vector, covariance: Vector) -> float:
    """Log of the normal density at ``off``, but for a constant."""
    root = np.linalg.cholesky(0.5 * (covariance + covariance.T))
    white = np.linalg.solve(root, off)
    return -0.5 * float(white @ white) - float(np.sum(np.log(np.diag(root))))


def _fitted(y: Vector, noise: Vector, rows: _Rows, targets: _Rows, change_mps: float) -> _Fitted:
    whole = _shared(rows, rows, change_mps) + noise
    across = _shared(targets, rows, change_mps)
    root = np.linalg.cholesky(whole)
    white = np.linalg.solve(root, np.column_stack([y, across.T]))
    covariance = _shared(targets, targets, change_mps) - white[:, 1:].T @ white[:, 1:]
    return _Fitted(white[:, 1:].T @ white[:, 0], covariance)


def _profiles(
    held: Sequence[HeldWind], keep: Sequence[NDArray[np.bool_]], mean: Vector, covariance: Vector
) -> tuple[WindProfile, ...]:
    found, at = [], 0
    measured = {
        float(h)
        for one in held
        for h, status in zip(one.profile.agl_m, one.profile.status)
        if status == "measured"
    }
    for one, use in zip(held, keep):
        k = use.size
        part = slice(at, at + 2 * k)
        at += 2 * k
        cov = 0.5 * (covariance[part, part] + covariance[part, part].T)
        judged = [_judged(one.profile, i, cov, measured) for i in range(k)]
        found.append(
            WindProfile(
                one.profile.agl_m,
                mean[part][:k],
                mean[part][k:],
                cov,
                tuple(status for status, _ in judged),
                tuple(reason for _, reason in judged),
            )
        )
    return tuple(found)


def _judged(profile: WindProfile, i: int, covariance: Vector, measured: set[float]) -> tuple[WindStatus, str]:
    """Status and reason of one height: as good as the load knows it."""
    k = profile.agl_m.size
    pair = covariance[np.ix_([i, k + i], [i, k + i])]
    sd = math.sqrt(max(float(np.linalg.eigvalsh(pair)[-1]), 0.0))
    if sd > MEASURED_SD_MPS:
        return "undetermined", profile.reason[i] or f"known to {sd:.1f} m/s only, with all of the load"
    if float(profile.agl_m[i]) in measured:
        return "measured", ""
    return "bridged", profile.reason[i] or "nobody of the load measured this height"


def shared_airspeed(canopy: CanopyEstimate, alone: WindProfile, together: WindProfile) -> CanopyEstimate:
    """The airspeed as it follows from the load's wind: what the wind gives up, the airspeed takes, by their covariance in the fit."""
    k2 = 2 * alone.agl_m.size
    if canopy.airspeed_mps is None or canopy.airspeed_sd_mps is None or len(canopy.airspeed_wind) != k2:
        return canopy
    shared = np.array(canopy.airspeed_wind)
    gain = np.linalg.solve(alone.covariance + LOAD.grain_mps**2 * np.eye(k2), shared)
    moved = np.concatenate([together.east - alone.east, together.north - alone.north])
    less = max(float(gain @ (alone.covariance - together.covariance) @ gain), 0.0)
    variance = max(canopy.airspeed_sd_mps**2 - less, 0.25 * canopy.airspeed_sd_mps**2)
    return replace(
        canopy,
        airspeed_mps=canopy.airspeed_mps + float(gain @ moved),
        airspeed_sd_mps=math.sqrt(variance),
        airspeed_wind=tuple((together.covariance @ gain).tolist()),
    )
