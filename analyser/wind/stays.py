"""Stretches flown slower than sink and turns let expect: brakes held, wherever that may be, and what is not known of them.

Brakes go on and off at unknown moments: a process of unknown many stays. Which set of stays it was is drawn from its
posterior, one stay at a time given the others (Gibbs sampling; Geman & Geman 1984), from all intervals and kinds at once
(:mod:`analyser.wind.steps`). The likeliest set drawn goes into the fit; over all of them the fit is averaged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.wind.covariance import exponential, node_noise
from analyser.wind.marginal import TURN_S, Marginal, marginal
from analyser.wind.model import Model, linearise
from analyser.wind.priors import Priors
from analyser.wind.samples import Samples
from analyser.wind.solve import State, middle_wiggle, scale_grid
from analyser.wind.stay import Stay
from analyser.wind.steps import Index, Interval, Known, Steps, Weighed, laws, shapes
from analyser.wind.turning import in_turn, turn_rate

__all__ = ["Spread", "find_stays", "over_stays"]

Vector = NDArray[np.float64]

SHORTEST_S, LONGEST_S = 4.0, 80.0
# Ours: a stay takes at least this share of the trim airspeed.
LEAST_SHARE = 0.03
# Ours: errors of the sink: moving air [m/s, s], its level [m/s], white [m/s]; of sink and airspeed in turns [m/s].
AIR_MPS, AIR_S, LEVEL_MPS, WHITE_MPS = 0.3, 12.0, 0.3, 0.15
TURN_SINK_MPS, TURN_AIR_MPS = 20.0, 0.5
# How many times a stay is drawn anew: to find a set, and to average over them (ours: more changes the wind by hundredths).
FIND_DRAWS, OVER_DRAWS = 16, 24
NEGLIGIBLE = 1e-3
LEAST_LEFT = 0.5
SEED = 1


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """By how much the parameters lie elsewhere on average (p,), and their covariance (p, p), over all sets of stays."""

    mean: Vector
    covariance: Vector


def find_stays(model: Model, state: State) -> tuple[Stay, ...]:
    """The likeliest set of stays of a flight that sinks, from the linearisation at the state; a stretch of the error covariance at a time."""
    if not model.brakes:
        return ()
    found: list[Stay] = []
    for steps in _all_steps(model, state):
        drawn = _Draws(steps, LEAST_SHARE * float(state.theta[2 * model.size]), average=False)
        drawn.run(FIND_DRAWS)
        found += [_as_stay(steps, one) for one in sorted(drawn.best)]
    return tuple(found)


def over_stays(model: Model, state: State, stays: tuple[Stay, ...], covariance: Vector) -> Spread | None:
    """The average over sets of stays, beside the fit that has just ``stays`` and this ``covariance`` (p, p); None for what does not sink."""
    if not model.brakes:
        return None
    root = np.linalg.cholesky(covariance)
    moved, wider = np.zeros(covariance.shape[0]), np.zeros_like(covariance)
    for steps in _all_steps(model, state):
        start = [at for at in (_as_interval(steps, stay) for stay in stays) if at is not None]
        drawn = _Draws(steps, LEAST_SHARE * float(state.theta[2 * model.size]), start)
        drawn.run(OVER_DRAWS)
        over, had = drawn.spread(), _fitted(steps, stays)
        moved += over.mean - had.mean
        wider += over.covariance - had.covariance
    half = np.linalg.solve(root, np.linalg.solve(root, wider).T)
    size, axes = np.linalg.eigh(0.5 * (half + half.T))
    kept = (axes * np.maximum(size, LEAST_LEFT - 1.0)) @ axes.T
    return Spread(moved, root @ (np.eye(size.size) + kept) @ root.T)


class _Slot(NamedTuple):
    """What may stand beside some stays: running sums of the ``weight`` of every interval and law in turn, the weight of ``none``, the ``total``;
    the likeliest set with its ``score``; mean and covariance of the parameters over all of it, where asked for."""

    weight: Vector
    none: float
    total: float
    likeliest: list[Interval]
    score: float
    moments: tuple[Vector, Vector] | None


class _Draws:
    """A chain of sets of stays on one stretch; a slot is the same whenever the other stays are, so each is weighed once."""

    def __init__(
        self, steps: Steps, least: float, start: Iterable[Interval] = (), *, average: bool = True
    ) -> None:
        self.steps, self.least, self.now, self.average = steps, least, tuple(start), average
        self.random = np.random.default_rng(SEED)
        self.slots: dict[tuple[Interval, ...], _Slot] = {}
        self.each: list[_Slot] = []

    def run(self, draws: int) -> None:
        """Draw one of the stays anew, or try one more, so many times."""
        for _ in range(draws):
            self._draw(int(self.random.integers(len(self.now) + 1)))

    def _draw(self, number: int) -> None:
        rest = (*self.now[:number], *self.now[number + 1 :])
        if rest not in self.slots:
            self.slots[rest] = self._slot(list(rest))
        slot = self.slots[rest]
        self.each.append(slot)
        pick = self.random.random() * slot.total
        self.now = rest
        if pick >= slot.none:
            at = min(int(np.searchsorted(slot.weight, pick - slot.none)), slot.weight.size - 1)
            self.now = (*rest, self._interval(at))

    def _slot(self, rest: list[Interval]) -> _Slot:
        known = self.steps.given(rest)
        seen = self.steps.weighed(known)
        odds = np.where(self._free(rest), self.steps.log_odds(seen, self.least), -np.inf).ravel()
        # of k + 1 choices one adds a stay, of k + 2 one takes it away again: so that both ways are walked alike
        odds += np.log((len(rest) + 1.0) / (len(rest) + 2.0))
        top = max(0.0, float(odds.max()))
        weight, none = np.exp(odds - top), float(np.exp(-top))
        total = float(weight.sum()) + none
        likeliest = int(np.argmax(odds))
        best = [*rest, self._interval(likeliest)] if odds[likeliest] > 0.0 else rest
        moments = self._moments(known, seen, weight / total) if self.average else None
        return _Slot(np.cumsum(weight), none, total, best, self.steps.evidence(best), moments)

    def _interval(self, at: int) -> Interval:
        law, which = divmod(at, self.steps.first.size)
        return Interval(int(self.steps.first[which]), int(self.steps.last[which]), law)

    def _free(self, rest: list[Interval]) -> NDArray[np.bool_]:
        taken = np.zeros(self.steps.edge.size, dtype=np.intp)
        for one in rest:
            taken[one.first : one.last + 1] = 1
        before = np.concatenate([[0], np.cumsum(taken)])
        return np.asarray(before[self.steps.last + 1] == before[self.steps.first])

    def _moments(self, known: Known, seen: Weighed, share: Vector) -> tuple[Vector, Vector]:
        """Mean and covariance of the parameters over what a slot may hold (Rao & Blackwell: better than the one drawn)."""
        kept: Index = np.flatnonzero(share > NEGLIGIBLE)
        if not kept.size:
            return known.mean, known.covariance
        law, at = np.divmod(kept, self.steps.first.size)
        unknown, covariance, moved = self.steps.moments(known, seen, at, law)
        p = share[kept]
        shift = np.einsum("kpi,ki->kp", moved, unknown)
        mean = p @ shift
        root = np.linalg.cholesky(covariance) * np.sqrt(p)[:, None, None]
        spread = np.einsum("kpi,kij->pkj", moved, root).reshape(mean.size, -1)
        wide = known.covariance + spread @ spread.T + (shift.T * p) @ shift - np.outer(mean, mean)
        return known.mean + mean, wide

    @property
    def best(self) -> list[Interval]:
        """The likeliest set that was seen: that of some stays, with the likeliest one beside them."""
        return max(self.each, key=lambda slot: slot.score).likeliest

    def spread(self) -> Spread:
        """Over everything drawn."""
        means, covariances = zip(*(slot.moments for slot in self.each if slot.moments is not None))
        away = np.array(means) - (mean := np.mean(means, axis=0))
        return Spread(mean, np.mean(covariances, axis=0) + away.T @ away / len(away))


def _all_steps(model: Model, state: State) -> list[Steps]:
    """Steps of every stretch, with the gain of the parameters on each."""
    n, point = len(model.samples), linearise(model, state.theta)
    v = float(state.theta[2 * model.size])
    turning = in_turn(model.samples.t_s, turn_rate(model.samples, point.heading), point.speed)
    usual = scale_grid(model, state.theta)[0]
    bare = replace(model, stays=())
    away = np.clip(point.corrected_sink - point.reference, -3.0, 3.0)
    found = []
    for seen in marginal(
        bare, state, point, usual, middle_wiggle(model), np.zeros(n), TURN_AIR_MPS * turning
    ):
        samples = model.samples.part(seen.part)
        edge, air, sink = shapes(samples, (point.chord * model.rho)[seen.part], model.priors, v)
        first, last = _intervals(edge)
        if first.size:
            q, f = _sink_seen(samples, away[seen.part], TURN_SINK_MPS * turning[seen.part], model.priors)
            odds = _log_prior(edge, first, last, model.priors)
            found.append(
                Steps(edge, _unexplained(seen, air, sink, q, f), laws(model.priors, v), first, last, odds)
            )
    return found


def _unexplained(seen: Marginal, air: Vector, sink: Vector, q: Vector, f: Vector) -> Known:
    m, p = air.shape[1], seen.gain.shape[0]
    matrix = np.zeros((3 * m, 3 * m))
    matrix[:m, :m] = air.T @ seen.p @ air
    matrix[m:, m:] = sink.T @ q @ sink
    gain = np.hstack([seen.gain @ air, np.zeros((p, 2 * m))])
    return Known(matrix, np.concatenate([air.T @ seen.u, sink.T @ f]), gain, np.zeros(p), np.zeros((p, p)))


def _intervals(edge: Vector) -> tuple[Index, Index]:
    long = edge[None, :] - edge[:, None]
    first, last = np.nonzero((long >= SHORTEST_S) & (long <= LONGEST_S))
    return first, last


def _log_prior(edge: Vector, first: Index, last: Index, priors: Priors) -> Vector:
    """Log prior (q,) of a stay on every interval: one begins every ``stay_every_s``, its length mixes two exponential laws; the last may go on beyond the end, the first have begun before."""
    long, width = edge[last] - edge[first], np.gradient(edge)
    means = np.array(priors.stay_lengths_s)
    fading = np.exp(-long[:, None] / means)
    survives, ends = fading.mean(axis=1), (fading / means).mean(axis=1)
    begin = np.where(
        first == 0, means.mean() / (priors.stay_every_s + means.mean()), width[first] / priors.stay_every_s
    )
    return np.asarray(np.log(begin) + np.log(np.where(last == edge.size - 1, survives, width[last] * ends)))


def _as_stay(steps: Steps, one: Interval) -> Stay:
    """As the fit takes it: its airspeed as far as the sink alone tells it, for the airspeed is the fit's to find."""
    law = steps.laws[one.law]
    sink, pull = steps.told([one])
    # all but the airspeed's own entry: it is not tied to the others but by the law
    sink[0, 0], pull[0] = 0.0, 0.0
    covariance = np.linalg.inv(sink + law.precision)
    mean = covariance @ (pull + law.toward)
    begin, end = float(steps.edge[one.first]), float(steps.edge[one.last])
    return Stay(begin, end, float(mean[0]), float(np.sqrt(covariance[0, 0])))


def _as_interval(steps: Steps, stay: Stay) -> Interval | None:
    """The interval of a stay, if it lies on this stretch."""
    if stay.stop_s <= steps.edge[0] or stay.start_s >= steps.edge[-1]:
        return None
    first, last = (int(np.argmin(np.abs(steps.edge - t))) for t in (stay.start_s, stay.stop_s))
    known = (steps.first == first) & (steps.last == last)
    return Interval(first, last, 0) if known.any() else None


def _fitted(steps: Steps, stays: tuple[Stay, ...]) -> Known:
    """What the stays of the fit, each of its own mean and sd, have moved."""
    both = [(stay, at) for stay in stays if (at := _as_interval(steps, stay)) is not None]
    if not both:
        return steps.none
    up = np.array([at.first for _, at in both], dtype=np.intp)
    down = np.array([at.last for _, at in both], dtype=np.intp)
    precision = np.array([stay.sd**-2 for stay, _ in both])
    mean = np.array([stay.mean for stay, _ in both])
    return steps.resolved(up, down, np.diag(precision), precision * mean)


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
