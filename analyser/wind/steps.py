"""Steps of airspeed and sink at the edges of the samples, and what any of them would change, by matrix products once for all.

A stretch in brakes is the difference of two steps, at the edge where it begins and at the edge where it ends, in three unknowns:
what it takes from the airspeed, what it changes of the sink, and how much height the speed given up is worth. With the inverse
covariance of what is left to explain at hand, all that the data say of any set of stretches is entries of one matrix.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations_with_replacement
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors
from analyser.wind.samples import Samples
from analyser.wind.stay import answer
from analyser.wind.turning import G

__all__ = ["Interval", "Known", "Law", "Steps", "Weighed", "laws", "shapes"]

Vector = NDArray[np.float64]
Index = NDArray[np.intp]

TOGETHER = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Law:
    """Prior of a stay's airspeed, sink and rise [m/s]: ``mean`` (3,), the inverse ``precision`` (3, 3) of its covariance, and how likely the kind is (log)."""

    mean: Vector
    precision: Vector
    log_share: float

    @property
    def toward(self) -> Vector:
        """What the prior pulls with (3,)."""
        return np.asarray(self.precision @ self.mean)

    @property
    def offset(self) -> float:
        """What the prior adds to −2 log evidence."""
        return float(self.mean @ self.toward - np.linalg.slogdet(self.precision)[1])


def laws(priors: Priors, v: float) -> list[Law]:
    """A stay at trim airspeed ``v`` [m/s] with and without the height that the speed is worth."""
    share, share_sd, sink, sink_sd = priors.stay
    air, so = share * v, share_sd * v
    joint, found = TOGETHER * so * sink_sd, []
    for energy, likely in priors.stay_energy:
        rise_sd = abs(air) * 0.4 * max(energy, 0.4)
        covariance = np.array(
            [
                [so**2, joint, energy * so**2],
                [joint, sink_sd**2, energy * joint],
                [energy * so**2, energy * joint, (energy * so) ** 2 + rise_sd**2],
            ]
        )
        mean = np.array([air, sink, energy * air])
        found.append(Law(mean, np.linalg.inv(covariance), float(np.log(likely))))
    return found


def shapes(samples: Samples, weight: Vector, priors: Priors, v: float) -> tuple[Vector, Vector, Vector]:
    """Edges (m,) [s] of the samples; what a step of 1 m/s at each does to the airspeed (n, m); and to the sink: itself, then its rise (n, 2m)."""
    start, stop = samples.t_s - 0.5 * samples.dt_s, samples.t_s + 0.5 * samples.dt_s
    edge = np.append(start, stop[-1])
    since = samples.t_s[:, None] - edge
    air = answer(since, priors) * weight[:, None]
    gained = answer(stop[:, None] - edge, priors) - answer(start[:, None] - edge, priors)
    sink = 1.0 - np.exp(-np.maximum(since, 0.0) / priors.sink_lag_s)
    return edge, air, np.hstack([sink, gained / samples.dt_s[:, None] * (v / G)])


class Interval(NamedTuple):
    """Numbers of the edges where a stay begins and ends, and of its law."""

    first: int
    last: int
    law: int


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is left once some stays are known of: ``matrix`` (3m, 3m) and ``pull`` (3m,) of the steps, ``gain`` (p, 3m) by which a step moves the parameters,
    the ``mean`` (p,) by which the known ones have moved them, and its ``covariance`` (p, p)."""

    matrix: Vector
    pull: Vector
    gain: Vector
    mean: Vector
    covariance: Vector


class Weighed(NamedTuple):
    """Information on the unknowns of every interval, entry by entry (q,), and the data's pull on them (3, q)."""

    info: dict[tuple[int, int], Vector]
    pull: Vector


@dataclass(frozen=True, eq=False)
class Steps:
    """All steps of one stretch of the flight: ``edge`` (m,) [s], what the data say of them as :class:`Known` with no stays, the laws,
    and every interval between two edges: ``first``, ``last`` (q,) with its log prior."""

    edge: Vector
    none: Known
    laws: list[Law]
    first: Index
    last: Index
    log_prior: Vector

    def columns(self, chosen: list[Interval]) -> tuple[Index, Index]:
        """Numbers (3k,) of the steps up and down of some stays."""
        m = self.edge.size
        up = [c * m + x.first for x in chosen for c in range(3)]
        down = [c * m + x.last for x in chosen for c in range(3)]
        return np.array(up, dtype=np.intp), np.array(down, dtype=np.intp)

    def given(self, chosen: list[Interval]) -> Known:
        """What is left once ``chosen`` are known of, each unknown by its law."""
        if not chosen:
            return self.none
        return self.resolved(*self.columns(chosen), *self._priors(chosen))

    def resolved(self, up: Index, down: Index, precision: Vector, toward: Vector) -> Known:
        """What is left once steps ``up`` and ``down`` (k,) of unknown size with that prior are integrated out (Woodbury)."""
        n = self.none
        seen = n.matrix[:, up] - n.matrix[:, down]
        covariance = np.linalg.inv(seen[up] - seen[down] + precision)
        best = covariance @ (n.pull[up] - n.pull[down] + toward)
        gain = n.gain[:, up] - n.gain[:, down]
        weighed = covariance @ seen.T
        return Known(
            n.matrix - seen @ weighed,
            n.pull - seen @ best,
            n.gain - gain @ weighed,
            gain @ best,
            gain @ covariance @ gain.T,
        )

    def weighed(self, known: Known) -> Weighed:
        """Information on the unknowns of every interval, entry by entry (q,), and the data's pull on them (3, q)."""
        m = self.edge.size
        at, blocks = self.first * m + self.last, known.matrix.reshape(3, m, 3, m)
        info = {}
        for x, y in combinations_with_replacement(range(3), 2):
            block = blocks[x, :, y]
            here = np.diagonal(block)
            info[x, y] = (here[:, None] - block - block.T + here).ravel()[at]
        steps = known.pull.reshape(3, m)
        pull = steps[:, self.first] - steps[:, self.last]
        return Weighed(info, pull)

    def moments(self, known: Known, seen: Weighed, at: Index, law: Index) -> tuple[Vector, Vector, Vector]:
        """Of some intervals with their laws: unknowns (k, 3), covariance (k, 3, 3), and how they move the parameters (k, p, 3)."""
        info, pull = seen
        total = np.empty((at.size, 3, 3))
        for (x, y), entries in info.items():
            total[:, x, y] = total[:, y, x] = entries[at]
        precision = np.array([one.precision for one in self.laws])[law]
        mean = np.array([one.mean for one in self.laws])[law]
        covariance = np.linalg.inv(total + precision)
        toward = pull[:, at].T + np.einsum("kij,kj->ki", precision, mean)
        m = self.edge.size
        block = known.gain.reshape(-1, 3, m)
        moved = block[:, :, self.first[at]] - block[:, :, self.last[at]]
        return np.einsum("kij,kj->ki", covariance, toward), covariance, moved.transpose(2, 0, 1)

    def log_odds(self, seen: Weighed, least: float) -> Vector:
        """Log odds (laws, q) of one more stay on every interval, −∞ where it would take less than ``least`` [m/s]."""
        return np.stack([_log_odds(*seen, law, least) for law in self.laws]) + self.log_prior

    def told(self, chosen: list[Interval]) -> tuple[Vector, Vector]:
        """Information (3k, 3k) of the data on the unknowns of some stays, and their pull (3k,)."""
        up, down = self.columns(chosen)
        m = self.none.matrix
        information = m[np.ix_(up, up)] - m[np.ix_(up, down)] - m[np.ix_(down, up)] + m[np.ix_(down, down)]
        return information, self.none.pull[up] - self.none.pull[down]

    def evidence(self, chosen: list[Interval]) -> float:
        """Log odds of a set of stays against none."""
        if not chosen:
            return 0.0
        information, pull = self.told(chosen)
        precision, toward = self._priors(chosen)
        total, pull = information + precision, pull + toward
        gain = pull @ np.linalg.solve(total, pull) - np.linalg.slogdet(total)[1]
        prior = [self.log_prior[self.number[x.first, x.last]] for x in chosen]
        prior += [one.log_share - 0.5 * one.offset for one in (self.laws[x.law] for x in chosen)]
        return float(0.5 * gain + sum(prior))

    @cached_property
    def number(self) -> Index:
        """Which interval begins and ends at two edges (m, m), −1 for none."""
        m = self.edge.size
        table = np.full((m, m), -1, dtype=np.intp)
        table[self.first, self.last] = np.arange(self.first.size)
        return table

    def _priors(self, chosen: list[Interval]) -> tuple[Vector, Vector]:
        precision, toward = np.zeros((3 * len(chosen), 3 * len(chosen))), np.zeros(3 * len(chosen))
        for j, x in enumerate(chosen):
            at = slice(3 * j, 3 * j + 3)
            precision[at, at], toward[at] = self.laws[x.law].precision, self.laws[x.law].toward
        return precision, toward


def _log_odds(info: dict[tuple[int, int], Vector], pull: Vector, law: Law, least: float) -> Vector:
    """Normal evidence of three unknowns against none; the factors L D Lᵀ of a matrix of three, written out for all intervals at once."""
    p, toward = law.precision, law.toward
    a, b, c = (info[0, y] + p[0, y] for y in range(3))
    d, e, f = info[1, 1] + p[1, 1], info[1, 2] + p[1, 2], info[2, 2] + p[2, 2]
    y0, y1, y2 = (pull[i] + toward[i] for i in range(3))
    l10, l20 = b / a, c / a
    d1, low = d - b * l10, e - b * l20
    l21 = low / d1
    d2 = f - c * l20 - low * l21
    y1 = y1 - l10 * y0
    y2 = y2 - l20 * y0 - l21 * y1
    x2 = y2 / d2
    x1 = y1 / d1 - l21 * x2
    air = y0 / a - l10 * x1 - l20 * x2
    gain = y0 * y0 / a + y1 * y1 / d1 + y2 * x2
    narrower = np.log(a * d1 * d2) + law.offset
    return np.where(air < -least, 0.5 * (gain - narrower) + law.log_share, -np.inf)
