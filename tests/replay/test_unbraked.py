"""A final flown in brakes: the wind it is judged in comes from the flight above it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import one_error
import pytest
from pattern_cases import TRIM, fly_case, track_of, uniform

from analyser.replay.sink import Brakes
from analyser.replay.unbraked import NOTE, Lost, airspeed_lost, brakes_likelier, in_brakes, wind_above_final
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
    """A final slowed further leaves the wind as it is, and its error near the ground is not small."""
    d = braked.debrief
    start, last = d.phases.canopy().start, d.flown.leg("final")
    wind = wind_above_final(d.track, start, d.flown, d.landing, d.trim, d.brakes)
    assert wind is not None
    beyond = d.track.t_s > last.start_s + 3.0
    at = float(np.interp(last.start_s + 3.0, d.track.t_s, d.track.east_m))
    slower = np.where(beyond, at + 0.8 * (d.track.east_m - at), d.track.east_m)
    torn = replace(d.track, east_m=slower)
    again = wind_above_final(torn, start, d.flown, d.landing, d.trim, d.brakes)
    assert again is not None
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
    above = wind_above_final(d.track, d.phases.canopy().start, d.flown, d.landing, d.trim, d.brakes)
    assert above is None


def test_the_airspeed_a_final_lacks_by_hand() -> None:
    """8.2 of 10 m/s, wind and trim known: 18 % lost, whatever the sink; the error is that of the trim, 0.2 of 10 m/s times 0.82."""
    wind = uniform(4.0, 30.0)
    case = fly_case(wind)
    track, begin = track_of(case.flown.path), case.flown.leg("final").start_s + 1.0
    calm = replace(TRIM, standard_air=False)
    full = airspeed_lost(track, (begin, begin + 15.0), TRIM, wind)
    assert full.share == pytest.approx(0.0, abs=0.01)
    t = np.arange(0.0, 30.0, 0.5)
    for sink in (3.0, 4.0):
        path = [(s, 0.0, (8.2 - 4.0) * s, 90.0 - sink * s) for s in t]
        slow = airspeed_lost(track_of(path), (2.0, 20.0), calm, uniform(4.0, 0.0))
        assert slow.share == pytest.approx(0.18, abs=1e-3)
        assert slow.sd == pytest.approx(0.82 * 0.02, rel=0.15)


def test_brakes_are_likelier_beyond_the_error_of_the_wind_by_hand() -> None:
    """27 % of flight not in full flight, a quarter ± 18 % taken: with an error of 6 % the scales turn near twice that."""
    assert brakes_likelier(Lost(0.25, 0.06))
    assert brakes_likelier(Lost(0.14, 0.06))
    assert not brakes_likelier(Lost(0.09, 0.06))
    assert not brakes_likelier(Lost(0.25, 0.5)), "a wind that is hardly known leaves what was believed before"
    assert not brakes_likelier(Lost(-0.3, 0.06)), "faster than full flight is no brakes"


def test_brakes_that_do_not_show_in_the_sink_leave_the_wind_above(braked: one_error.Injected) -> None:
    """The sink made that of full flight: the airspeed alone tells."""
    d = braked.debrief
    hidden = replace(d.brakes, share=1.0)
    found = wind_above_final(d.track, d.phases.canopy().start, d.flown, d.landing, d.trim, hidden)
    assert found is not None
    fast = replace(d.trim, airspeed_mps=0.5 * d.trim.airspeed_mps)
    none = wind_above_final(d.track, d.phases.canopy().start, d.flown, d.landing, fast, d.brakes)
    assert none is None, "as fast as full flight: it sank less for another reason"
