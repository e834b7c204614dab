"""Where a recording leaves the ground and comes back to it, on heights whose answer can be read off."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.track.ground import flight_span


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
