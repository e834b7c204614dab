"""Which leg is which: the likeliest names of straight stretches, read backwards from the landing.

A hidden Markov chain over the stretches. Every stretch is final, base, downwind, crosswind or none of them ("outside");
in the order flown the names only go forward. What speaks for a name: the direction over ground relative to the
landing direction, the height where the turn onto the stretch began, the length, and that the turns of a pattern go to one hand.
The posterior probability of a name is its confidence.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.pattern import Hand, LegName

__all__ = ["Naming", "StraightLeg", "name_legs"]

Vector = NDArray[np.float64]
Name = LegName | None

# Order flown. Heights [m] where turns onto the legs begin and their scatter as a factor: the published checkpoints of 1,000, 600
# and 300 ft (skydiveschool.org), a crosswind leg above them (common practice, no source).
_NAMES: tuple[Name, ...] = (None, "crosswind", "downwind", "base", "final")
_HEIGHT_M = (math.nan, 350.0, 280.0, 180.0, 90.0)
_HEIGHT_SPREAD = (math.nan, 0.28, 0.33, 0.38, 0.55)
# Direction over ground relative to landing for a left-hand pattern; a right-hand one is its mirror image.
_DIRECTION_DEG = (math.nan, -90.0, 180.0, 90.0, 0.0)
# Common practice, no source: how often a leg of one kind is followed by one of another (rows: from, columns: to).
_FOLLOW = np.array(
    [
        [0.70, 0.10, 0.12, 0.03, 0.05],
        [0.00, 0.06, 0.90, 0.02, 0.02],
        [0.00, 0.00, 0.08, 0.84, 0.08],
        [0.00, 0.00, 0.00, 0.07, 0.93],
        [0.00, 0.00, 0.00, 0.00, 1.00],
    ]
)
_WRONG_HAND = 0.04  # share of turns within a pattern that go to the other hand


class StraightLeg(NamedTuple):
    """A straight stretch: air heading and ground track [deg true], the error of the track [deg], length in time [s], and
    the turn onto it: height where it begins [m above the landing area] and signed change of heading [deg, right positive], or NaN."""

    heading_deg: float
    track_deg: float
    track_sd_deg: float
    seconds: float
    turn_agl_m: float
    turn_deg: float


class Naming(NamedTuple):
    """Name and confidence 0…1 of each stretch, the hand, the confidence of the whole, and for every leg name the probability that it
    begins with each stretch."""

    names: tuple[Name, ...]
    confidence: tuple[float, ...]
    hand: Hand | None
    whole: float
    begins: dict[LegName, tuple[float, ...]]


def _wrap(deg: float) -> float:
    return (deg + 180.0) % 360.0 - 180.0


def _direction_score(off_deg: float, sd_deg: float) -> float:
    """Log density [1/deg] of a direction that should be 0: a normal one with a flat floor."""
    bell = math.exp(-0.5 * (off_deg / sd_deg) ** 2) / (sd_deg * math.sqrt(2.0 * math.pi))
    return math.log(0.97 * bell + 0.03 / 360.0)


def _height_score(agl_m: float, name: int) -> float:
    """Log density (per unit of log height) of the height of a turn."""
    if not math.isfinite(agl_m) or agl_m <= 1.0:
        return 0.0
    if name == 0:
        return -1.1 - math.log1p(math.exp(-(agl_m - 200.0) / 50.0))
    z = math.log(agl_m / _HEIGHT_M[name]) / _HEIGHT_SPREAD[name]
    bell = math.exp(-0.5 * z * z) / (_HEIGHT_SPREAD[name] * math.sqrt(2.0 * math.pi))
    return math.log(0.96 * bell + 0.04 * 0.25)


def _leg_score(leg: StraightLeg, name: int, side: int, landing_deg: float, landing_heading: float) -> float:
    if name == 0:
        return -math.log(360.0)
    if name == 4:
        off = min(abs(_wrap(leg.heading_deg - landing_heading)), abs(_wrap(leg.track_deg - landing_deg)))
        return _direction_score(off, 32.0)
    expected = _DIRECTION_DEG[name] * side
    off = _wrap(leg.track_deg - landing_deg - expected)
    return _direction_score(off, math.hypot(28.0, min(leg.track_sd_deg, 60.0)))


def _turn_score(leg: StraightLeg, before: int, name: int, side: int) -> float:
    """Log probability of the turn onto a leg: its height and its hand."""
    if not math.isfinite(leg.turn_deg):
        return 0.0
    if before == name:
        return -0.2 - abs(leg.turn_deg) / 20.0 if name else 0.0
    height = _height_score(leg.turn_agl_m, name)
    if before == 0 or name == 0:
        return height - math.log(2.0)
    right_way = leg.turn_deg * side < 0.0
    return height + math.log(1.0 - _WRONG_HAND if right_way else _WRONG_HAND)


def _chain(legs: list[StraightLeg], side: int, landing_deg: float) -> tuple[Vector, Vector]:
    """Log scores: of each leg under each name (m, 5), of each step between names (m, 5, 5). ``side`` +1 left-hand, −1 right-hand."""
    m = len(legs)
    emit = np.array(
        [[_leg_score(leg, k, side, landing_deg, legs[-1].heading_deg) for k in range(5)] for leg in legs]
    )
    emit *= np.clip([[leg.seconds / 4.0] for leg in legs], 0.4, 1.0)
    with np.errstate(divide="ignore"):
        follow = np.log(_FOLLOW)
    step = np.zeros((m, 5, 5))
    for i in range(1, m):
        turns = np.array([[_turn_score(legs[i], a, b, side) for b in range(5)] for a in range(5)])
        step[i] = follow + turns
    return emit, step


class _Posterior(NamedTuple):
    """Marginals (m, 5), probability that a name begins at a stretch (m, 5), best path, its log score, log sum over all paths."""

    marginal: Vector
    begins: Vector
    path: tuple[int, ...]
    best: float
    total: float


def _posterior(emit: Vector, step: Vector) -> _Posterior:
    """Forward and backward sums and the best path; the last stretch is final."""
    m = emit.shape[0]
    start = np.log(np.array([0.7, 0.08, 0.1, 0.04, 0.08]))
    alpha, best = np.zeros((m, 5)), np.zeros((m, 5))
    back = np.zeros((m, 5), dtype=np.intp)
    alpha[0] = best[0] = start + emit[0]
    for i in range(1, m):
        alpha[i] = np.logaddexp.reduce(alpha[i - 1][:, None] + step[i], axis=0) + emit[i]
        ways = best[i - 1][:, None] + step[i]
        back[i] = np.argmax(ways, axis=0)
        best[i] = ways.max(axis=0) + emit[i]
    beta = np.full((m, 5), -np.inf)
    beta[-1, 4] = 0.0
    for i in range(m - 1, 0, -1):
        beta[i - 1] = np.logaddexp.reduce(step[i] + (emit[i] + beta[i])[None, :], axis=1)
    total = float(alpha[-1, 4])
    begins = np.zeros((m, 5))
    for i in range(1, m):
        joint = np.exp(alpha[i - 1][:, None] + step[i] + (emit[i] + beta[i])[None, :] - total)
        begins[i] = joint.sum(axis=0) - np.diag(joint)
    path = [4]
    for i in range(m - 1, 0, -1):
        path.append(int(back[i, path[-1]]))
    return _Posterior(np.exp(alpha + beta - total), begins, tuple(path[::-1]), float(best[-1, 4]), total)


def name_legs(legs: list[StraightLeg], landing_deg: float) -> Naming:
    """Names of straight stretches in the order flown, the last of which ends at the landing; ``landing_deg`` track at the landing [deg true]."""
    if not legs:
        return Naming((), (), None, 0.0, {})
    found = {side: _posterior(*_chain(legs, side, landing_deg)) for side in (1, -1)}
    side = max(found, key=lambda k: found[k].best)
    p, other = found[side], found[-side]
    share = 1.0 / (1.0 + math.exp(max(min(other.total - p.total, 700.0), -700.0)))
    names = tuple(_NAMES[k] for k in p.path)
    turns = [n for n in names if n in ("crosswind", "downwind", "base")]
    confidence = tuple(
        float(share * p.marginal[i, k] + (1.0 - share) * (0.0 if k in (1, 3) else other.marginal[i, k]))
        for i, k in enumerate(p.path)
    )
    hand: Hand | None = None if not turns else ("left" if side > 0 else "right")
    whole = math.exp(p.best - p.total) * (share if turns else 1.0)
    begins = {name: tuple(p.begins[:, k].tolist()) for k, name in enumerate(_NAMES) if name is not None}
    return Naming(names, confidence, hand, min(whole, 1.0), begins)
