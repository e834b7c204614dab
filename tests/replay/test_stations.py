"""Where the final of a flown pattern counts as flown straight: down to the height of the flare, and no longer."""

from __future__ import annotations

import numpy as np
import pytest
from pattern_cases import fly_case, track_of, uniform

from analyser.angles import rotate
from analyser.flight import Air, Trim
from analyser.pattern import LegName
from analyser.replay.budget import budget
from analyser.replay.parts import FlownLeg
from analyser.replay.stations import (
    Again,
    _above_flare,
    _heading_sd_deg,
    _into_turns_sd,
    _with_own_error,
    between,
    draw_errors,
    station,
)
from analyser.replay.thresholds import REPLAY
from analyser.settings import Method, PatternSetup


def test_the_final_ends_at_the_height_of_the_flare() -> None:
    """From 90 m at 4 m/s down; fixes every half second."""
    track = track_of([(0.0, 0.0, 0.0, 90.0), (22.5, 0.0, 200.0, 0.0)])
    flare = Method().flare_height.value
    found = _above_flare(track, 5.0, 22.5)
    assert found == np.floor((90.0 - flare) / 4.0 / 0.5) * 0.5
    assert _above_flare(track, 5.0, 12.0) == 12.0  # landed above it: on a slope, or heights that are off
    assert _above_flare(track, 21.0, 22.5) is None
    assert _above_flare(track, float(found) - 0.5, 22.5) is None  # two fixes tell no direction
    assert _above_flare(track, float(found) - 1.0, 22.5) == found


def flown_exactly(position_sd: float = 0.0, n: int = 40) -> Again:
    """The plan of a wind from 20° flown exactly; all places of the track share an error, drawn ``n`` times."""
    wind = uniform(5.0, 20.0)
    case = fly_case(wind)
    errors = draw_errors(np.random.default_rng(2), n, position_sd, 0.0)
    track = track_of(case.flown.path, position_sd_m=position_sd, agl_sd_m=0.0)
    return Again(case.plan, case.flown, Air.still(case.trim, wind, n + 1), errors, track, case.landing)


@pytest.mark.parametrize("name", ["downwind", "base", "final"])
def test_a_leg_flown_at_trim_is_neither_fast_nor_slow(name: LegName) -> None:
    """No metres for the speed of a leg, down to the next turn as down to the ground (``_flown``, ``_start``); the sink between two turns is full."""
    found = station(flown_exactly(), name)
    assert found is not None
    assert found.flown is not None
    if name != "final":  # which is timed to the flare, and measured to the ground
        assert found.flown.sink_share[0] == pytest.approx(1.0, abs=0.02)
    assert [float(v[0]) for v in found.flown.by_speed] == pytest.approx([0.0, 0.0], abs=0.05)


@pytest.mark.parametrize("name", ["downwind", "base", "final"])
def test_an_error_that_all_places_share_moves_no_leg(name: LegName) -> None:
    """Begin and end of a leg are off by the same 20 m: the ground it covered is as if they were not (``_flown``, ``_start``)."""
    again = flown_exactly(position_sd=20.0)
    found = station(again, name)
    assert found is not None
    assert found.flown is not None
    own = np.hypot(*(found.flown.by_speed[i] - found.flown.by_speed[i][0] for i in (0, 1)))
    assert float(np.max(own)) < 0.25  # the place's own 2 m or so over a leg of 80 m of height
    assert found.start is not None
    for place, error in ((found.start.east_m, again.errors.east), (found.start.north_m, again.errors.north)):
        assert np.corrcoef(place, error)[0, 1] > 0.98


def test_where_a_turn_carried_the_flight_has_the_error_of_how_wings_turn() -> None:
    """Three tenths of the way through the turn, in every direction, though everything else is known exactly; nothing in the figure itself."""
    again = flown_exactly(n=400)
    last, here = station(again, "base"), station(again, "final")
    assert last is not None
    assert here is not None
    assert here.start is not None
    place = between(again, last, here)["place"]
    gate = again.flown.gate("final")
    assert gate is not None
    lost = gate.agl_m - float(np.ravel(here.start.agl_m)[0])
    assert lost > 5.0
    wanted = REPLAY.turn_speed_sd * again.air.trim.glide * lost
    for axis in place:
        assert float(np.std(axis[1:])) == pytest.approx(wanted, rel=0.15, abs=3.0)
        assert abs(float(axis[0])) < 0.3 * wanted


def test_a_nose_a_little_further_right_carries_a_leg_to_its_right() -> None:
    """The ground covered, turned clockwise by the drawn error of the heading: a way to the north ends further east, one to the east further south."""
    n = 200
    errors = draw_errors(np.random.default_rng(5), n, 0.0, 0.0)
    for covered in ((0.0, 2.5), (2.0, 0.0), (-1.5, 1.0)):
        way = (np.full(n + 1, covered[0]), np.full(n + 1, covered[1]))
        leg = _with_own_error(FlownLeg.as_planned(n + 1), way, errors, (REPLAY.heading_sd_deg, 0.2))
        assert np.std(leg.off_deg[1:]) == pytest.approx(REPLAY.heading_sd_deg, rel=0.2)
        for i in range(n + 1):
            east, north = rotate(*covered, float(leg.off_deg[i]))
            moved = float(east) - covered[0], float(north) - covered[1]
            small = 2.5 * float(np.radians(leg.off_deg[i])) ** 2
            assert (leg.by_direction[0][i], leg.by_direction[1][i]) == pytest.approx(moved, abs=small)


def test_beside_a_short_leg_the_turn_onto_it_counts_for_more() -> None:
    """A turn of so many seconds beside twice as many straight, as many, and next to none; by hand 0.15, 0.3 and the most of 0.45."""
    flown = fly_case(uniform(4.0, 0.0, sd=0.0)).flown
    turn = flown.leg("base").turn
    lasts = turn.end_s - turn.start_s
    assert [_into_turns_sd(flown, "base", k * lasts) for k in (2.0, 1.0, 0.1)] == pytest.approx(
        [0.15, 0.3, 0.45]
    )
    assert _into_turns_sd(flown, "crosswind", lasts) == 0.0, "no such leg, no turn onto it"


def test_how_far_a_heading_counts_into_the_turn_is_drawn_for_the_whole_leg() -> None:
    n = 400
    errors = draw_errors(np.random.default_rng(6), n, 0.0, 0.0)
    calm = np.zeros(n + 1), np.zeros(n + 1)
    flown = FlownLeg.as_planned(n + 1)._replace(by_direction=(np.full(n + 1, 2.0), np.zeros(n + 1)))
    leg = _with_own_error(flown, calm, errors, (0.0, 0.25))
    assert leg.share[0] == 1.0
    assert np.std(leg.share[1:]) == pytest.approx(0.25, rel=0.15)
    assert leg.by_direction[0] == pytest.approx(2.0 * leg.share)


def test_the_place_of_an_entry_is_not_that_of_the_turn_after_its_crosswind_leg() -> None:
    """Entered 60 m off by a crosswind leg: the place has those metres with the error of a place, the turn onto downwind has its own."""
    case = fly_case(uniform(4.0, 0.0, sd=0.0), setup=PatternSetup(crosswind_m=366.0), entry_error=(60.0, 0.0))
    track = track_of(case.flown.path, step_s=0.2, position_sd_m=2.0, agl_sd_m=1.0)
    errors = {"position_sd_m": 2.0, "agl_sd_m": 1.0}
    rows = budget(case.plan, case.flown, case.landing, case.trim, case.wind, track=track, **errors)
    entry = rows[1]
    place, turn = entry.part("place"), entry.part("turn")
    assert np.hypot(place.along_m, place.across_m) == pytest.approx(60.0, abs=5.0)
    assert np.hypot(turn.along_m, turn.across_m) < 8.0
    assert np.hypot(turn.along_sd_m, turn.across_sd_m) > 2.0 * np.hypot(place.along_sd_m, place.across_sd_m)
    assert sum(p.along_m for p in entry.parts) == pytest.approx(entry.along_m, abs=1e-9)
    assert sum(p.across_m for p in entry.parts) == pytest.approx(entry.across_m, abs=1e-9)


def test_gusts_count_in_the_heading_of_a_leg() -> None:
    """More wind and a slower wing: a larger error of the heading. In calm air gusts of a fifth of a metre a second remain."""
    sds = []
    for speed, airspeed in ((0.0, 10.0), (6.0, 10.0), (6.0, 7.0)):
        trim = Trim(airspeed, airspeed / 2.5)
        sds.append(_heading_sd_deg(Air.still(trim, uniform(speed, 20.0)), 180.0, 70.0))
    assert REPLAY.heading_sd_deg < sds[0] < 1.5
    assert 1.5 < sds[1] < sds[2] < 6.0


def test_a_leg_of_hardly_any_straight_flight_has_its_heading_alone() -> None:
    """Track due north in a wind from the west: the nose holds it at arcsin(4/10) to the left; flown due north instead, the wind carries aside."""
    trim = Trim(10.0, 4.0, standard_air=False)
    air = Air.still(trim, uniform(4.0, 270.0), 2)
    leg = FlownLeg.headed(air, 0.0, np.full(2, 150.0), np.zeros(2))
    assert not leg.timed
    assert leg.off_deg == pytest.approx(np.degrees(np.arcsin(0.4)))
    assert leg.by_direction[0] == pytest.approx(4.0 / 4.0)  # a metre aside for each metre of height
    assert leg.by_direction[1] == pytest.approx((10.0 - np.sqrt(84.0)) / 4.0)
    assert float(np.max(np.abs(leg.by_speed))) == 0.0
