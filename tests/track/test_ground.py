"""Where a recording leaves the ground and comes back to it, on heights whose answer can be read off."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analyser.track.ground import Ground, Rest, find_ground, flight_span
from analyser.track.level import _slow_sd


def climbing_and_falling(base: float = 200.0) -> np.ndarray:
    """Ten fixes at rest, up by 20 m a fix to 400 m above, down by 10 m a fix, ten at rest."""
    up, down = np.arange(0.0, 401.0, 20.0), np.arange(390.0, -1.0, -10.0)
    return base + np.concatenate([np.zeros(10), up, down, np.zeros(10)])


def test_up_and_down() -> None:
    z = climbing_and_falling()
    start, stop = flight_span(z)  # type: ignore[misc]
    assert z[start] == 200.0  # the last fix at rest
    assert start == 10
    assert z[start + 1] == 220.0
    assert z[stop - 1] == pytest.approx(270.0)  # the last more than 60 m above what follows
    assert z[stop] == pytest.approx(260.0)


def test_a_recording_that_begins_in_the_air() -> None:
    z = climbing_and_falling()[30:]
    start, stop = flight_span(z)  # type: ignore[misc]
    assert start == int(np.flatnonzero(z >= z.max() - 6.0)[-1])
    assert z[stop - 1] == pytest.approx(270.0)


def test_a_recording_that_ends_in_the_air_and_one_that_never_leaves() -> None:
    z = climbing_and_falling()[:25]
    assert flight_span(z) == (10, 25)
    assert flight_span(200.0 + np.array([0.0, 59.0, 0.0, -1.0, 30.0])) is None
    assert flight_span(np.array([np.nan, 200.0])) is None


def test_the_jitter_of_a_height_at_rest_and_gaps_do_not_count() -> None:
    z = climbing_and_falling()
    z[:10] += np.tile([0.0, 5.0], 5)
    assert flight_span(z)[0] == 10  # type: ignore[index]
    holes = climbing_and_falling()
    holes[[3, 12, 40, 62]] = np.nan
    assert flight_span(holes) == flight_span(climbing_and_falling())


@pytest.mark.parametrize(
    ("east", "north", "level", "same"),
    [
        (900.0, 1100.0, 0.0, True),  # 1,421 m
        (1100.0, 1100.0, 0.0, False),  # 1,556 m
        (0.0, 1600.0, 0.0, False),
        (1600.0, 0.0, 0.0, False),
        (0.0, 0.0, 59.0, True),
        (0.0, 0.0, -61.0, False),
    ],
)
def test_the_same_place_is_near_in_both_directions_and_in_height(
    east: float, north: float, level: float, same: bool
) -> None:
    before = Rest(0, 9, 400.0, 1.0, 300.0, -200.0)
    after = Rest(50, 60, 400.0 + level, 1.0, 300.0 + east, -200.0 + north)
    assert Ground(before, after, (9, 50)).same_place is same
    assert Ground(after, before, (9, 50)).same_place is same
    assert not Ground(None, after, (0, 50)).same_place


def test_the_first_fix_after_a_hole_is_at_rest() -> None:
    """Down by 10 m/s from 400 m to 80 m, nothing for a minute, then twenty fixes at rest: they all are (find_ground)."""
    up = np.concatenate([np.zeros(20), np.arange(0.0, 401.0, 20.0), np.arange(390.0, 79.0, -10.0)])
    z = np.concatenate([up, np.zeros(20)])
    t = np.arange(float(z.size))
    t[up.size :] += 60.0
    rates = np.concatenate([np.zeros(20), np.full(21, 20.0), np.full(32, -10.0), np.zeros(20)])
    speed = np.where(rates == 0.0, 0.0, 15.0)
    found = find_ground(t, np.zeros(z.size), np.zeros(z.size), z, (speed, np.zeros(z.size), rates))
    assert found.after is not None
    assert (found.after.start, found.after.stop, found.after.level_m) == (up.size, z.size, 0.0)
    assert found.flight[1] == up.size
    assert found.before is not None
    assert found.before.stop == 20


@pytest.mark.parametrize(
    ("source", "difference", "expected"),
    [
        ("barometric", 0.0, (2.0 * 25.0 / 3.0) ** 0.5),  # two thirds of the usual variance
        ("barometric", 10.0, ((2.0 * 25.0 + 0.63 * 100.0) / 3.0) ** 0.5),
        ("gps", -20.0, ((2.0 * 9.0 + 0.63 * 400.0) / 3.0) ** 0.5),
        ("gps", 70.0, 3.0),  # another place: nothing seen
    ],
)
def test_the_slow_error_of_heights_learns_from_the_levels_of_one_field(
    source: str, difference: float, expected: float
) -> None:
    rests = Rest(0, 9, 100.0, 1.0, 0.0, 0.0), Rest(50, 60, 100.0 + difference, 1.0, 0.0, 0.0)
    recording = SimpleNamespace(altitude_source=source)
    assert _slow_sd(recording, Ground(*rests, (9, 50))) == pytest.approx(expected)  # type: ignore[arg-type]
