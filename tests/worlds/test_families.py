"""Jumps of every family: the same at every call, and consistent with their own truth."""

from __future__ import annotations

import numpy as np
import pytest

from worlds.families import FAMILIES, make_jump

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
    """Summed over the flight, velocity through the air plus gusts plus the mean wind at the height gives the path; what
    is left is the change of the wind in time within one height."""
    t = make_jump(family, seed).truth
    wind = t.wind(t.agl_m)
    for place, air, gust, mean in (
        (t.east_m, t.air_east, t.gust_east, wind[0]),
        (t.north_m, t.air_north, t.gust_north, wind[1]),
    ):
        velocity = air + gust + mean
        way = np.cumsum(0.5 * (velocity[1:] + velocity[:-1]) * np.diff(t.t_utc_s))
        assert np.max(np.abs(place[1:] - place[0] - way)) < 12.0


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
