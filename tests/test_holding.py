"""Named stretches of made-up holding flight: what is flown is what is named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pattern_cases import TRIM, track_of, uniform

from analyser.flight import Trim
from analyser.holding import every_second, name_stretches
from analyser.track import Track
from analyser.wind.profile import WindProfile

WIND = uniform(5.0, 0.0, sd=0.3, top=2000.0)


def air_path(
    parts: list[tuple[float, float, float, float]], wind: WindProfile, start_agl: float = 1500.0
) -> Track:
    """Parts (seconds, heading at the start, turn rate [deg/s], airspeed share): flown in uniform wind, sink at the same share."""
    dt = 0.25
    t, east, north, agl = 0.0, 0.0, 0.0, start_agl
    rows = [(t, east, north, agl)]
    for seconds, heading, rate, share in parts:
        for _ in range(round(seconds / dt)):
            factor = float(TRIM.factor(agl))
            u, v = (float(w) for w in wind.vector(agl))
            speed = share * TRIM.airspeed_mps * factor
            east += (speed * np.sin(np.radians(heading)) + u) * dt
            north += (speed * np.cos(np.radians(heading)) + v) * dt
            agl -= share * TRIM.sink_mps * factor * dt
            heading += rate * dt
            t += dt
            rows.append((t, east, north, agl))
    return track_of(rows, step_s=0.25, after_s=0.01)


def names(parts, wind: WindProfile = WIND) -> list[str]:
    track = air_path(parts, wind)
    return [s.name for s in name_stretches(track, 0, len(track), wind, TRIM)]


def test_each_by_its_name() -> None:
    assert names([(20.0, 0.0, 0.0, 1.0)]) == ["holding"]
    assert names([(20.0, 180.0, 0.0, 1.0)]) == ["running"]
    assert names([(20.0, 60.0, 0.0, 1.0)]) == ["crabbing across the wind line"]
    assert names([(20.0, 0.0, 0.0, 0.5)]) == ["wind check"]
    assert names([(20.0, 5.0, 0.0, 1.0)], uniform(12.5, 0.0, top=2000.0)) == ["backing up"]
    assert names([(20.0, 200.0, 0.0, 1.0)], uniform(0.4, 0.0, top=2000.0)) == ["straight"]


def test_a_whole_holding_flight_in_order() -> None:
    flight = [
        (20.0, 10.0, 0.0, 1.0),
        (6.0, 10.0, 28.0, 1.0),
        (25.0, 178.0, 0.0, 1.0),
        (28.0, 178.0, -26.0, 1.0),
        (20.0, 178.0 - 26.0 * 28.0, 0.0, 1.0),
        (4.0, 170.0, 22.0, 1.0),
        (20.0, 275.0, 0.0, 1.0),
        (4.0, 275.0, 21.0, 1.0),
        (15.0, 359.0, 0.0, 0.5),
    ]
    found = names(flight)
    assert found[:4] == ["holding", "running", "spiral", "running"] or found[2] == "spiral"
    assert "crabbing across the wind line" in found
    assert found[-1] == "wind check"


def test_a_spiral_and_how_far_the_wind_carried_it() -> None:
    """Common practice, no source: spirals drift with the wind, their centre moves at its speed."""
    track = air_path([(10.0, 90.0, 0.0, 1.0), (30.0, 90.0, 36.0, 1.0), (10.0, 90.0, 0.0, 1.0)], WIND)
    spiral = next(s for s in name_stretches(track, 0, len(track), WIND, TRIM) if s.name == "spiral")
    seconds = spiral.end_s - spiral.start_s
    assert seconds == pytest.approx(30.0, abs=3.0)
    assert spiral.turned_deg == pytest.approx(1080.0, abs=90.0)
    assert spiral.heading_deg is None
    assert spiral.drift_m == pytest.approx(5.0 * seconds, rel=1e-6)
    assert spiral.drift_north_m < 0.0
    assert spiral.moved_north_m == pytest.approx(spiral.drift_north_m, abs=2.5 * 17.0)


def test_a_wind_check_tells_the_wind() -> None:
    track = air_path([(20.0, 4.0, 0.0, 0.55)], WIND)
    check = name_stretches(track, 0, len(track), WIND, TRIM)[0].wind_check
    assert check is not None
    assert check.told_from_deg == pytest.approx(4.0, abs=1.0)
    assert check.told_speed_mps == pytest.approx(5.0, abs=0.3)
    assert check.wind_speed_mps == pytest.approx(5.0)
    assert check.wind_from_deg % 360.0 == pytest.approx(0.0, abs=1e-6)
    assert check.told_speed_sd_mps > 0.5


def test_the_wrong_way_round_is_no_wind_check() -> None:
    """Slow over the ground but not slowed: a wind near the airspeed, flown in full flight, is holding."""
    assert names([(20.0, 0.0, 0.0, 1.0)], uniform(9.6, 0.0, top=2000.0)) == ["holding"]


def test_short_flights_and_missing_heights_name_nothing() -> None:
    track = air_path([(6.0, 0.0, 0.0, 1.0)], WIND)
    assert name_stretches(track, 0, len(track), WIND, TRIM) == ()
    assert name_stretches(track, 0, 3, WIND, Trim(10.0, 4.0)) == ()


def test_where_the_wind_is_undetermined_nothing_is_named() -> None:
    blind = replace(WIND, status=("undetermined",) * len(WIND.status))
    track = air_path([(20.0, 0.0, 0.0, 1.0)], WIND)
    assert name_stretches(track, 0, len(track), blind, TRIM) == ()


@pytest.mark.parametrize("hours", [0.5, 3.0, 2000.0])
def test_seconds_do_not_grow_without_end(hours: float) -> None:
    seconds = every_second(12.5, 12.5 + 3600.0 * hours)
    assert seconds.size <= 7201
    assert seconds[0] == 12.5
    assert np.all(np.diff(seconds) >= 1.0 - 1e-9)
    assert seconds[-1] < 12.5 + 3600.0 * hours
