"""The nearest approach of two canopies against geometry, and its error against many draws."""

from __future__ import annotations

import numpy as np
import pytest
from worlds.loads import make_load

from analyser.debrief import begin_every
from analyser.load.approach import PairError, approaches, nearest, pair_error, together, usual_error
from analyser.load.clocks import on_one_clock
from analyser.load.flights import Flight, flights_of
from analyser.load.members import find_loads
from analyser.load.thresholds import LOAD

GOOD = PairError(0.01, 1e6, 0.0, 1e6, 0.0)


def flight(east: np.ndarray, north: np.ndarray, agl: np.ndarray, t: np.ndarray) -> Flight:
    return Flight("x", t, east, north, agl, None, float(t[0]), float(t[-1]), 0.3, 0, 3.0, 2.5)


def crossing(miss_m: float, up_m: float = 0.0) -> tuple[Flight, Flight]:
    """Two straight flights at right angles; the second passes ``miss_m`` ahead of the first, ``up_m`` higher."""
    t = np.arange(0.0, 201.0)
    down = 500.0 - 2.0 * t
    a = flight(10.0 * (t - 100.0), 0.0 * t, down, t)
    b = flight(0.0 * t + miss_m * np.sqrt(2.0), 10.0 * (t - 100.0), down + up_m, t)
    return a, b


@pytest.mark.parametrize("miss", [5.0, 40.0, 120.0])
def test_crossing_lines_miss_by_geometry(miss: float) -> None:
    """Relative speed along (−10, 10): the least distance of a point from that line is the offset over √2."""
    found = nearest(*crossing(miss), GOOD)
    assert found is not None
    assert found.distance_m == pytest.approx(miss, abs=2.0)
    assert found.agl_m == pytest.approx(300.0, abs=20.0)
    assert found.before_landing_s == pytest.approx(100.0, abs=10.0)


def test_height_counts() -> None:
    found = nearest(*crossing(30.0, 40.0), GOOD)
    assert found is not None
    assert found.distance_m == pytest.approx(50.0, abs=2.5)
    assert found.height_m == pytest.approx(40.0, abs=1e-6)


def test_only_while_both_fly_and_both_are_low() -> None:
    a, b = crossing(40.0)
    late = flight(b.east_m, b.north_m, b.agl_m, b.t_s + 1000.0)
    assert nearest(a, late, GOOD) is None
    assert together(a, b, LOAD.low_m)[0] == pytest.approx(98.0, abs=0.6)
    low = nearest(a, b, GOOD, below_m=200.0)
    assert low is not None
    assert low.agl_m < 200.0


@pytest.mark.parametrize("miss", [8.0, 25.0, 80.0])
def test_the_interval_holds_what_it_says(miss: float) -> None:
    """Errors drawn as stated, from another generator: 95 % intervals hold the truth in about 95 of 100."""
    rng = np.random.default_rng(4)
    error = PairError(9.0, 1e6, 0.0, 1e6, 0.0)
    held = []
    for _ in range(120):
        a, b = crossing(miss)
        e, n = rng.normal(0.0, 3.0, 2)
        moved = flight(b.east_m + e, b.north_m + n, b.agl_m, b.t_s)
        found = nearest(a, moved, error, seed=int(rng.integers(1 << 30)))
        assert found is not None
        held.append(found.low_m <= miss <= found.high_m)
    assert 0.88 <= np.mean(held) <= 1.0


def test_a_wrong_clock_widens_it() -> None:
    a, b = crossing(60.0)
    sure, unsure = (nearest(a, b, PairError(9.0, 50.0, 4.0, 50.0, sd)) for sd in (0.05, 1.2))
    assert sure is not None
    assert unsure is not None
    assert unsure.sd_m > 2.0 * sure.sd_m


def test_a_wrong_scale_of_heights_widens_it_the_more_the_higher() -> None:
    """Two heights whose scales differ by 4 % differ by 12 m at 300 m; there one passes straight above the other."""
    a, b = crossing(0.0, 30.0)
    sure, unsure = (nearest(a, b, PairError(0.01, 1e6, 0.0, 1e6, 0.0, sd)) for sd in (0.0, 0.04))
    assert sure is not None
    assert unsure is not None
    assert unsure.high_m - unsure.low_m == pytest.approx(2 * 1.96 * 12.0, rel=0.25)
    assert sure.high_m - sure.low_m < 8.0
    down = [flight(f.east_m, f.north_m, f.agl_m - 250.0, f.t_s) for f in (a, b)]
    low = nearest(*down, PairError(0.01, 1e6, 0.0, 1e6, 0.0, 0.04))
    assert low is not None
    assert low.high_m - low.low_m < 0.5 * (unsure.high_m - unsure.low_m)


def test_the_usual_error_is_a_mean_over_receivers_that_are_not_all_alike() -> None:
    """Without a ride: drawn variances (scaled inverse chi squared) have the usual variance as their mean, most are smaller."""
    a, b = crossing(10.0)
    error = pair_error(a, b, None, usual_error([a, b], {}))
    drawn = error.level_m2 * error.level_free / np.random.default_rng(2).chisquare(error.level_free, 400_000)
    assert np.mean(drawn) == pytest.approx(2.0 * 2.5**2, rel=0.15)
    assert np.median(drawn) < 0.7 * 2.0 * 2.5**2


@pytest.mark.slow
def test_planted_pairs_are_listed() -> None:
    """Four loads hold a pair made to pass within 12 m: it is among those that may have been close."""
    for seed in (824100, 824101, 824103, 824109):  # those of the first sixteen that hold one
        load = make_load(seed, 5, cut_share=0.0)
        assert load.planted
        flights = flights_of([begin_every(jump.recording)[0] for jump in load.jumps])
        group = find_loads(flights)[0]
        near = approaches(on_one_clock(flights, group), group.rides)
        assert load.planted[0] in [one.pair for one in near if one.maybe_close], seed
