"""A fast fall is told from a height that leaps, on signals made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.phases.events import (
    Fall,
    _again,
    _comes_back,
    _deployment,
    _is_a_leap,
    _is_fall,
    _leaves,
    find_falls,
)
from analyser.phases.signals import Signals, make_signals


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
