"""find_settled: the moment from which the canopy flight counts, against descents whose release is known."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from made_tracks import track_of
from scipy import stats
from worlds.openings import Opened, opened_jump

from analyser.phases import find_phases
from analyser.phases.air import _Problem, _proposed
from analyser.phases.settled import Settled, _later, _nearest, find_settled
from analyser.phases.thresholds import PHASES
from analyser.phases.uncounted import stretches_that_do_not_count
from analyser.synthetic.scenario import record_jump
from analyser.track import build_track

SEEDS = range(51_000, 51_024)


def found_in(jump: Opened) -> tuple[Settled, float]:
    """What is found, and how much later than the truth [s]."""
    track = build_track(jump.recording)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    settled = find_settled(track, canopy.start, canopy.stop)
    return settled, settled.settled_s + track.start_utc_s - jump.recovered_s


@pytest.fixture(scope="module")
def drawn() -> list[tuple[Settled, float]]:
    return [found_in(opened_jump(seed)) for seed in SEEDS]


def test_brakes_stowed_for_3_to_30_s_are_found(drawn: list[tuple[Settled, float]]) -> None:
    late = np.array([error for _, error in drawn])
    assert np.median(np.abs(late)) < 2.0
    assert np.mean(np.abs(late) < 5.0) > 0.85


def test_the_standard_deviation_holds(drawn: list[tuple[Settled, float]]) -> None:
    z = np.array([error / s.settled_sd_s for s, error in drawn])
    assert np.mean(np.abs(z) < 1.96) >= 0.87
    assert np.median(np.abs(z)) > 0.15


def test_what_counts_begins_after_the_release(drawn: list[tuple[Settled, float]]) -> None:
    early = [error + s.settled_sd_s for s, error in drawn]
    assert np.mean(np.array(early) < -3.0) < 0.1
    for s, _ in drawn:
        assert not s.counts[: max(int(np.argmax(s.counts)), 1)].any()
        assert s.counts.any()


@pytest.mark.slow
def test_a_high_opening_is_no_different() -> None:
    late = [found_in(opened_jump(seed, top_m=3500.0))[1] for seed in SEEDS[:8]]
    assert np.median(np.abs(late)) < 3.0


@pytest.mark.slow
def test_a_straight_flight_says_how_little_it_tells() -> None:
    straight = [found_in(opened_jump(seed, straight=True)) for seed in SEEDS[:12]]
    turning = [found_in(opened_jump(seed)) for seed in SEEDS[:12]]
    assert np.median([s.settled_sd_s for s, _ in straight]) > np.median([s.settled_sd_s for s, _ in turning])
    assert np.mean([abs(e) < 2.5 * s.settled_sd_s for s, e in straight]) > 0.8


def test_where_nothing_is_seen_usual_openings_decide() -> None:
    t = np.arange(0.0, 12.0)
    track = track_of(t, 10.0 * t, 0.0 * t, 60.0 - 5.0 * t)
    settled = find_settled(track, 0, t.size)
    assert settled.settled_sd_s > 1.5
    assert settled.index < t.size


def test_no_height_is_no_error() -> None:
    t = np.arange(0.0, 60.0)
    track = track_of(t, 10.0 * t, 0.0 * t, np.full(t.size, np.nan))
    settled = find_settled(track, 0, t.size)
    assert not settled.counts.any()


def test_a_world_turned_and_moved_is_the_same() -> None:
    track = build_track(record_jump(51_100).recording)
    canopy = find_phases(track).canopy()
    assert canopy is not None
    one = find_settled(track, canopy.start, canopy.stop)
    turned = replace(track, v_east=track.v_north.copy(), v_north=-track.v_east)
    other = find_settled(turned, canopy.start, canopy.stop)
    assert abs(one.settled_s - other.settled_s) < 1.5


def test_a_stall_does_not_count() -> None:
    t = np.arange(0.0, 120.0)
    stalled = (t >= 50.0) & (t < 56.0)
    sink, share = np.where(stalled, 11.0, 5.0), np.where(stalled, 0.2, 1.0)
    found = stretches_that_do_not_count(t, 900.0 - 5.0 * t, sink, share, 10.0)
    assert [s.reason for s in found] == ["collapse or stall"]
    assert found[0].start_s <= 50.0 <= 55.0 <= found[0].end_s <= 60.0
    assert stretches_that_do_not_count(t, 900.0 - 5.0 * t, np.full(120, 5.0), share, 10.0) == ()


def test_the_flare_does_not_count() -> None:
    t = np.arange(0.0, 120.0)
    sink = np.where(t >= 117.0, 1.0, 5.0)
    h = np.concatenate([np.cumsum(sink[::-1])[::-1][1:], [0.0]])
    found = stretches_that_do_not_count(t, h, sink, np.ones(120), 10.0)
    assert [s.reason for s in found] == ["flare"]
    assert found[0].start_s == 117.0


def test_the_nearest_fix_of_a_moment() -> None:
    t = np.cumsum(np.random.default_rng(4).uniform(0.1, 3.0, 60))
    at = np.linspace(t[0] - 2.0, t[-1] + 2.0, 400)
    expected = np.argmin(np.abs(t[None, :] - at[:, None]), axis=1)
    assert _nearest(t, at).tolist() == expected.tolist()


def test_free_flight_and_brakes_by_turns_against_every_way_there_is() -> None:
    """The log chance of the shares that are left, summed over all 2ⁿ ways of being free or braked."""
    rng = np.random.default_rng(6)
    share, use = rng.uniform(0.5, 1.1, (2, 6)), np.array([0.4, 0.4, 0.0, 0.4, 0.4, 0.4])
    chance = {"f": 1.0 - 1.0 / PHASES.into_brakes_s, "b": 1.0 - 1.0 / PHASES.out_of_brakes_s}

    def density(x: float, free: bool) -> float:
        mean, sd = (1.0, PHASES.flies_sd) if free else (PHASES.braked, PHASES.braked_sd)
        bell = math.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi))
        return 0.97 * bell + 0.012 if free else bell + 1e-3

    for row, found in zip(share, _later(share, use), strict=True):
        for begin in range(6):
            total = 0.0
            for way in itertools.product("fb", repeat=6 - begin):
                p, state = 1.0, "f"
                for x, weight, now in zip(row[begin:], use[begin:], way, strict=True):
                    p *= (chance[state] if now == state else 1.0 - chance[state]) * density(
                        x, now == "f"
                    ) ** weight
                    state = now
                total += p
            assert found[begin] == pytest.approx(math.log(total))
        assert found[6] == 0.0


def test_the_proposed_draws_of_the_air_carry_the_density_they_were_drawn_with() -> None:
    """Half of them about the best fit, half on the ring: weighed by that density they integrate the normal law of the best fit to one.

    A circle through the air at 10 m/s in a wind of (3, −2) m/s, sinking from 200 m above the middle to 200 m below (_proposed).
    """
    angle = np.linspace(0.0, 4.0 * np.pi, 60)
    v = np.array([[3.0], [-2.0]]) + 10.0 * np.stack([np.sin(angle), np.cos(angle)])
    problem = _Problem(v, np.linspace(200.0, -200.0, 60), np.ones(60), 1.0 / 6.0)
    best, spread = problem.solve()
    assert best == pytest.approx([3.0, -2.0, 0.0, 0.0, 10.0], abs=0.2)
    sample, log_density = _proposed(problem, np.random.default_rng(4))
    off = sample - best
    normal = -0.5 * np.sum(off * np.linalg.solve(spread, off.T).T, axis=1)
    normal -= 0.5 * np.linalg.slogdet(2.0 * np.pi * spread)[1]
    assert np.mean(np.exp(normal - log_density + np.log(2.0))) == pytest.approx(1.0, abs=0.15)


def test_the_posterior_of_the_air_is_students_law_and_normal_priors() -> None:
    """Differences of log_posterior against SciPy: Student's t with four degrees of freedom about the airspeed, each of which counts by its news."""
    rng = np.random.default_rng(12)
    v, h, factor = (
        9.0 * rng.standard_normal((2, 30)),
        rng.uniform(-300.0, 300.0, 30),
        rng.uniform(1.0, 1.2, 30),
    )
    problem = _Problem(v, h, factor, 0.25)
    p = np.column_stack(
        [4.0 * rng.standard_normal((8, 2)), 0.004 * rng.standard_normal((8, 2)), rng.uniform(7, 14, 8)]
    )
    expected = []
    for east, north, by_east, by_north, airspeed in p:
        rest = np.hypot(v[0] - east - by_east * h, v[1] - north - by_north * h) - airspeed * factor
        log = 0.25 * np.sum(stats.t(4).logpdf(rest / PHASES.wanders_mps))
        log += np.sum(stats.norm(0.0, PHASES.wind_sd_mps).logpdf([east, north]))
        log += np.sum(stats.norm(0.0, PHASES.shear_sd).logpdf([by_east, by_north]))
        expected.append(log + stats.norm(PHASES.airspeed_mps, PHASES.airspeed_sd_mps).logpdf(airspeed))
    found = problem.log_posterior(p)
    assert found - found[0] == pytest.approx(np.array(expected) - expected[0])
    impossible = p[:2].copy()
    impossible[:, 4] = PHASES.least_airspeed_mps - 0.1, PHASES.most_airspeed_mps + 0.1
    assert problem.log_posterior(impossible).tolist() == [-np.inf, -np.inf]
