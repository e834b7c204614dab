"""Made-up air against published numbers and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyser.synthetic.air import (
    Air,
    Column,
    Gusts,
    VerticalCell,
    air_from_points,
    airspeed_factor,
    gust_length,
    power_law_air,
    uniform_air,
)


def plain_power_law(u10: float, factor: float, from_deg: float = 270.0, veer: float = 0.0) -> Air:
    return power_law_air(
        np.random.default_rng(0),
        u10_mps=u10,
        factor=factor,
        extra_mps=0.0,
        from_deg=from_deg,
        veer_deg=veer,
        wiggle_mps=0.0,
    )


def test_power_law_against_a_published_example() -> None:
    """8 m/s at 10 m with the exponent 0.143 make 11.1 m/s at 100 m (worked example on novasolver's wind page)."""
    air = plain_power_law(8.0, 150.0**0.143)
    assert float(air.mean(100.0)[0]) == pytest.approx(11.12, abs=0.01)


@pytest.mark.parametrize(
    ("east", "north", "from_deg"),
    [(0.0, -5.0, 360.0), (-5.0, 0.0, 90.0), (5.0, 0.0, 270.0), (0.0, 5.0, 180.0)],
)
def test_direction_is_where_the_wind_comes_from(east: float, north: float, from_deg: float) -> None:
    """Cardinal points of the convention, as MetPy's ``wind_direction`` has them; 225° and 10 m/s give +7.07, +7.07."""
    got = uniform_air(5.0, from_deg).mean(300.0)
    assert (float(got[0]), float(got[1])) == pytest.approx((east, north), abs=1e-9)
    diagonal = plain_power_law(10.0, 1.5, 225.0).mean(10.0)
    assert (float(diagonal[0]), float(diagonal[1])) == pytest.approx((7.0710678, 7.0710678), abs=1e-6)


def test_veer_is_clockwise_with_height() -> None:
    air = plain_power_law(5.0, 1.5, from_deg=0.0, veer=30.0)
    east, north = (float(w) for w in air.mean(1500.0))
    assert math.degrees(math.atan2(-east, -north)) == pytest.approx(30.0, abs=0.01)


@pytest.mark.parametrize(
    ("altitude_m", "density_ratio"),
    [
        (0.0, 1.0),
        (500.0, 0.952872),
        (1000.0, 0.907463),
        (1500.0, 0.863728),
        (2000.0, 0.821624),
        (4000.0, 0.668677),
    ],
)
def test_airspeed_factor_against_iso_2533(altitude_m: float, density_ratio: float) -> None:
    """Density ratios of the table in ISO 2533:1975."""
    assert airspeed_factor(altitude_m) == pytest.approx(density_ratio**-0.5, abs=2e-4)


def test_wiggles_have_the_asked_size() -> None:
    rms = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        air = power_law_air(
            rng, u10_mps=1e-3, factor=1.0001, extra_mps=0.0, from_deg=0.0, veer_deg=0.0, wiggle_mps=0.35
        )
        low = air.agl_m <= 1500.0
        rms.append(float(np.sqrt(np.mean(air.east[low] ** 2))))
    assert np.mean(rms) == pytest.approx(0.35, rel=0.1)


def test_gusts_have_the_asked_spread_and_length() -> None:
    """Exponential correlation: after one length scale of way 1/e is left."""
    agl = 100.0
    air = Air(np.array([0.0, 2000.0]), np.zeros(2), np.zeros(2), gust_sd=0.8)
    gusts = Gusts(air, np.random.default_rng(1))
    series = np.array([gusts.step(1.0, agl) for _ in range(150_000)])
    wanted = 0.8 * math.exp(-agl / 600.0) + 0.15
    assert series.std(axis=0) == pytest.approx([wanted, wanted], rel=0.05)
    lag = round(gust_length(agl))
    left = np.mean(series[:-lag] * series[lag:], axis=0) / series.var(axis=0)
    assert left == pytest.approx([math.exp(-1.0)] * 2, abs=0.06)


def test_gust_length_grows_from_40_to_300_metres() -> None:
    assert gust_length(0.0) == 40.0
    assert gust_length(1000.0) == pytest.approx(300.0)
    assert gust_length(3000.0) == 300.0


def test_still_air_has_no_gusts() -> None:
    air = plain_power_law(6.0, 1.5).still()
    gusts = Gusts(air, np.random.default_rng(2))
    assert [gusts.step(5.0, 50.0) for _ in range(5)] == [(0.0, 0.0)] * 5


def test_change_with_time_and_vertical_cells() -> None:
    air = Air(
        np.array([0.0, 2000.0]), np.zeros(2), np.zeros(2), cells=(VerticalCell(10.0, 20.0, 1.0),),
        change_east=2.0, change_start_s=10.0, change_end_s=30.0,
    )  # fmt: skip
    assert [float(air.mean(100.0, t)[0]) for t in (0.0, 20.0, 50.0)] == pytest.approx([0.0, 1.0, 2.0])
    column = Column(air)
    assert column.mean(100.0, 20.0)[0] == pytest.approx(1.0)
    assert [column.up(t) for t in (5.0, 20.0, 40.0)] == [0.0, 1.0, 0.0]


def test_scalar_look_up_equals_the_arrays() -> None:
    air = power_law_air(
        np.random.default_rng(5), u10_mps=4.0, factor=1.6, extra_mps=1.0, from_deg=77.0, veer_deg=20.0
    )
    column = Column(air)
    for agl in (0.0, 3.0, 57.3, 801.0, 2222.0):
        assert column.mean(agl, 0.0) == pytest.approx([float(w) for w in air.mean(agl)], abs=1e-9)


def test_air_from_points_is_linear_in_the_vector() -> None:
    air = air_from_points([(300.0, 10.0, 270.0), (0.0, 10.0, 180.0)])
    assert [float(w) for w in air.mean(150.0)] == pytest.approx([5.0, 5.0])
