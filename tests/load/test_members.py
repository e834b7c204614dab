"""Who was in a load, on which clock, and who came down when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from worlds.loads import WorldLoad, make_day, make_load

from analyser.debrief import begin_every
from analyser.jump import Debrief
from analyser.load.clocks import on_one_clock
from analyser.load.flights import Flight, flights_of
from analyser.load.members import find_loads, same_jumper
from analyser.load.order import order_of
from analyser.load.rides import ride_of
from analyser.load.thresholds import LOAD


def begun(load: WorldLoad) -> list[Debrief]:
    return [begin_every(jump.recording)[0] for jump in load.jumps]


@pytest.mark.slow
def test_the_loads_of_a_day_are_told_apart() -> None:
    day = make_day(824001)
    whose = [n for n, load in enumerate(day) for _ in load.jumps]
    flights = flights_of([jump for load in day for jump in begun(load)])
    order = np.random.default_rng(3).permutation(len(flights)).tolist()
    found = find_loads([flights[k] for k in order])
    assert sorted(sorted({whose[order[m]] for m in load.members}) for load in found) == [[0], [1], [2]]
    assert sum(len(load.members) for load in found) == len(flights)


def test_clocks_come_together_by_the_ride() -> None:
    load = make_load(824002, 6, cut_share=0.0)
    flights = flights_of(begun(load))
    timed = on_one_clock(flights, find_loads(flights)[0])
    late = [f.clock_s + c + j.truth.latency_s for f, c, j in zip(timed, load.clock_s, load.jumps)]
    assert np.ptp(load.clock_s) > 1.0
    assert np.ptp(late) < 0.4
    assert max(f.clock_sd_s for f in timed) < 0.25


def test_heights_come_to_one_scale() -> None:
    """A barometer on a warm or cold day has its own metres (hypsometric equation); beside others in the aeroplane they show."""
    load = make_load(824003, 5, cut_share=0.0)
    jumps = begun(load)
    stretched = replace(jumps[0].track, agl_m=jumps[0].track.agl_m * 1.05)
    quality = replace(stretched.quality, altitude="barometric")
    jumps[0] = jumps[0].knowing(track=replace(stretched, quality=quality))
    flights = flights_of(jumps)
    timed = on_one_clock(flights, find_loads(flights)[0])
    plain = flights_of(begun(load))
    before = on_one_clock(plain, find_loads(plain)[0])[0].scale
    assert timed[0].scale / before == pytest.approx(1.0 / 1.05, abs=0.01)


def test_a_track_without_the_ride_joins_by_time_and_place() -> None:
    load = make_load(824004, 5, cut_share=0.0)
    jumps = begun(load)
    cut = []
    for jump, left in zip(load.jumps, load.exit_utc_s):
        rec = jump.recording
        cut.append(rec.slice(int(np.searchsorted(rec.time_s, left - 5.0)), len(rec)))
    jumps[2] = begin_every(cut[2])[0]
    flights = flights_of(jumps)
    found = find_loads(flights)
    assert [load.members for load in found] == [(0, 1, 2, 3, 4)]
    assert on_one_clock(flights, found[0])[2].clock_sd_s == LOAD.clock_sd_s


def test_far_fields_and_other_times_are_other_loads() -> None:
    one, other = make_load(824005, 4), make_load(824006, 4)
    assert len(find_loads(flights_of([*begun(one), *begun(other)]))) == 2


def test_two_recordings_of_one_body_are_seen() -> None:
    load = make_load(824007, 4, cut_share=0.0, clock_s=0.0)
    flights = flights_of(begun(load))
    twin = replace(flights[1], east_m=flights[1].east_m + 1.0, name="watch")
    assert same_jumper(flights[1], twin)
    assert not any(same_jumper(flights[i], flights[j]) for i in range(4) for j in range(i))


def test_two_aeroplanes_far_apart_have_no_clock_in_common() -> None:
    """One flies 20 km behind the other: no shift of the clocks brings them together, and none is sought beyond what a clock can be off."""
    t = np.arange(0.0, 200.0)
    climb = 100.0 + 5.0 * t
    ahead, behind = (
        Flight("x", t, 50.0 * t + east, 0.0 * t, climb, 195.0, 196.0, None, 0.3, 195, 3.0, 2.5)
        for east in (20_000.0, 0.0)
    )
    for pair in ((ahead, behind), (behind, ahead)):
        ride = ride_of(*pair)
        assert ride is not None
        assert not ride.one_aeroplane
        assert abs(ride.clock_s) <= LOAD.most_s + 1.0
        assert np.isfinite(ride.clock_sd_s)


def _landing(seconds: float, clock_sd_s: float) -> Flight:
    t = np.arange(3.0)
    return Flight("x", t, t, t, t, None, 0.0, seconds, 0.3, 0, 3.0, 2.5, clock_sd_s=clock_sd_s)


def test_order_and_what_is_too_close_to_tell() -> None:
    flights = [_landing(100.0, 0.1), _landing(90.0, 0.1), _landing(90.5, 0.1), _landing(101.5, 1.2)]
    order = order_of(flights, "landing")
    assert [m.who for m in order] == [1, 2, 0, 3]
    assert [m.tied for m in order] == [False, True, False, True]
    assert order_of(flights, "exit") == ()
