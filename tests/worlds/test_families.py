"""Jumps of every family: the same at every call, and consistent with their own truth."""

from __future__ import annotations

import numpy as np
import pytest

from worlds.families import FAMILIES, OPEN_STYLES, make_jump
from worlds.families.day import Day
from worlds.families.kinematic import Kinematic, Tables
from worlds.families.make import fly
from worlds.families.mean_winds import log_law
from worlds.families.persona import BRAKING, STYLE_NAMES, draw_persona
from worlds.families.sky import Change, Sky
from worlds.families.tell import crossed_wind

SEEDS = (11, 12)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_same_seed_gives_the_same_jump(family: str) -> None:
    first, again, other = make_jump(family, 3), make_jump(family, 3), make_jump(family, 4)
    assert np.array_equal(first.recording.lat_deg, again.recording.lat_deg)
    assert np.array_equal(first.truth.wind_east, again.truth.wind_east)
    assert first.truth.landing_lat != other.truth.landing_lat


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("seed", SEEDS)
def test_places_are_air_and_wind_added_up(family: str, seed: int) -> None:
    """Summed over the flight, velocity through the air plus gusts plus the mean wind at the height gives the path; left is the change
    of the wind in time within one height, and that a parafoil hangs in the air 7 m above the wearer."""
    t = make_jump(family, seed).truth
    wind = t.wind(t.agl_m)
    for place, air, gust, mean in (
        (t.east_m, t.air_east, t.gust_east, wind[0]),
        (t.north_m, t.air_north, t.gust_north, wind[1]),
    ):
        velocity = air + gust + mean
        way = np.cumsum(0.5 * (velocity[1:] + velocity[:-1]) * np.diff(t.t_utc_s))
        assert np.max(np.abs(place[1:] - place[0] - way)) < 0.05 * (t.t_utc_s[-1] - t.t_utc_s[0])


@pytest.mark.slow
@pytest.mark.parametrize("family", FAMILIES)
def test_gates_phases_and_landing_fit_together(family: str) -> None:
    for seed in range(20, 26):
        t = make_jump(family, seed).truth
        assert [p.name for p in t.phases] == [
            "ground before",
            "climb",
            "free fall",
            "opening",
            "canopy",
            "ground after",
        ]
        assert all(a.end_utc_s == b.start_utc_s for a, b in zip(t.phases, t.phases[1:]))
        heights = [g.agl_m for g in t.gates]
        assert heights == sorted(heights, reverse=True)
        assert t.opening_utc_s is not None
        assert t.settled_utc_s is not None
        assert t.opening_utc_s <= t.settled_utc_s < t.gates[0].utc_s < t.landing_utc_s
        assert t.wind_table()[0][:4].tolist() == [0.0, 10.0, 25.0, 50.0]
        for gate in t.gates:
            assert gate.agl_m == pytest.approx(float(np.interp(gate.utc_s, t.t_utc_s, t.agl_m)), abs=1.0)
        assert np.hypot(t.east_m[-1] - t.landing_east_m, t.north_m[-1] - t.landing_north_m) < 0.5


def test_the_wind_of_a_height_is_that_of_when_it_was_crossed() -> None:
    """Against the plain average over the rows within 12.5 m of the height, weighted alike."""
    streams = [np.random.default_rng(s) for s in (1, 2, 3)]
    sky = Sky("log", log_law(5.0, 0.1), Day(200.0), Change((0.6, -0.4), (1.0, 0.5), 300.0, 1.0), None, None)
    craft = Kinematic(Tables(opening_s=4.0), sky, 1000.0, 0.0, streams[0])
    flown = fly(craft, draw_persona(streams[1]), streams[2])
    heights, east, north = crossed_wind(flown)
    for h in (50.0, 300.0, 700.0):
        near = np.abs(flown.rows[:, 3] - h) <= 12.5
        want = sky.mean(h, flown.rows[near, 0])
        assert np.interp(h, heights, east) == pytest.approx(float(np.mean(want[0])), abs=0.01)
        assert np.interp(h, heights, north) == pytest.approx(float(np.mean(want[1])), abs=0.01)


def test_flights_of_few_headings_have_few() -> None:
    for family in FAMILIES:
        t = make_jump(family, 5, OPEN_STYLES[0]).truth
        begin = (t.settled_utc_s or t.t_utc_s[0]) + 8.0
        above = (t.agl_m > t.gates[0].agl_m + 220.0) & (t.t_utc_s > begin)
        assert np.ptp(np.unwrap(np.radians(t.heading_deg[above]))) < np.radians(45.0)


def test_pilots_differ() -> None:
    """Every way of holding, of braking and every legs' order comes up; stowed brakes stay for 3 to 30 s; landings stay within 40° of the wind."""
    people = [draw_persona(np.random.default_rng(s)) for s in range(300)]
    assert {p.style for p in people} == set(STYLE_NAMES)
    assert {p.braking for p in people} == set(BRAKING)
    assert {len(p.legs) for p in people} == {3, 4}
    assert all(3.0 <= p.stowed_s <= 30.0 and abs(p.off_wind_deg) <= 40.0 for p in people)
    assert sum(abs(p.off_wind_deg) > 20.0 for p in people) > 20
    assert {p.by_track for p in people} == {True, False}
    assert sum("twists" in p.label for p in people) > 5
