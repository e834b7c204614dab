"""Brakes on final from the sink: against the forward model flown with a slower wing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ambiance import Atmosphere
from pattern_cases import TRIM, fly_case, track_of, uniform

from analyser.flight import Air, Order, Start, Trim, fly
from analyser.pattern import Pattern
from analyser.replay.sink import _along, brakes_on_final
from analyser.wind.profile import WindProfile


def braked_final(share: float, wind_mps: float, trim: Trim = TRIM):
    """A final flown at ``share`` of trim sink and airspeed (glide unchanged), as a track; what it cost against full flight."""
    wind = uniform(wind_mps, 0.0, sd=0.2)
    case = fly_case(wind, trim=trim)
    last = case.flown.leg("final")
    at = next(n for n in case.flown.path if n[0] >= last.start_s)
    slow = Trim(share * trim.airspeed_mps, share * trim.sink_mps)
    start = Start(at[1], at[2], at[3])
    order = [Order("final", at[3], 0.0)]
    path = fly(Air.still(slow, wind), start, order).path()
    full = fly(Air.still(trim, wind), start, order).landing
    rows = [n for n in case.flown.path if n[0] < at[0]] + [(at[0] + t, e, n, h) for t, e, n, h in path]
    landing = replace(case.landing, t_s=rows[-1][0], north_m=rows[-1][2])
    return track_of(rows, step_s=0.5), case, landing, wind, rows[-1][2] - float(full.north_m[0])


@pytest.mark.parametrize(("share", "wind"), [(0.7, 6.0), (0.8, 4.0), (0.6, 2.0)])
def test_the_metres_that_brakes_took(share: float, wind: float) -> None:
    track, case, landing, profile, cost = braked_final(share, wind)
    found = brakes_on_final(track, case.flown, landing, case.trim, profile, slope=(1.0, 0.45))
    assert found is not None
    assert found.share == pytest.approx(share, abs=0.02)
    assert cost < -5.0
    assert found.along_m == pytest.approx(cost, rel=0.15)
    unknown = brakes_on_final(track, case.flown, landing, case.trim, profile)
    assert abs(unknown.along_m - cost) < unknown.along_sd_m
    assert found.extra_s > 0.0
    assert found.along_sd_m > 0.0


def test_full_flight_explains_nothing() -> None:
    track, case, landing, profile, cost = braked_final(1.0, 5.0)
    found = brakes_on_final(track, case.flown, landing, case.trim, profile)
    assert found is not None
    assert cost == pytest.approx(0.0, abs=1.5)
    assert found.along_m == pytest.approx(0.0, abs=1.5)
    assert found.share == pytest.approx(1.0, abs=0.01)


def test_without_a_final_nothing_is_said() -> None:
    track, case, landing, profile, _ = braked_final(0.8, 5.0)
    assert brakes_on_final(track, Pattern("other", None, None), landing, case.trim, profile) is None


@pytest.mark.parametrize(("tail", "cross"), [(0.0, 0.0), (-3.0, 0.0), (2.0, 6.0), (-1.0, -6.0), (0.0, 8.0)])
def test_the_metres_of_brakes_in_a_wind_from_the_side(tail: float, cross: float) -> None:
    """An airspeed of 10 m/s that holds a track goes √(10² − cross²) + tail along it. With the airspeed kept (slope 0), sinking at 3 instead of
    4 m/s for 20 s leaves five seconds more of that way; with the glide kept (slope 1) only five seconds more of the tail wind."""
    wind = WindProfile(
        np.array([0.0, 600.0]), np.full(2, cross), np.full(2, tail), np.eye(4), ("measured",) * 2, ("",) * 2
    )
    trim = Trim(10.0, 4.0, standard_air=False)
    t = np.arange(0.0, 20.5, 0.5)
    forward = np.sqrt(100.0 - cross**2)
    for slope, metres in ((0.0, 5.0 * (forward + tail)), (1.0, 5.0 * tail)):
        along, share, extra = _along(trim, wind, t, 70.0 - 3.0 * t, 0.0, slope, 1.0)
        assert along == pytest.approx(metres)
        assert (share, extra) == pytest.approx((0.75, 5.0))


def test_brakes_in_thin_air_and_beside_a_faster_sink() -> None:
    """At 2,500 m above sea level full flight is 1/√σ = 1.13 times as fast and sinks as much faster; beside a full sink of 5 m/s, 3 m/s are 0.6."""
    wind = WindProfile(
        np.array([0.0, 600.0]), np.full(2, 6.0), np.full(2, 2.0), np.eye(4), ("measured",) * 2, ("",) * 2
    )
    trim = Trim(10.0, 4.0, elevation_m=2030.0)
    faster = float(1.0 / np.sqrt(Atmosphere(2500.0).density[0] / 1.225))
    t = np.arange(0.0, 20.5, 0.5)
    for scale, share in ((1.0, 0.75), (1.25, 0.6)):
        forward = np.sqrt((10.0 * faster) ** 2 - 36.0)
        found = _along(trim, wind, t, 500.0 - 3.0 * faster * t, 0.0, 0.0, scale)
        assert found[0] == pytest.approx(20.0 * (1.0 - share) * (forward + 2.0), rel=5e-3)
        assert found[1:] == pytest.approx((share, 20.0 * (1.0 - share)), rel=5e-3)
