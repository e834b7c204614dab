"""Stays in brakes: their evidence against SciPy's normal law, the draws against counting every set, and brakes that were planted."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal
from worlds.families import make_jump

from analyser.phases import find_phases
from analyser.track import build_track
from analyser.wind.estimate import estimate_wind
from analyser.wind.priors import Priors
from analyser.wind.stays import _as_stay, _Draws
from analyser.wind.steps import Interval, Known, Law, Steps

N, P = 12, 3
LEAST = 0.3


class Problem:
    """A short flight of its own: steps at 13 edges in airspeed, sink and rise, white errors, three parameters that an airspeed moves."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        edge = 2.0 * np.arange(N + 1)
        since = edge[:-1, None] + 1.0 - edge
        up = np.where(since > 0.0, 1.0 - np.exp(-np.maximum(since, 0.0) / 2.0), 0.0)
        rise = np.where(since > 0.0, np.exp(-np.maximum(since, 0.0) / 2.0), 0.0)
        self.air, self.sink = up, np.hstack([up, rise])
        self.noise_air, self.noise_sink = 0.8, 0.9
        self.r, self.s = rng.normal(0.0, 1.2, N), rng.normal(0.0, 1.0, N)
        self.r[4:8] -= 2.0
        self.gain = rng.normal(0.0, 0.2, (P, N))
        one = Law(np.array([-2.0, -0.3, -1.0]), np.linalg.inv(np.diag([1.0, 0.3, 0.8])), float(np.log(0.6)))
        two = Law(np.array([-1.0, 0.2, 0.0]), np.linalg.inv(np.diag([0.5, 0.4, 0.3])), float(np.log(0.4)))
        first, last = np.nonzero((edge - edge[:, None] >= 4.0) & (edge - edge[:, None] <= 12.0))
        log_prior = -2.5 - 0.1 * (edge[last] - edge[first])
        m = edge.size
        matrix = np.zeros((3 * m, 3 * m))
        matrix[:m, :m] = self.air.T @ self.air / self.noise_air**2
        matrix[m:, m:] = self.sink.T @ self.sink / self.noise_sink**2
        pull = np.concatenate(
            [self.air.T @ self.r / self.noise_air**2, self.sink.T @ self.s / self.noise_sink**2]
        )
        gain = np.hstack([self.gain @ self.air, np.zeros((P, 2 * m))])
        none = Known(matrix, pull, gain, np.zeros(P), np.zeros((P, P)))
        self.steps = Steps(edge, none, [one, two], first, last, log_prior)

    def direct(self, chosen: list[Interval]) -> tuple[float, np.ndarray]:
        """Log odds by the density of the data, and the mean of what the stays move, by the covariance of everything."""
        m, noise = N + 1, np.concatenate([np.full(N, self.noise_air**2), np.full(N, self.noise_sink**2)])
        data, mean, cov = np.concatenate([self.r, self.s]), np.zeros(2 * N), np.diag(noise)
        moved, odds = np.zeros((P, 2 * N)), 0.0
        for one in chosen:
            columns = np.zeros((2 * N, 3))
            columns[:N, 0] = self.air[:, one.first] - self.air[:, one.last]
            for c in (0, 1):
                columns[N:, 1 + c] = self.sink[:, c * m + one.first] - self.sink[:, c * m + one.last]
            law = self.steps.laws[one.law]
            own = np.linalg.inv(law.precision)
            mean, cov = mean + columns @ law.mean, cov + columns @ own @ columns.T
            moved += self.gain @ columns[:N] @ own @ columns.T
            at = (self.steps.first == one.first) & (self.steps.last == one.last)
            odds += float(self.steps.log_prior[at][0]) + law.log_share
        odds += multivariate_normal(mean, cov).logpdf(data)
        odds -= multivariate_normal(np.zeros(2 * N), np.diag(noise)).logpdf(data)
        prior = self.gain @ sum(
            (self.air[:, x.first] - self.air[:, x.last]) * self.steps.laws[x.law].mean[0] for x in chosen
        )
        return odds, prior + moved @ np.linalg.solve(cov, data - mean)


@pytest.mark.parametrize(
    "chosen", [[(2, 6, 0)], [(4, 8, 1)], [(0, 3, 0), (5, 9, 1)], [(1, 4, 1), (6, 12, 0)]]
)
def test_evidence_and_gain_are_those_of_the_normal_law(chosen: list[tuple[int, int, int]]) -> None:
    """Against the density of SciPy, with the covariance of data and stays written out."""
    problem = Problem(3)
    some = [Interval(*c) for c in chosen]
    odds, moved = problem.direct(some)
    assert problem.steps.evidence(some) == pytest.approx(odds, abs=1e-8)
    assert problem.steps.given(some).mean == pytest.approx(moved, abs=1e-8)
    rest, last = some[:-1], some[-1]
    table = problem.steps.log_odds(problem.steps.weighed(problem.steps.given(rest)), -np.inf)
    more = table[last.law, problem.steps.number[last.first, last.last]]
    assert more == pytest.approx(odds - (problem.direct(rest)[0] if rest else 0.0), abs=1e-8)


@pytest.mark.parametrize("chosen", [(2, 6, 0), (4, 8, 1), (0, 3, 1)])
def test_the_speed_of_a_stay_is_what_the_sink_alone_tells(chosen: tuple[int, int, int]) -> None:
    """Against the conditional normal law of stay and sinks, with the covariance of both written out; what the airspeed shows has no say."""
    problem, one, m = Problem(3), Interval(*chosen), N + 1
    steps = problem.steps
    law = steps.laws[one.law]
    own = np.linalg.inv(law.precision)
    own[0, 1] = own[1, 0] = 0.3
    own[0, 2] = own[2, 0] = -0.2
    tied = Law(law.mean, np.linalg.inv(own), law.log_share)
    columns = np.zeros((N, 3))
    for c in (0, 1):
        columns[:, 1 + c] = problem.sink[:, c * m + one.first] - problem.sink[:, c * m + one.last]
    cov = columns @ own @ columns.T + problem.noise_sink**2 * np.eye(N)
    weight = own @ columns.T @ np.linalg.inv(cov)
    mean = law.mean + weight @ (problem.s - columns @ law.mean)
    left = own - weight @ columns @ own
    laws = [tied if i == one.law else each for i, each in enumerate(steps.laws)]
    stay = _as_stay(Steps(steps.edge, steps.none, laws, steps.first, steps.last, steps.log_prior), one)
    assert (stay.start_s, stay.stop_s) == (steps.edge[one.first], steps.edge[one.last])
    assert stay.mean == pytest.approx(float(mean[0]), abs=1e-9)
    assert stay.sd == pytest.approx(float(np.sqrt(left[0, 0])), abs=1e-9)


def sets_of(steps: Steps, after: int = -1) -> list[list[Interval]]:
    """Every set of stays that do not touch, from an edge on."""
    sets: list[list[Interval]] = [[]]
    for a, b in zip(steps.first.tolist(), steps.last.tolist()):
        if a > after:
            sets += [[Interval(a, b, law), *more] for more in sets_of(steps, b) for law in (0, 1)]
    return sets


def test_draws_average_as_counting_every_set_does() -> None:
    """In 24 seconds there is room for four stays: every set is counted, and the draws find the same mean and covariance of the parameters."""
    problem = Problem(5)
    steps = problem.steps
    drawn = _Draws(steps, -np.inf)
    drawn.run(3000)
    got = drawn.spread()
    every = sets_of(steps)
    assert len(every) > 1000
    weight = np.exp([steps.evidence(s) for s in every])
    weight /= weight.sum()
    known = [steps.given(s) for s in every]
    mean = weight @ np.array([k.mean for k in known])
    away = np.array([k.mean for k in known]) - mean
    cov = np.einsum("s,sij->ij", weight, np.array([k.covariance for k in known])) + (away.T * weight) @ away
    spread = np.sqrt(np.diag(cov))
    assert np.all(np.abs(got.mean - mean) < 0.1 * spread)
    assert got.covariance == pytest.approx(cov, abs=0.1 * float(np.abs(cov).max()))
    assert sorted(drawn.best) == sorted(max(every, key=steps.evidence))


@pytest.mark.slow
def test_planted_brakes_are_found_and_the_same_input_gives_the_same_bytes() -> None:
    """A wing by other authors' equations that is flown in brakes for long: a good part of that time is told, little else."""
    told = flown = outside = 0.0
    for seed in (7, 8, 11, 12, 14):
        jump = make_jump("glider", seed)
        track = build_track(jump.recording)
        canopy = find_phases(track).canopy()
        assert canopy is not None
        found = estimate_wind(track, canopy.start, canopy.stop)
        again = estimate_wind(track, canopy.start, canopy.stop)
        assert found.profile.covariance.tobytes() == again.profile.covariance.tobytes()
        t = found.t_s
        truth = jump.truth.t_utc_s - track.start_utc_s + jump.truth.latency_s
        deep = np.interp(t, truth, jump.truth.brake) > 0.3
        inside = np.zeros(t.size, dtype=bool)
        for stay in found.stays:
            inside |= (t > stay.start_s) & (t < stay.stop_s)
        told, flown, outside = (
            told + np.sum(inside & deep),
            flown + np.sum(deep),
            outside + np.mean(inside & ~deep),
        )
    assert flown > 30
    assert told > 0.5 * flown
    assert outside / 5 < 0.25


def test_no_brakes_are_sought_where_none_are_likely() -> None:
    """With a stay once in years none is found."""
    jump = make_jump("ours", 12)
    track = build_track(jump.recording)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    assert estimate_wind(track, canopy.start, canopy.stop, priors=Priors(stay_every_s=1e12)).stays == ()
