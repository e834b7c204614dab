"""A fast fall is told from a height that leaps, on signals made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.phases.events import (
    Fall,
    Moment,
    _again,
    _comes_back,
    _deployment,
    _is_a_leap,
    _is_fall,
    _leaves,
    fall_times,
    find_exit_without_fall,
    find_falls,
)
from analyser.phases.signals import Signals, make_signals
from analyser.phases.thresholds import PHASES


def flight(
    speed_mps: float,
    sinks: list[tuple[float, float]],
    *,
    top_m: float = 4000.0,
    leap: tuple[float, float] = (0.0, 0.0),
) -> Signals:
    """Two minutes level at a ground speed, then parts of (seconds, sink); a leap of the height at a second."""
    rates = np.concatenate([np.zeros(120), *(np.full(int(s), v) for s, v in sinks)])
    t = np.arange(rates.size, dtype=np.float64)
    h = top_m - np.cumsum(rates)
    h[t >= leap[0]] += leap[1]
    speeds = np.where(t < 120, speed_mps, 10.0)
    return make_signals(t, np.cumsum(speeds), np.zeros_like(t), h)


def fast(s: Signals) -> tuple[int, int]:
    """The run of fast sink."""
    quick = np.flatnonzero(s.sink > 15.0)
    return int(quick[0]), int(quick[-1]) + 1


def test_a_fall_out_of_an_aeroplane_is_no_leap() -> None:
    s = flight(45.0, [(5, 25.0), (40, 52.0), (200, 5.0)])
    assert not _is_a_leap(s, *fast(s))
    assert len(find_falls(s, s.t.size)) == 1


@pytest.mark.parametrize(("speed_mps", "is_one"), [(6.0, True), (45.0, False)])
def test_after_a_leap_it_is_a_fall_only_with_an_aeroplane_before_it(speed_mps: float, is_one: bool) -> None:
    """The height leaps by 900 m a minute before a real fall: behind an aeroplane the fall stands, on a bicycle it does not."""
    s = flight(speed_mps, [(5, 25.0), (40, 52.0), (200, 5.0)], top_m=3100.0, leap=(60.0, 900.0))
    assert _is_a_leap(s, *fast(s)) is is_one


def test_a_leap_that_dies_away_behind_an_aeroplane_is_one() -> None:
    """Up by 1,500 m between two fixes, then down again, ever slower: no fall has that shape."""
    gone = [(1.0, v) for v in 120.0 * 0.92 ** np.arange(60)]
    s = flight(45.0, gone, leap=(119.0, 1500.0))
    assert _is_a_leap(s, *fast(s))
    back = flight(45.0, [(1, 1500.0), (100, 0.0)], leap=(100.0, 1500.0))
    assert _is_a_leap(back, *fast(back))


def test_a_height_that_comes_back_where_it_was_is_a_spike() -> None:
    s = flight(6.0, [(20, 50.0), (100, 0.0)], top_m=1000.0, leap=(110.0, 1000.0))
    start, stop = fast(s)
    drop = float(s.h[start] - s.h[stop])
    assert _comes_back(s, start, stop, drop)
    low = flight(6.0, [(30, 50.0), (100, 0.0)], top_m=1000.0, leap=(110.0, 1000.0))
    start, stop = fast(low)
    assert not _comes_back(low, start, stop, float(low.h[start] - low.h[stop]))


@pytest.mark.parametrize(("sink", "falls"), [(22.0, 0), (34.0, 1)])
def test_a_descent_that_quickens_slowly_is_a_fall_only_beyond_what_a_spiral_reaches(
    sink: float, falls: int
) -> None:
    """Two m/s faster each second, as no fall begins, and slow over the ground: a canopy spirals at 22 m/s, but not at 34."""
    quickens = [(1, v) for v in np.arange(4.0, sink, 2.0)]
    s = flight(10.0, [(30, 4.0), *quickens, (15, sink), (60, 4.0)])
    start, stop = fast(s)
    assert _is_fall(s, start, stop) is bool(falls)
    assert len(find_falls(s, s.t.size)) == falls


def test_a_fall_out_of_a_descending_aeroplane_begins_where_it_leaves_the_descent() -> None:
    """A minute down at 4 m/s, then the fall: its begin is the end of that minute, not of the level flight before."""
    s = flight(45.0, [(60, 4.0), (5, 25.0), (40, 52.0), (200, 5.0)])
    quick = fast(s)[0]
    assert _leaves(s, quick, 0) == pytest.approx(180, abs=2)


def test_the_deployment_ends_the_fall_as_fast_as_it_was_last() -> None:
    """Twenty seconds at 70 m/s, then as long at 50: what counts as fast is told by the last ten seconds."""
    s = flight(45.0, [(20, 70.0), (20, 50.0), (200, 5.0)])
    assert _deployment(s, *fast(s)) == pytest.approx(160, abs=2)


@pytest.mark.parametrize(("since", "another"), [(5.0, True), (14.0, False)])
def test_a_second_fall_is_far_faster_than_the_descent_before_it(since: float, another: bool) -> None:
    """20 m/s after a minute at 5 m/s is one (more than 1.6 times as fast), after a minute at 14 m/s it is none."""
    s = flight(45.0, [(40, 52.0), (60, since), (20, 20.0), (60, 5.0)])
    assert _again(s, Fall(120, 160, 164), 220, 240) is another
    assert not _again(s, Fall(120, 160, 225), 220, 240)


def test_moments_between_dense_fixes_are_those_of_the_fixes() -> None:
    s = flight(45.0, [(5, 25.0), (40, 52.0), (200, 5.0)])
    (fall,) = find_falls(s, s.t.size)
    assert fall_times(s, fall) == tuple(Moment(float(s.t[i])) for i in fall)


@pytest.mark.parametrize("left_s", [120.5, 122.0, 125.0])
def test_an_exit_in_a_hole_is_told_by_the_height_lost(left_s: float) -> None:
    """No fixes between 120 and 128 s; a fall from rest with quadratic drag loses v²/g ln cosh(g t/v)."""
    v = PHASES.terminal_mps
    t = np.concatenate([np.arange(0.0, 121.0), np.arange(128.0, 200.0)])
    fallen = np.maximum(t - left_s, 0.0)
    h = 4000.0 - v**2 / 9.80665 * np.log(np.cosh(9.80665 * fallen / v))
    s = make_signals(t, 45.0 * np.minimum(t, left_s), np.zeros_like(t), h)
    exit_, _, _ = fall_times(s, Fall(120, 180, 190))
    assert exit_.t_s == pytest.approx(left_s)
    assert exit_.agl_m == pytest.approx(4000.0)


def static_line() -> Signals:
    """At 45 m/s level at 900 m for 100 s, then 6 m/s each second slower down to 10 m/s, and down at 5 m/s from the third second on."""
    t = np.arange(0.0, 260.0, 0.5)
    since = np.maximum(t - 100.0, 0.0)
    speed = np.maximum(45.0 - 6.0 * since, 10.0)
    sink = 5.0 * np.clip(since / 3.0, 0.0, 1.0)
    return make_signals(t, np.cumsum(speed) * 0.5, np.zeros_like(t), 900.0 - np.cumsum(sink) * 0.5)


def test_an_exit_without_a_fall_is_where_the_speed_of_the_aeroplane_ends() -> None:
    """It is gone 35/6 s later: from then on the canopy is steady."""
    s = static_line()
    found = find_exit_without_fall(s, s.t.size - 1)
    assert found is not None
    start, steady = found
    assert s.t[start] == pytest.approx(100.0, abs=1.0)
    assert s.t[steady] == pytest.approx(100.0 + 35.0 / 6.0, abs=1.5)


@pytest.mark.parametrize(
    ("above_m", "left"), [(PHASES.exit_above_m - 10.0, False), (PHASES.exit_above_m + 10.0, True)]
)
def test_an_exit_without_a_fall_lies_well_above_the_landing(above_m: float, left: bool) -> None:
    """Heights count from the landing, also where that lies high itself."""
    s = static_line()
    landing = int(np.argmin(np.abs(s.h - (900.0 - above_m))))
    assert s.h[landing] > 700.0
    assert (find_exit_without_fall(s, landing) is not None) is left


@pytest.mark.parametrize("wait_s", [0.0, 2.0, 5.0])
def test_an_opening_in_a_hole_begins_where_the_height_lost_says(wait_s: float) -> None:
    """No fixes for nine seconds: the fall goes on at 50 m/s, an opening of four seconds loses half of 4 · (50 + 5) m, the rest goes at 5 m/s."""
    lost = 50.0 * wait_s + 110.0 + 5.0 * (5.0 - wait_s)
    t = np.concatenate([np.arange(0.0, 30.5, 0.5), np.arange(39.0, 70.0)])
    under_canopy = np.interp(t, [39.0, 65.0, 70.0], [0.0, 130.0, 132.0])  # a flare at the end
    h = np.where(t <= 30.0, 4000.0 - 50.0 * t, 2500.0 - lost - under_canopy)
    s = make_signals(t, 10.0 * t, np.zeros_like(t), h)
    _, begins, ends = fall_times(s, Fall(0, 60, 61))
    assert begins == pytest.approx((30.0 + wait_s, 2500.0 - 50.0 * wait_s))
    assert ends == pytest.approx((34.0 + wait_s, 2500.0 - 50.0 * wait_s - 110.0))


def test_a_hole_that_holds_the_whole_fall_ends_with_the_opening() -> None:
    """Four seconds of it, from 54 m/s to nothing on the mean: 108 m above where the canopy is seen first."""
    t = np.concatenate([np.arange(0.0, 121.0), np.arange(150.0, 200.0)])
    h = np.where(t <= 120.0, 4000.0, 2900.0 - 5.0 * (t - 150.0))
    s = make_signals(t, 45.0 * np.minimum(t, 120.0), np.zeros_like(t), h)
    exit_, deployment, steady = fall_times(s, Fall(120, 121, 121))
    assert 120.0 <= exit_.t_s < deployment.t_s
    assert deployment == pytest.approx((146.0, 2900.0 + 108.0))
    assert steady == (150.0, None)
