"""Which leg is which: the likeliest names of straight stretches, read backwards from the landing.

A hidden Markov chain over the stretches. Every stretch is final, base, downwind, crosswind, none of them before the pattern
("outside") or none of them within it (an arc, a detour); in the order flown the names only go forward. What speaks for a name:
the direction over ground relative to the landing direction, the height where the turn onto the stretch began, that a leg is
straight, and that the turns of a pattern go to one hand. The posterior probability of a name is its confidence.
"""

from __future__ import annotations

import itertools
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.pattern import Hand, LegName

__all__ = ["Landing", "Name", "Naming", "StraightLeg", "height_density", "name_legs"]

Vector = NDArray[np.float64]
Name = LegName | None

_NAMES: tuple[Name, ...] = (None, "crosswind", "downwind", "base", "final", None)
_OUTSIDE, _FINAL, _DETOUR = 0, 4, 5
_STATES = len(_NAMES)
# Heights [m] where turns onto the legs begin and their scatter as a factor: the published checkpoints of 1,000, 600
# and 300 ft (skydiveschool.org), a crosswind leg above them (common practice, no source).
_HEIGHT_M = (math.nan, 350.0, 280.0, 180.0, 90.0)
_HEIGHT_SPREAD = (math.nan, 0.28, 0.33, 0.38, 0.55)
# Direction over ground relative to landing for a left-hand pattern; a right-hand one is its mirror image.
_DIRECTION_DEG = (math.nan, -90.0, 180.0, 90.0, 0.0)
# Common practice, no source: how often a stretch of one kind is followed by one of another (rows: from, columns: to).
_FOLLOW = np.array(
    [
        [0.68, 0.11, 0.13, 0.03, 0.05, 0.00],
        [0.00, 0.06, 0.86, 0.02, 0.02, 0.04],
        [0.00, 0.00, 0.08, 0.74, 0.14, 0.04],
        [0.00, 0.00, 0.00, 0.07, 0.90, 0.03],
        [0.00, 0.00, 0.00, 0.00, 1.00, 0.00],
        [0.00, 0.00, 0.05, 0.20, 0.60, 0.15],
    ]
)
_ANY_HEIGHT = -1.1  # log density, per unit of log height, of a turn that belongs to no leg (ours)
_HIGH_FINAL_M = 260.0  # ours: a final that begins higher follows no pattern
_FIRST = np.array([0.68, 0.09, 0.11, 0.04, 0.07, 0.01])
_WRONG_HAND = 0.04  # share of turns within a pattern that go to the other hand
_WEAVE_DEG = 85.0  # an S-turn on final leaves the landing heading by less than this
_WEAVE = 0.35  # share of a step from final to final, for each further turn of more than 25 degrees


class StraightLeg(NamedTuple):
    """A stretch: air heading and ground track [deg true], the error of the track [deg], length in time [s], the turn onto
    it: height where it begins [m above the landing area] and signed change of heading [deg, right positive], or NaN; and
    by how much it bends where it is one long bend."""

    heading_deg: float
    track_deg: float
    track_sd_deg: float
    seconds: float
    turn_agl_m: float
    turn_deg: float
    bend_deg: float = 0.0


class Landing(NamedTuple):
    """Direction of the landing [deg true]: over ground and through the air."""

    track_deg: float
    heading_deg: float


class Naming(NamedTuple):
    """Name and confidence 0…1 of each stretch, the hand, the confidence of the whole, its log score, and for every leg name the probability that it
    begins with each stretch."""

    names: tuple[Name, ...]
    confidence: tuple[float, ...]
    hand: Hand | None
    whole: float
    score: float
    begins: dict[LegName, tuple[float, ...]]


def _wrap(deg: float) -> float:
    return (deg + 180.0) % 360.0 - 180.0


def _direction_score(off_deg: float, sd_deg: float) -> float:
    """Log density [1/deg] of a direction that should be 0: a normal one with a flat floor."""
    bell = math.exp(-0.5 * (off_deg / sd_deg) ** 2) / (sd_deg * math.sqrt(2.0 * math.pi))
    return math.log(0.97 * bell + 0.03 / 360.0)


def _height_score(agl_m: float, before: int, name: int) -> float:
    """Log density (per unit of log height) of the height of a turn; a final that follows no pattern may begin at any height."""
    if not math.isfinite(agl_m) or agl_m <= 1.0 or name == _DETOUR:
        return _ANY_HEIGHT
    if name == _OUTSIDE or (name == _FINAL and before == _OUTSIDE):
        return _ANY_HEIGHT - math.log1p(math.exp(-(agl_m - 200.0) / 50.0))
    high = math.log1p(math.exp((agl_m - _HIGH_FINAL_M) / 25.0)) if name == _FINAL else 0.0
    return math.log(_bell(agl_m, name)) - high


def _bell(agl_m: float, name: int) -> float:
    z = math.log(agl_m / _HEIGHT_M[name]) / _HEIGHT_SPREAD[name]
    bell = 0.95 * math.exp(-0.5 * z * z) + 0.05 * math.exp(-0.5 * (z / 2.5) ** 2) / 2.5
    return bell / (_HEIGHT_SPREAD[name] * math.sqrt(2.0 * math.pi)) + 1e-6


def height_density(agl_m: float, name: LegName) -> float:
    """Density, per unit of log height, of the heights where turns onto a leg begin; that of any other turn for a height that is NaN."""
    return _bell(agl_m, _NAMES.index(name)) if math.isfinite(agl_m) else math.exp(_ANY_HEIGHT)


def _leg_score(leg: StraightLeg, name: int, side: int, landing: Landing) -> float:
    """Log density [1/deg] of the direction of a stretch under a name, and of its being straight or bent."""
    if name == _OUTSIDE:
        return -math.log(360.0)
    if name == _DETOUR:
        return -math.log(360.0) - (0.0 if leg.bend_deg else 1.5)
    bent = -0.06 * abs(leg.bend_deg) - 1.6 * math.exp(-leg.seconds / 2.0)
    if name == _FINAL:
        off = min(
            abs(_wrap(leg.heading_deg - landing.heading_deg)), abs(_wrap(leg.track_deg - landing.track_deg))
        )
        straight = math.exp(_direction_score(off, 18.0))
        weaving = 1.0 / (2.0 * _WEAVE_DEG) if off < _WEAVE_DEG else 0.0
        return bent + math.log(0.75 * straight + 0.25 * weaving)
    expected = _DIRECTION_DEG[name] * side
    off = _wrap(leg.track_deg - landing.track_deg - expected)
    return bent + _direction_score(off, math.hypot(28.0, min(leg.track_sd_deg, 60.0)))


def _turn_score(leg: StraightLeg, before: int, name: int, side: int) -> float:
    """Log probability of the turn onto a stretch: its height and its hand."""
    if not math.isfinite(leg.turn_deg):
        unturned = 0 < name < _FINAL and before != name
        return _height_score(math.nan, before, name) - (3.0 if unturned else 0.0)
    if before == name == _FINAL:
        weave = 0.0 if abs(leg.turn_deg) < 25.0 else math.log(_WEAVE)
        low = _ANY_HEIGHT - math.log1p(math.exp((leg.turn_agl_m - 200.0) / 60.0))
        return low + (weave if abs(leg.turn_deg) < 2.0 * _WEAVE_DEG else -6.0)
    if before == name and name not in (_OUTSIDE, _DETOUR):
        return -0.2 - abs(leg.turn_deg) / 20.0
    height = _height_score(leg.turn_agl_m, before, name)
    if before == _OUTSIDE or name == _DETOUR:
        return height - math.log(2.0)
    right_way = leg.turn_deg * side < 0.0
    return height + math.log(1.0 - _WRONG_HAND if right_way else _WRONG_HAND)


def _chain(legs: list[StraightLeg], side: int, landing: Landing) -> tuple[Vector, Vector]:
    """Log scores: of each stretch under each name (m, 6), of each step between names (m, 6, 6). ``side`` +1 left-hand, −1 right-hand."""
    m, states = len(legs), range(_STATES)
    emit = np.array([[_leg_score(leg, k, side, landing) for k in states] for leg in legs])
    emit *= np.clip([[leg.seconds / 4.0] for leg in legs], 0.5, 1.0)
    with np.errstate(divide="ignore"):
        follow = np.log(_FOLLOW)
    step = np.zeros((m, _STATES, _STATES))
    for i in range(1, m):
        turns = np.array([[_turn_score(legs[i], a, b, side) for b in states] for a in states])
        step[i] = follow + turns
    return emit, step


class _Posterior(NamedTuple):
    """Marginals (m, 6), probability that a name begins at a stretch (m, 6), best path, its log score, log sum over all paths."""

    marginal: Vector
    begins: Vector
    path: tuple[int, ...]
    best: float
    total: float


def _posterior(emit: Vector, step: Vector) -> _Posterior:
    """Forward and backward sums and the best path; the last stretch is final."""
    m = emit.shape[0]
    start = np.log(_FIRST)
    alpha, best = np.zeros((m, 6)), np.zeros((m, 6))
    back = np.zeros((m, 6), dtype=np.intp)
    alpha[0] = best[0] = start + emit[0]
    for i in range(1, m):
        alpha[i] = np.logaddexp.reduce(alpha[i - 1][:, None] + step[i], axis=0) + emit[i]
        ways = best[i - 1][:, None] + step[i]
        back[i] = np.argmax(ways, axis=0)
        best[i] = ways.max(axis=0) + emit[i]
    beta = np.full((m, 6), -np.inf)
    beta[-1, _FINAL] = 0.0
    for i in range(m - 1, 0, -1):
        beta[i - 1] = np.logaddexp.reduce(step[i] + (emit[i] + beta[i])[None, :], axis=1)
    total = float(alpha[-1, _FINAL])
    begins = np.zeros((m, 6))
    for i in range(1, m):
        joint = np.exp(alpha[i - 1][:, None] + step[i] + (emit[i] + beta[i])[None, :] - total)
        begins[i] = joint.sum(axis=0) - np.diag(joint)
    path = [_FINAL]
    for i in range(m - 1, 0, -1):
        path.append(int(back[i, path[-1]]))
    return _Posterior(np.exp(alpha + beta - total), begins, tuple(path[::-1]), float(best[-1, _FINAL]), total)


def _same_legs(emit: Vector, step: Vector, p: _Posterior) -> float:
    """Probability of all paths that tell the same legs as the best one, wherever these begin.

    Names only go forward, so the legs told are the set of names on a path; by inclusion and exclusion from the sums over the
    paths that may use some of these names only.
    """
    told = sorted({k for k in p.path if _OUTSIDE < k < _FINAL})
    total = 0.0
    for use in itertools.product((False, True), repeat=len(told)):
        allowed = [_OUTSIDE, *itertools.compress(told, use), _FINAL, _DETOUR]
        total += (-1.0) ** (len(told) - sum(use)) * math.exp(_sum(emit, step, allowed) - p.total)
    return min(max(total, 0.0), 1.0)


def _sum(emit: Vector, step: Vector, allowed: list[int]) -> float:
    """Log sum over all paths through some states, the last stretch final."""
    alpha = np.log(_FIRST[allowed]) + emit[0, allowed]
    for i in range(1, emit.shape[0]):
        alpha = (
            np.logaddexp.reduce(alpha[:, None] + step[i][np.ix_(allowed, allowed)], axis=0) + emit[i, allowed]
        )
    return float(alpha[allowed.index(_FINAL)])


def name_legs(legs: list[StraightLeg], landing: Landing) -> Naming:
    """Names of straight stretches in the order flown, the last of which ends at the landing; ``landing`` its direction."""
    if not legs:
        return Naming((), (), None, 0.0, -math.inf, {})
    chains = {side: _chain(legs, side, landing) for side in (1, -1)}
    found = {side: _posterior(*chains[side]) for side in (1, -1)}
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
    whole = _same_legs(*chains[side], p) * (share if turns else 1.0)
    begins = {name: tuple(p.begins[:, k].tolist()) for k, name in enumerate(_NAMES) if name is not None}
    return Naming(names, confidence, hand, min(whole, 1.0), p.best, begins)
