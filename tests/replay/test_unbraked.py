"""A final flown in brakes: the wind it is judged in comes from the flight above it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import one_error
import pytest
from pattern_cases import TRIM, fly_case, track_of, uniform

from analyser.jump import Debrief
from analyser.replay.sink import Brakes
from analyser.replay.unbraked import (
    NOTE,
    NOTE_EITHER,
    NOTE_SLOW,
    Lost,
    WindAgain,
    airspeed_lost,
    brakes_probability,
    in_brakes,
    wind_again,
)
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


def again_of(d: Debrief, **changed: Any) -> WindAgain | None:
    """The wind to fly the plan of a debrief again in."""
    x = replace(d, **changed)
    whole = x.wind.profile
    return wind_again(x.track, x.phases.canopy().start, x.flown, x.landing, x.trim, x.brakes, whole=whole)


def test_the_final_says_nothing_of_the_wind_below_it(braked: one_error.Injected) -> None:
    """A final slowed further leaves the wind as it is, and its error near the ground is not small."""
    d = braked.debrief
    last = d.flown.leg("final")
    wind = again_of(d)
    assert wind is not None
    assert wind.note == NOTE
    beyond = d.track.t_s > last.start_s + 3.0
    at = float(np.interp(last.start_s + 3.0, d.track.t_s, d.track.east_m))
    slower = np.where(beyond, at + 0.8 * (d.track.east_m - at), d.track.east_m)
    again = again_of(d, track=replace(d.track, east_m=slower))
    assert again is not None
    assert np.array_equal(wind.profile.east, again.profile.east)
    assert np.array_equal(wind.profile.north, again.profile.north)
    assert wind.profile.at(0.0).worst_sd > 0.3


def test_rows_add_up_and_say_so(braked: one_error.Injected) -> None:
    d = braked.debrief
    assert NOTE in d.reasons["budget"]
    total = np.sum([(r.along_m, r.across_m) for r in d.budget], axis=0)
    assert total == pytest.approx((d.landing.along_m, d.landing.across_m), abs=1e-6)
    assert (d.plan_outcome.east_m, d.plan_outcome.north_m) != (0.0, 0.0)
    wind_row = np.hypot(d.budget[0].along_m, d.budget[0].across_m)
    assert np.hypot(d.plan_outcome.east_m, d.plan_outcome.north_m) == pytest.approx(wind_row, abs=1e-6)


def test_without_brakes_the_wind_of_the_whole_flight_counts() -> None:
    """Nothing missing beyond its error is nothing to speak of; where the flight was faster than full flight nothing is mixed either."""
    d = one_error.injected(133_100, LATE).debrief
    assert "budget" not in d.reasons
    again = again_of(d)
    assert again is not None
    assert again.note == ""
    low, whole = again.profile.at(15.0), d.wind.profile.at(15.0)
    assert np.hypot(low.east - whole.east, low.north - whole.north) < whole.worst_sd
    assert again_of(d, trim=replace(d.trim, airspeed_mps=0.9 * d.trim.airspeed_mps)) is None


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


def test_the_chance_of_brakes_by_hand() -> None:
    """As often braked as not, a quarter ± 18 % taken: with an error of 6 % the scales turn near a tenth lost.

    0.14 ± 0.06 by hand: densities N(0.14; 0, 0.06) = 0.437 and N(0.14; 0.25, 0.1897) = 1.777 (per unit), so 0.80.
    """
    assert brakes_probability(Lost(0.14, 0.06)) == pytest.approx(1.777 / (1.777 + 0.437), abs=2e-3)
    assert brakes_probability(Lost(0.25, 0.06)) > 0.99
    assert brakes_probability(Lost(0.03, 0.06)) < 0.25
    assert 0.3 < brakes_probability(Lost(0.25, 2.0)) < 0.51, (
        "a wind hardly known leaves what was believed before"
    )
    assert brakes_probability(Lost(-0.3, 0.06)) == 0.0, "faster than full flight is no brakes"
    assert brakes_probability(Lost(5.0, 1e-9)) == 1.0


def test_brakes_that_do_not_show_in_the_sink_leave_the_wind_above(braked: one_error.Injected) -> None:
    """The sink made that of full flight: the airspeed alone tells; half as fast a trim, and nothing is missing."""
    d = braked.debrief
    hidden = replace(d.brakes, share=1.0)
    found = again_of(d, brakes=hidden)
    assert found is not None
    assert found.note == NOTE_SLOW
    fast = replace(d.trim, airspeed_mps=0.5 * d.trim.airspeed_mps)
    assert again_of(d, trim=fast) is None, "as fast as full flight: it sank less for another reason"


def test_between_brakes_and_more_wind_both_winds_count_by_their_chance(braked: one_error.Injected) -> None:
    """A trim at which a final lacks about a tenth: the wind lies between both, and its error holds their difference."""
    d = braked.debrief
    hidden = replace(d.brakes, share=1.0)
    above, whole = again_of(d), d.wind.profile
    found = None
    for factor in np.arange(0.98, 0.6, -0.02):
        found = again_of(d, brakes=hidden, trim=replace(d.trim, airspeed_mps=factor * d.trim.airspeed_mps))
        if found is None or found.note == NOTE_EITHER:
            break
    assert found is not None
    low = [p.at(15.0) for p in (above.profile, whole, found.profile)]
    ends = sorted((low[0].east, low[1].east))
    assert ends[0] < low[2].east < ends[1]
    apart = np.hypot(low[0].east - low[1].east, low[0].north - low[1].north)
    share = np.hypot(low[2].east - low[1].east, low[2].north - low[1].north) / apart
    assert low[2].worst_sd ** 2 >= share * (1.0 - share) * apart**2
