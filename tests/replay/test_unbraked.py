"""A final flown in brakes: the wind it is judged in comes from the flight above it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import one_error
import pytest

from analyser.replay.sink import Brakes
from analyser.replay.unbraked import NOTE, in_brakes, wind_above_brakes
from analyser.settings import Method

BRAKED, LATE = 3, 0


@pytest.fixture(scope="module")
def braked() -> one_error.Injected:
    return one_error.injected(133_000, BRAKED)


def test_brakes_count_beyond_threshold_and_error() -> None:
    method = Method()
    seen = Brakes(-10.0, 5.0, 0.80, 0.02, 3.0)
    assert in_brakes(seen, method)
    assert not in_brakes(replace(seen, share=1.0 - 0.9 * method.braked_sink.value), method)
    assert not in_brakes(replace(seen, share_sd=0.2), method), "not within its own error"
    assert not in_brakes(replace(seen, share=1.2), method), "faster than full flight is no brakes"
    assert not in_brakes(None, method)


def test_the_final_says_nothing_of_the_wind_below_it(braked: one_error.Injected) -> None:
    """Fixes of the braked final, moved at will, leave the wind as it is, and its error near the ground is not small."""
    d = braked.debrief
    start, last = d.phases.canopy().start, d.flown.leg("final")
    wind = wind_above_brakes(d.track, start, d.flown, d.brakes)
    assert wind is not None
    beyond = d.track.t_s > last.start_s + 3.0
    torn = replace(d.track, east_m=np.where(beyond, 1e4, d.track.east_m))
    again = wind_above_brakes(torn, start, d.flown, d.brakes)
    assert np.array_equal(wind.east, again.east)
    assert np.array_equal(wind.north, again.north)
    assert wind.at(0.0).worst_sd > 0.3


def test_rows_add_up_and_say_so(braked: one_error.Injected) -> None:
    d = braked.debrief
    assert NOTE in d.reasons["budget"]
    total = np.sum([(r.along_m, r.across_m) for r in d.budget], axis=0)
    assert total == pytest.approx((d.landing.along_m, d.landing.across_m), abs=1e-6)
    assert (d.plan_outcome.east_m, d.plan_outcome.north_m) != (0.0, 0.0)
    wind_row = np.hypot(d.budget[0].along_m, d.budget[0].across_m)
    assert np.hypot(d.plan_outcome.east_m, d.plan_outcome.north_m) == pytest.approx(wind_row, abs=1e-6)


def test_without_brakes_the_wind_of_the_whole_flight_counts() -> None:
    d = one_error.injected(133_100, LATE).debrief
    assert "budget" not in d.reasons
    assert wind_above_brakes(d.track, d.phases.canopy().start, d.flown, d.brakes) is None
