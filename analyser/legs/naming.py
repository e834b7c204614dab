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

from analyser.legs.scores import DETOUR, FINAL, FIRST, NAMES, OUTSIDE, Landing, Name, StraightLeg, chain
from analyser.pattern import Hand, LegName

__all__ = ["Naming", "name_legs"]

Vector = NDArray[np.float64]


class Naming(NamedTuple):
    """Name and confidence 0…1 of each stretch, the hand, the confidence of the whole (these legs to this hand, wherever they begin),
    for every leg name the probability that it begins with each stretch, and the likeliest landing."""

    names: tuple[Name, ...]
    confidence: tuple[float, ...]
    hand: Hand | None
    whole: float
    begins: dict[LegName, tuple[float, ...]]
    landing: Landing


class _Posterior(NamedTuple):
    """For one landing and hand: log scores, marginals (m, 6), probability that a name begins at a stretch (m, 6), best path, its log score,
    log sum over all paths."""

    landing: Landing
    side: int
    emit: Vector
    step: Vector
    marginal: Vector
    begins: Vector
    path: tuple[int, ...]
    best: float
    total: float


def _posterior(legs: list[StraightLeg], landing: Landing, side: int) -> _Posterior:
    """Forward and backward sums and the best path; the last stretch is final."""
    emit, step = chain(legs, side, landing)
    m = emit.shape[0]
    start = np.log(FIRST)
    alpha, best = np.zeros((m, 6)), np.zeros((m, 6))
    back = np.zeros((m, 6), dtype=np.intp)
    alpha[0] = best[0] = start + emit[0]
    for i in range(1, m):
        alpha[i] = np.logaddexp.reduce(alpha[i - 1][:, None] + step[i], axis=0) + emit[i]
        ways = best[i - 1][:, None] + step[i]
        back[i] = np.argmax(ways, axis=0)
        best[i] = ways.max(axis=0) + emit[i]
    beta = np.full((m, 6), -np.inf)
    beta[-1, FINAL] = 0.0
    for i in range(m - 1, 0, -1):
        beta[i - 1] = np.logaddexp.reduce(step[i] + (emit[i] + beta[i])[None, :], axis=1)
    total = float(alpha[-1, FINAL])
    begins = np.zeros((m, 6))
    for i in range(1, m):
        joint = np.exp(alpha[i - 1][:, None] + step[i] + (emit[i] + beta[i])[None, :] - total)
        begins[i] = joint.sum(axis=0) - np.diag(joint)
    path = [FINAL]
    for i in range(m - 1, 0, -1):
        path.append(int(back[i, path[-1]]))
    marginal = np.exp(alpha + beta - total)
    prior, score = landing.prior, float(best[-1, FINAL])
    return _Posterior(
        landing, side, emit, step, marginal, begins, tuple(path[::-1]), score + prior, total + prior
    )


def _same_legs(p: _Posterior, path: tuple[int, ...]) -> float:
    """Probability of all paths that tell the same legs as ``path``, wherever these begin.

    Names only go forward, so the legs told are the set of names on a path; by inclusion and exclusion from the sums over the
    paths that may use some of these names only.
    """
    told = sorted({k for k in path if OUTSIDE < k < FINAL})
    total = 0.0
    for use in itertools.product((False, True), repeat=len(told)):
        allowed = [OUTSIDE, *itertools.compress(told, use), FINAL, DETOUR]
        some = _sum(p.emit, p.step, allowed) + p.landing.prior - p.total
        total += (-1.0) ** (len(told) - sum(use)) * math.exp(some)
    return min(max(total, 0.0), 1.0)


def _sum(emit: Vector, step: Vector, allowed: list[int]) -> float:
    """Log sum over all paths through some states, the last stretch final."""
    alpha = np.log(FIRST[allowed]) + emit[0, allowed]
    for i in range(1, emit.shape[0]):
        alpha = (
            np.logaddexp.reduce(alpha[:, None] + step[i][np.ix_(allowed, allowed)], axis=0) + emit[i, allowed]
        )
    return float(alpha[allowed.index(FINAL)])


def name_legs(legs: list[StraightLeg], landings: list[Landing]) -> Naming:
    """Names of straight stretches in the order flown, the last of which ends at the landing.

    ``landings`` what its direction may be: the names are those of the likeliest, the confidence is that over all of them and both hands.
    Raises ValueError without a stretch or a landing.
    """
    if not legs or not landings:
        raise ValueError(f"{len(legs)} stretches and {len(landings)} landings: names need one of each")
    found = [_posterior(legs, landing, side) for landing in landings for side in (1, -1)]
    best = max(found, key=lambda p: p.best)
    top = max(p.total for p in found)
    weight = np.exp([p.total - top for p in found])
    weight /= weight.sum()
    turns = any(OUTSIDE < k < FINAL for k in best.path)
    same = [p.side == best.side for p in found]
    confidence = [
        sum(float(w * p.marginal[i, k]) for p, w, s in zip(found, weight, same) if s or k not in (1, 3))
        for i, k in enumerate(best.path)
    ]
    whole = sum(
        w * _same_legs(p, best.path) for p, w, s in zip(found, weight, same) if (s or not turns) and w > 1e-4
    )
    begins = sum(w * p.begins for p, w, s in zip(found, weight, same) if s)
    return Naming(
        tuple(NAMES[k] for k in best.path),
        tuple(min(c, 1.0) for c in confidence),
        ("left" if best.side > 0 else "right") if turns else None,
        min(float(whole), 1.0),
        {name: tuple(np.asarray(begins)[:, k].tolist()) for k, name in enumerate(NAMES) if name is not None},
        best.landing,
    )
