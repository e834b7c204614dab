"""Units, angles, frame, atmosphere against published numbers and reference libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ambiance import Atmosphere
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import circmean

from analyser import angles, atmosphere
from analyser.frame import LocalFrame, apart_m
from analyser.units import DISPLAY_SYSTEMS, FOOT_M, KNOT_MPS, MPH_MPS, Unit, rounded

# ISO 2533:1975, geopotential height -> density over sea-level density
ISO_2533 = {
    0: 1.0, 500: 0.952872, 1000: 0.907463, 1500: 0.863728, 2000: 0.821624,
    2500: 0.781109, 3000: 0.742140, 3500: 0.704676, 4000: 0.668677, 5000: 0.600911,
}  # fmt: skip

# WMO-No. 8 convention (direction the wind comes from, clockwise from north); the same rows as MetPy 1.7.1 returns
CARDINAL = [((10, 10), 225.0), ((0, -5), 0.0), ((-1, 0), 90.0), ((1, 0), 270.0), ((0, 1), 180.0)]


@pytest.mark.parametrize(("height", "sigma"), ISO_2533.items())
def test_density_ratio_against_iso_2533(height: int, sigma: float) -> None:
    assert float(atmosphere.density_ratio(height)) == pytest.approx(sigma, rel=2e-6)


@pytest.mark.parametrize("elevation", [0.0, 800.0, 2000.0])
@pytest.mark.parametrize(("celsius", "qnh"), [(30.0, 1013.25), (-10.0, 1040.0), (25.0, 985.0)])
def test_density_of_a_day_against_a_reference_library(elevation: float, celsius: float, qnh: float) -> None:
    """p/(R T) with the pressure of the standard atmosphere (ambiance) at the height whose pressure has this QNH: the altimeter's definition."""
    # QNH: the standard pressure scaled so that the altimeter set to it shows the elevation (ICAO Doc 7488)
    level = Atmosphere(0.0)
    sea, gravity, gas, lapse = float(level.pressure[0]), 9.80665, 287.05287, 0.0065
    n = gas * lapse / gravity
    shift = (
        (1.0 - (qnh * 100.0 / sea) ** n) * 288.15 / lapse
    )  # height at which the standard atmosphere has the QNH
    there = Atmosphere(elevation + shift)
    density = float(there.pressure[0]) / (gas * (celsius + 273.15))
    wanted = density / float(Atmosphere(elevation).density[0])
    assert atmosphere.density_factor(celsius, qnh, elevation) == pytest.approx(wanted, rel=1e-4)


def test_density_ratio_against_a_reference_library() -> None:
    heights = np.arange(0.0, 4500.0, 250.0)
    ours = atmosphere.density_ratio(heights)
    theirs = Atmosphere(heights).density / Atmosphere(0.0).density
    assert np.allclose(ours, theirs, rtol=4e-4)  # geometric against geopotential height


def test_true_airspeed_factor_at_1000_m() -> None:
    assert float(atmosphere.true_airspeed_factor(1000.0)) == pytest.approx(1.04975, abs=1e-5)  # ISO 2533:1975


@pytest.mark.parametrize(("vector", "from_deg"), CARDINAL)
def test_wind_direction_convention(vector: tuple[float, float], from_deg: float) -> None:
    assert float(angles.wind_from_deg(*vector)) == pytest.approx(from_deg)
    speed = math.hypot(*vector)
    assert np.allclose(angles.wind_vector(speed, from_deg), vector, atol=1e-12)


def test_wind_components_of_10_from_225() -> None:
    east, north = angles.wind_vector(10.0, 225.0)  # MetPy 1.7.1: +7.0710678, +7.0710678
    assert (float(east), float(north)) == pytest.approx((7.0710678, 7.0710678))


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_signed_difference_is_the_short_way(a: float, b: float) -> None:
    d = float(angles.signed_difference_deg(a, b))
    assert -180.0 <= d < 180.0
    assert math.cos(math.radians(a - b)) == pytest.approx(math.cos(math.radians(d)), abs=1e-6)


def test_circular_mean_across_north() -> None:
    assert angles.circular_mean_deg([350.0, 10.0]) == pytest.approx(0.0, abs=1e-9)
    assert math.isnan(angles.circular_mean_deg([0.0, 180.0]))


def test_rotate_is_clockwise() -> None:
    assert np.allclose(angles.rotate(0.0, 1.0, 90.0), (1.0, 0.0), atol=1e-12)


def test_zermatt_matterhorn_enu() -> None:
    # published worked example (MathWorks, quoted by the pygeodesy tests)
    e, n, u = LocalFrame(46.017, 7.750).enu(45.976, 7.658, 4531.0, 1673.0)
    assert (float(e), float(n), float(u)) == pytest.approx((-7134.8, -4556.3, 2852.4), abs=0.06)


def test_octave_ned_example() -> None:
    # Octave mapping test: NED 1334.2518, -2543.5645, 359.6460
    e, n, u = LocalFrame(44.532, -72.782).enu(44.544, -72.814, 1340.0, 1699.0)
    assert (float(n), float(e), float(-u)) == pytest.approx((1334.2518, -2543.5645, 359.6460), abs=1e-3)


def test_flinders_peak_to_buninyong() -> None:
    # Geoscience Australia: 54972.271 m, azimuth 306°52'05.37"; the tangent plane shortens 55 km by about 0.7 m
    flinders = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
    buninyong = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
    e, n = LocalFrame(*flinders).to_local(*buninyong)
    azimuth = float(angles.compass_deg(e, n))
    assert math.hypot(float(e), float(n)) == pytest.approx(54972.271, abs=1.5)
    assert azimuth == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.01)


@pytest.mark.parametrize(
    ("bearing", "distance", "lat", "lon"),
    [
        (38, 3000, 10.02137267, 20.0168471),
        (45, 3000, 10.01917819, 20.0193493),
        (45, 1000, 10.00639286, 20.00644951),
    ],
)
def test_short_distances(bearing: float, distance: float, lat: float, lon: float) -> None:
    # pymap3d test_vincenty_vreckon, from (10, 20)
    e, n = LocalFrame(10.0, 20.0).to_local(lat, lon)
    assert math.hypot(float(e), float(n)) == pytest.approx(distance, abs=0.01)
    assert float(angles.compass_deg(e, n)) == pytest.approx(bearing, abs=1e-3)


@given(st.floats(-85, 85), st.floats(-180, 180), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_frame_round_trip_and_geodesic(lat: float, lon: float, east: float, north: float) -> None:
    frame = LocalFrame(lat, lon)
    la, lo = frame.to_geodetic(east, north)
    assert np.allclose(frame.to_local(la, lo), (east, north), atol=1e-4)
    s12 = Geodesic.WGS84.Inverse(lat, lon, float(la), float(lo))["s12"]
    assert s12 == pytest.approx(math.hypot(east, north), abs=0.02)


@pytest.mark.parametrize(
    ("lat", "lon", "north", "east"),
    [
        (49.7, -107.9, 4e-4, 3e-4),
        (-16.5, 179.9999, -2e-4, 3e-4),
        (64.0, 10.0, 0.0, 0.01),
        (49.7, -107.9, -0.008, -0.012),
    ],
)
def test_a_short_way_on_the_sphere_against_the_ellipsoid(
    lat: float, lon: float, north: float, east: float
) -> None:
    """GeographicLib; within the 0.6 % that a sphere is off."""
    there = (lon + east + 180.0) % 360.0 - 180.0
    exact = Geodesic.WGS84.Inverse(lat, lon, lat + north, there)["s12"]
    assert float(apart_m(lat, lon, lat + north, there)) == pytest.approx(exact, rel=6e-3)


def test_a_wrong_origin_is_refused() -> None:
    with pytest.raises(ValueError, match="latitude"):
        LocalFrame(91.0, 0.0)


@pytest.mark.parametrize(
    ("value", "sd", "expected"),
    # Particle Data Group, Review of Particle Physics, introduction §5.3: 0.827 ± 0.119 -> 0.83 ± 0.12; 0.827 ± 0.367 -> 0.8 ± 0.4
    [
        (0.827, 0.119, ("0.83", "0.12")),
        (0.827, 0.367, ("0.8", "0.4")),
        (14.674, 0.964, ("14.7", "1.0")),
        (1234.0, 180.0, ("1230", "180")),
    ],
)
def test_rounding_by_the_error(value: float, sd: float, expected: tuple[str, str]) -> None:
    assert rounded(value, sd) == expected


def test_units_show_the_trade_numbers() -> None:
    assert 1000 * FOOT_M / 60 == pytest.approx(5.08)  # 1,000 ft/min, exact
    assert 25 * KNOT_MPS * 100 == pytest.approx(
        1286.1, abs=0.1
    )  # F/NLF drift over 100 s at 25 kt, exact form
    assert 10 * MPH_MPS * 180 == pytest.approx(0.5 * 1609.344)  # 10 mph for 3 min is half a mile
    assert Unit("ft", FOOT_M, 10.0).text(91.44) == "300 ft"
    assert Unit("ft", FOOT_M, 10.0).text(None) == "–"
    units = {name: (s.height.label, s.speed.label, s.distance.label) for name, s in DISPLAY_SYSTEMS.items()}
    assert units == {  # the table of docs/interface.md
        "us": ("ft", "mph", "ft"),
        "uk": ("ft", "kt", "m"),
        "nordic": ("ft", "kt", "m"),
        "metric": ("m", "m/s", "m"),
    }


def test_no_minus_zero() -> None:
    assert rounded(-0.2, None)[0] == "0"


@pytest.mark.parametrize(("below", "above"), [(0, 2000), (1000, 3000), (2000, 500)])
def test_density_altitude_reads_the_table_of_iso_2533_backwards(below: int, above: int) -> None:
    found = atmosphere.density_altitude(below, ISO_2533[above] / ISO_2533[below])
    assert found == pytest.approx(above, abs=0.1)


def test_rotate_turns_east_to_south() -> None:
    assert np.allclose(angles.rotate(1.0, 0.0, 90.0), (0.0, -1.0), atol=1e-12)
    assert np.allclose(angles.rotate(3.0, 4.0, 180.0), (-3.0, -4.0), atol=1e-12)


@pytest.mark.parametrize(
    ("value", "step", "expected"),
    [
        (1234.0, 10.0, "1230"),
        (1234.0, 5.0, "1235"),
        (1234.4, 1.0, "1234"),
        (1.26, 0.1, "1.3"),
        (0.126, 0.01, "0.13"),
    ],
)
def test_without_an_error_a_value_is_rounded_to_the_step(value: float, step: float, expected: str) -> None:
    assert rounded(value, None, step=step) == (expected, "")


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 360.0), st.integers(1, 5)), min_size=1, max_size=8))
def test_a_weight_of_three_is_the_direction_three_times(rows: list[tuple[float, int]]) -> None:
    """A direction with a whole weight counts as if it stood there so many times: SciPy's mean of the long list is the weighted one of the short."""
    deg, weights = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    every = np.repeat(deg, weights.astype(int))
    if abs(np.mean(np.exp(1j * np.radians(every)))) < 1e-3:
        return
    expected = circmean(every, high=360.0, low=0.0)
    found = angles.circular_mean_deg(deg, weights)
    assert float(angles.signed_difference_deg(found, expected)) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("toward", "along", "across"),
    [(0.0, 4.0, 3.0), (90.0, 3.0, -4.0), (180.0, -4.0, -3.0), (270.0, -3.0, 4.0), (36.8699, 5.0, 0.0)],
)
def test_along_a_direction_and_to_its_right(toward: float, along: float, across: float) -> None:
    assert np.allclose(angles.along_across(3.0, 4.0, toward), (along, across), atol=1e-4)


def test_a_direction_without_an_error_has_no_sign_for_one() -> None:
    assert [angles.bearing_text(7.2, sd) for sd in (None, 0.0, math.nan, 3.6)] == [
        "007°",
        "007°",
        "007°",
        "007 ± 4°",
    ]
