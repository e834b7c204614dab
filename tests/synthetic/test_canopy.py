"""How a made-up canopy flies, against the steady gliding turn, published turn tables and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyser.synthetic.air import uniform_air
from analyser.synthetic.canopy import CanopyModel, CanopyPath, Flight, Pilot, integrate, steady

G = 9.80665
SEA_LEVEL_WING = CanopyModel(airspeed_mps=10.0, sink_mps=4.0)


def hold_bank(flight: Flight, bank_deg: float, seconds: float) -> Pilot:
    while flight.t < seconds - 1e-9:
        flight.bank_cmd = math.radians(bank_deg)
        yield


def flown(
    wing: CanopyModel,
    bank_deg: float,
    seconds: float,
    wind: tuple[float, float] = (0.0, 0.0),
    agl: float = 900.0,
) -> CanopyPath:
    flight = Flight(wing, agl, 0.0)
    return integrate(flight, uniform_air(*wind), hold_bank(flight, bank_deg, seconds), None, elevation_m=-agl)


@pytest.mark.parametrize(
    ("bank", "speed", "sink", "rate", "radius", "circle_s"),
    [
        (10.0, 11.44, 3.87, 8.2, 80.0, 43.9),
        (20.0, 11.63, 4.12, 16.6, 40.0, 21.7),
        (30.0, 11.94, 4.59, 25.4, 27.0, 14.2),
        (40.0, 12.36, 5.38, 35.0, 20.0, 10.3),
        (45.0, 12.60, 5.94, 40.3, 18.0, 8.9),
        (60.0, 13.22, 8.82, 61.2, 12.0, 5.9),
    ],
)
def test_steady_turn_against_the_table(
    bank: float, speed: float, sink: float, rate: float, radius: float, circle_s: float
) -> None:
    """Steady gliding turn without sideslip, 12 m/s at a glide of 3 (table worked out from the textbook equations)."""
    glide = math.atan(1.0 / 3.0)
    wing = CanopyModel(airspeed_mps=12.0 * math.cos(glide), sink_mps=12.0 * math.sin(glide))
    v, s = steady(wing, math.radians(bank), 0.0)
    assert (v, s) == pytest.approx((speed, sink), abs=0.006)
    omega = G * math.tan(math.radians(bank)) / math.hypot(v, s)
    assert math.degrees(omega) == pytest.approx(rate, abs=0.06)
    assert v / omega == pytest.approx(radius, abs=0.6)
    assert 2.0 * math.pi / omega == pytest.approx(circle_s, abs=0.06)


@pytest.mark.parametrize(
    ("bank", "load", "multiplier"), [(15, 1.04, 1.02), (30, 1.15, 1.07), (45, 1.41, 1.19), (60, 2.00, 1.41)]
)
def test_flat_glide_limit_against_welch_and_irving(bank: float, load: float, multiplier: float) -> None:
    """Load factor and speed multiplier of the K7 turn table in Welch & Irving's handbook for soaring pilots (flat glide)."""
    wing = CanopyModel(airspeed_mps=20.0, sink_mps=0.1)
    v, s = steady(wing, math.radians(bank), 0.0)
    assert v / 20.0 == pytest.approx(multiplier, abs=0.006)
    assert s / 0.1 == pytest.approx(load * multiplier, abs=0.02)


def test_flown_circles_have_the_radius_and_time_of_the_closed_form() -> None:
    bank = 30.0
    path = flown(SEA_LEVEL_WING, bank, 60.0)
    v, s = steady(SEA_LEVEL_WING, math.radians(bank), 0.0)
    omega = G * math.tan(math.radians(bank)) / math.hypot(v, s)
    late = path.t_s > 20.0
    turned = np.unwrap(np.radians(path.heading_deg[late]))
    assert (turned[-1] - turned[0]) / (path.t_s[-1] - path.t_s[late][0]) == pytest.approx(omega, rel=0.02)
    circle = path.t_s > path.t_s[-1] - 2.0 * math.pi / omega
    assert np.ptp(path.east_m[circle]) / 2.0 == pytest.approx(v / omega, rel=0.03)


def test_centres_of_circles_drift_with_the_wind() -> None:
    """Fact of the trade (common practice, no source): the drift of the circles is the wind."""
    bank, wind = 30.0, 6.0
    v, s = steady(SEA_LEVEL_WING, math.radians(bank), 0.0)
    period = 2.0 * math.pi * math.hypot(v, s) / (G * math.tan(math.radians(bank)))
    path = flown(SEA_LEVEL_WING, bank, 20.0 + 4.0 * period, wind=(wind, 250.0))
    i, j = (int(np.searchsorted(path.t_s, t)) for t in (20.0, 20.0 + 3.0 * period))
    seconds = path.t_s[j] - path.t_s[i]
    drift = ((path.east_m[j] - path.east_m[i]) / seconds, (path.north_m[j] - path.north_m[i]) / seconds)
    assert drift == pytest.approx(
        (wind * math.sin(math.radians(70.0)), wind * math.cos(math.radians(70.0))), abs=0.25
    )


@pytest.mark.parametrize(
    ("wind_mph", "downwind_m", "final_m"), [(0.0, 305.0, 229.0), (10.0, 441.0, 126.0), (15.0, 509.0, 75.0)]
)
def test_straight_legs_against_the_leg_table(wind_mph: float, downwind_m: float, final_m: float) -> None:
    """Legs of 400 ft and 300 ft at 10 m/s, sinking 4 m/s: length over ground = height / sink × ground speed."""
    wind = wind_mph * 0.44704
    for feet, heading, length in ((400.0, 180.0, downwind_m), (300.0, 0.0, final_m)):
        flight = Flight(SEA_LEVEL_WING, feet * 0.3048, math.radians(heading))
        path = integrate(flight, uniform_air(wind, 0.0), hold_bank(flight, 0.0, 300.0), None)
        assert abs(path.north_m[-1]) == pytest.approx(length, abs=3.5)


def test_brakes_take_airspeed_and_sink_together() -> None:
    wing = CanopyModel(airspeed_mps=10.0, sink_mps=4.0, brake_loss=0.42, half_brake_sink=0.25)
    half, full = steady(wing, 0.0, 0.5), steady(wing, 0.0, 1.0)
    assert half == pytest.approx((10.0 * 0.79, 3.0))
    assert full == pytest.approx((5.8, 3.6))


def test_airspeed_overshoots_like_a_second_order_system() -> None:
    """After the brakes are let up: overshoot exp(−πζ/√(1−ζ²)) at half the damped period (textbook)."""
    wing = CanopyModel(airspeed_mps=10.0, sink_mps=4.0, period_s=4.5, damping=0.6)

    def release(flight: Flight) -> Pilot:
        flight.brake = 0.5
        while flight.t < 20.0:
            yield
        flight.brake = 0.0
        while flight.t < 40.0:
            yield

    flight = Flight(wing, 900.0, 0.0)
    path = integrate(flight, uniform_air(0.0, 0.0), release(flight), None, elevation_m=-900.0)
    speed = np.hypot(path.air_east, path.air_north)
    before, after = speed[path.t_s < 20.0][-1], speed[-1]
    overshoot = (speed.max() - after) / (after - before)
    assert overshoot == pytest.approx(math.exp(-math.pi * 0.6 / math.sqrt(1.0 - 0.36)), abs=0.02)
    assert path.t_s[speed.argmax()] - 20.0 == pytest.approx(0.5 * 4.5 / math.sqrt(1.0 - 0.36), abs=0.3)


@pytest.mark.parametrize(
    ("altitude_m", "gain"), [(300.0, 0.015), (915.0, 0.045), (1500.0, 0.076), (2440.0, 0.128), (4000.0, 0.22)]
)
def test_true_airspeed_grows_with_height(altitude_m: float, gain: float) -> None:
    """Percentages worked out from the standard atmosphere, 1.5 % at 300 m to 22 % at 4,000 m."""
    flight = Flight(SEA_LEVEL_WING, 500.0, 0.0)
    path = integrate(
        flight, uniform_air(0.0, 0.0), hold_bank(flight, 0.0, 5.0), None, elevation_m=altitude_m - 500.0
    )
    assert path.air_north[0] / 10.0 - 1.0 == pytest.approx(gain, abs=0.003)


def test_built_in_turn_turns_with_nobody_steering() -> None:
    path = flown(CanopyModel(airspeed_mps=10.0, sink_mps=4.0, built_in_turn_dps=3.0), 0.0, 40.0)
    turned = math.degrees(float(np.unwrap(np.radians(path.heading_deg))[-1]))
    assert turned == pytest.approx(3.0 * 40.0, rel=0.12)


def test_flight_without_height_is_an_error() -> None:
    flight = Flight(SEA_LEVEL_WING, 0.0, 0.0)
    with pytest.raises(ValueError, match="at least one step"):
        integrate(flight, uniform_air(0.0, 0.0), hold_bank(flight, 0.0, 5.0), None)
