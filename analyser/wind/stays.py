"""Stretches flown slower than the sink lets expect: brakes held, wherever that may be.

A stretch adds three unknowns to the flight: what it takes from the airspeed, what it changes of the sink, and how much height the
speed given up is worth (a canopy pulled into brakes rises, and dives when they are released). With the inverse
covariances of airspeed residuals and sink at hand, every one of which an interval is the difference of two steps, the
evidence of all intervals comes from matrix products at once. They are taken greedily, the best first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyser.wind.covariance import exponential, node_noise
from analyser.wind.marginal import TURN_S, marginal, without
from analyser.wind.model import Model, linearise
from analyser.wind.priors import Priors
from analyser.wind.samples import Samples
from analyser.wind.solve import State, middle_wiggle, scale_grid
from analyser.wind.stay import Stay, answer
from analyser.wind.turning import G, in_turn, turn_rate

__all__ = ["find_stays"]

Vector = NDArray[np.float64]

SHORTEST_S, LONGEST_S = 4.0, 80.0
MOST = 10
# Ours: longer ones may be two with a pause between them.
MAY_BE_TWO_S = 24.0
# Ours: a stay takes at least this share of the trim airspeed.
LEAST_SHARE = 0.03
# Ours: errors of the sink: moving air [m/s, s], its level [m/s], white [m/s]; of sink and airspeed in turns [m/s].
AIR_MPS, AIR_S, LEVEL_MPS, WHITE_MPS = 0.3, 12.0, 0.3, 0.15
TURN_SINK_MPS, TURN_AIR_MPS = 3.0, 1.5
TOGETHER = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class _Law:
    """Prior of a kind of stay: airspeed, sink, rise [m/s]: ``mean`` (3,), ``covariance`` (3, 3), its inverse, log odds."""

    mean: Vector
    covariance: Vector
    precision: Vector
    log_odds: float


def _laws(priors: Priors, v: float) -> list[_Law]:
    found = []
    for share, share_sd, sink, sink_sd, log_odds in priors.stays:
        for energy, odds in priors.stay_energy:
            air, so = share * v, share_sd * v
            rise_sd = abs(air) * 0.4 * max(energy, 0.4)
            joint = TOGETHER * so * sink_sd
            covariance = np.array(
                [
                    [so**2, joint, energy * so**2],
                    [joint, sink_sd**2, energy * joint],
                    [energy * so**2, energy * joint, (energy * so) ** 2 + rise_sd**2],
                ]
            )
            mean = np.array([air, sink, energy * air])
            found.append(_Law(mean, covariance, np.linalg.inv(covariance), log_odds + odds))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What is left to explain: inverse covariances of airspeed residuals ``p`` and sink ``q`` (n, n), each also times its data."""

    p: Vector
    u: Vector
    q: Vector
    f: Vector


@dataclass(frozen=True, slots=True)
class _Found:
    first: int
    stop: int
    mean: float
    sd: float
    law: int


class _Search:
    """All intervals between the edges of the samples, and what a step at each edge would do to airspeed and sink."""

    def __init__(self, samples: Samples, weight: Vector, priors: Priors, v: float) -> None:
        self.samples = s = samples
        start, stop = s.t_s - 0.5 * s.dt_s, s.t_s + 0.5 * s.dt_s
        self.edge = np.append(start, stop[-1])
        self.least = LEAST_SHARE * v
        self.laws = _laws(priors, v)
        since = s.t_s[:, None] - self.edge
        self.step = answer(since, priors) * weight[:, None]
        gained = answer(stop[:, None] - self.edge, priors) - answer(start[:, None] - self.edge, priors)
        self.rise = gained / s.dt_s[:, None] * (v / G)
        self.sink = 1.0 - np.exp(-np.maximum(since, 0.0) / priors.sink_lag_s)
        long = self.edge[None, :] - self.edge[:, None]
        self.first, self.last = np.nonzero((long >= SHORTEST_S) & (long <= LONGEST_S))

    def _square(self, m: Vector) -> Vector:
        i, k, d = self.first, self.last, np.diagonal(m)
        return np.asarray(d[i] + d[k] - m[i, k] - m[k, i])

    def _linear(self, x: Vector) -> Vector:
        return np.asarray(x[self.first] - x[self.last])

    def weighed(self, seen: _Seen) -> tuple[Vector, Vector]:
        """Information (m, 3, 3) of every interval on airspeed, sink and rise, and the data's pull on them (m, 3)."""
        info = np.zeros((self.first.size, 3, 3))
        info[:, 0, 0] = self._square(self.step.T @ seen.p @ self.step)
        qs, qr = seen.q @ self.sink, seen.q @ self.rise
        info[:, 1, 1] = self._square(self.sink.T @ qs)
        info[:, 2, 2] = self._square(self.rise.T @ qr)
        info[:, 1, 2] = info[:, 2, 1] = self._square(self.sink.T @ qr)
        pulls = (self.step.T @ seen.u, self.sink.T @ seen.f, self.rise.T @ seen.f)
        return info, np.stack([self._linear(x) for x in pulls], axis=1)

    def scores(self, info: Vector, pull: Vector, sign: float = 1.0) -> tuple[Vector, NDArray[np.intp]]:
        """Log odds (m,) of a stay on every interval, of the likeliest kind, and which that is; ``sign`` −1 for a pause in one."""
        each = []
        for law in self.laws:
            toward = pull + law.precision @ (sign * law.mean)
            total = info + law.precision
            best = np.linalg.solve(total, toward[:, :, None])[:, :, 0]
            narrower = np.linalg.slogdet(total)[1] - np.linalg.slogdet(law.precision)[1]
            gain = np.sum(best * toward, axis=1) - law.mean @ law.precision @ law.mean
            each.append(
                np.where(-sign * best[:, 0] > self.least, 0.5 * (gain - narrower) + law.log_odds, -np.inf)
            )
        table = np.stack(each)
        which = np.argmax(table, axis=0)
        return table[which, np.arange(which.size)], which

    def found(self, at: int, law: int, info: Vector, pull: Vector) -> _Found:
        """The interval ``at`` as a stay, its airspeed as far as the sink alone tells it: the airspeed is the fit's to find."""
        prior = self.laws[law]
        sink_only = info[at].copy()
        sink_only[0, 0] = 0.0
        covariance = np.linalg.inv(sink_only + prior.precision)
        mean = covariance @ (np.array([0.0, *pull[at, 1:]]) + prior.precision @ prior.mean)
        sd = float(np.sqrt(covariance[0, 0]))
        return _Found(int(self.first[at]), int(self.last[at]), float(mean[0]), sd, law)

    def explained(self, seen: _Seen, one: _Found) -> _Seen:
        """What is left to explain once a stay is known of."""
        a, b, law = one.first, one.stop, self.laws[one.law]
        step = (self.step[:, a] - self.step[:, b])[:, None]
        p, u = without(seen.p, seen.u, step, np.array([one.mean]), np.array([[one.sd**2]]))
        columns = np.stack([self.sink[:, a] - self.sink[:, b], self.rise[:, a] - self.rise[:, b]], axis=1)
        q, f = without(seen.q, seen.f, columns, law.mean[1:], law.covariance[1:, 1:])
        return _Seen(p, u, q, f)

    def greedy(self, seen: _Seen) -> list[_Found]:
        """Stays that do not touch, the best first, as long as there is one more likely than not."""
        found: list[_Found] = []
        taken = np.zeros(self.edge.size, dtype=bool)
        while len(found) < MOST:
            info, pull = self.weighed(seen)
            score, which = self.scores(info, pull)
            before = np.concatenate([[0], np.cumsum(taken)])
            score = np.where(before[self.last + 1] == before[self.first], score, -np.inf)
            at = int(np.argmax(score))
            if not score[at] > 0.0:
                break
            found.append(self.found(at, int(which[at]), info, pull))
            taken[found[-1].first : found[-1].stop + 1] = True
            seen = self.explained(seen, found[-1])
        return found

    def parted(self, seen: _Seen, found: list[_Found]) -> list[_Found]:
        """Long stays in two where a pause in them is more likely than not: greed takes two neighbours for one."""
        left: _Seen | None = None
        out = []
        for one in found:
            if self.edge[one.stop] - self.edge[one.first] >= MAY_BE_TWO_S:
                left = left or _all_explained(self, seen, found)
                info, pull = self.weighed(left)
                score, _ = self.scores(info, pull, sign=-1.0)
                inside = (self.first > one.first + 1) & (self.last < one.stop - 1)
                at = int(np.argmax(np.where(inside, score, -np.inf)))
                if inside[at] and score[at] > 0.0:
                    out.append(replace(one, stop=int(self.first[at])))
                    out.append(replace(one, first=int(self.last[at])))
                    continue
            out.append(one)
        return out

    def stays(self, found: list[_Found]) -> list[Stay]:
        """As the fit takes them."""
        return [Stay(float(self.edge[f.first]), float(self.edge[f.stop]), f.mean, f.sd) for f in found]


def _all_explained(search: _Search, seen: _Seen, found: list[_Found]) -> _Seen:
    for one in found:
        seen = search.explained(seen, one)
    return seen


def find_stays(model: Model, state: State) -> tuple[Stay, ...]:
    """Stays in brakes of a flight that sinks, from the linearisation at the state; a stretch of the error covariance at a time."""
    if not model.brakes:
        return ()
    n, point = len(model.samples), linearise(model, state.theta)
    v = float(state.theta[2 * model.size])
    turning = in_turn(model.samples.t_s, turn_rate(model.samples, point.heading), point.speed)
    usual = scale_grid(model, state.theta)[0]
    pieces = marginal(model, state, usual, middle_wiggle(model), np.zeros(n), TURN_AIR_MPS * turning)
    found: list[Stay] = []
    for air in pieces:
        search = _Search(model.samples.part(air.part), (point.chord * model.rho)[air.part], model.priors, v)
        if search.first.size:
            away = np.clip(point.corrected_sink - point.reference, -3.0, 3.0)[air.part]
            sink = _sink_seen(search.samples, away, TURN_SINK_MPS * turning[air.part], model.priors)
            seen = _Seen(air.p, air.u, *sink)
            found += search.stays(search.parted(seen, search.greedy(seen)))
    return tuple(found)


def _sink_seen(samples: Samples, away: Vector, doubt: Vector, priors: Priors) -> tuple[Vector, Vector]:
    """Inverse covariance (n, n) of the sink ``away`` (n,) from full flight, whose level is not exactly known, and the same times the sink."""
    c = node_noise(samples, samples.height_sd_m, np.ones(max(len(samples) - 1, 0)))
    c[np.diag_indices_from(c)] += priors.sink_drift**2 / samples.dt_s + WHITE_MPS**2
    c += AIR_MPS**2 * exponential(samples.t_s, AIR_S)
    c += doubt[:, None] * doubt * exponential(samples.t_s, TURN_S)
    inverse = np.asarray(np.linalg.inv(c), dtype=np.float64)
    one = inverse.sum(axis=1)
    q = inverse - np.outer(one, one) / (one.sum() + 1.0 / LEVEL_MPS**2)
    return q, q @ away
