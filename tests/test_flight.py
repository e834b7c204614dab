"""Forward flight: closed forms of straight flight and turns, crab, symmetry, many flights at once."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import sheared, uniform

from analyser.flight import Air, Order, Start, Trim, fly, turn_figures
from analyser.flight.path import State, _turn
from analyser.pattern import Hand
from analyser.wind.profile import WindProfile

STILL = uniform(0.0, 0.0)
PLAIN = Trim(10.0, 4.0, standard_air=False)
AT_ONCE = Trim(10.0, 4.0, standard_air=False, roll_lag_s=0.0)


def end_of(trim: Trim, wind, start: Start, *orders: Order, instant: bool = False):
    return fly(Air.still(trim, wind), start, orders, instant_turns=instant).landing


def test_still_air_flies_the_glide_ratio() -> None:
    for trim in (PLAIN, Trim(10.0, 4.0), Trim(10.0, 4.0, elevation_m=1500.0)):
        end = end_of(trim, STILL, Start(0.0, 0.0, 200.0), Order("final", 200.0, 90.0))
        assert end.east_m[0] == pytest.approx(500.0, abs=1e-6), "density changes speed and sink alike"
        assert end.north_m[0] == pytest.approx(0.0, abs=1e-9)


def test_time_follows_the_density_of_the_standard_atmosphere() -> None:
    """ISO 2533:1975: density ratio 0.9075 at 1,000 m, so true speeds there are 1/sqrt(0.9075) of sea level."""
    high = Trim(10.0, 4.0, elevation_m=995.0)
    end = end_of(high, STILL, Start(0.0, 0.0, 10.0), Order("final", 10.0, 0.0))
    assert end.t_s[0] == pytest.approx(2.5 * math.sqrt(0.907463), rel=1e-4)


@pytest.mark.parametrize(
    ("bank", "v_h", "sink", "omega"),
    [
        (0, 11.38, 3.79, 0.0),
        (20, 11.63, 4.12, 16.6),
        (30, 11.94, 4.59, 25.4),
        (45, 12.60, 5.94, 40.3),
        (60, 13.22, 8.82, 61.2),
    ],
)
def test_turn_table(bank: float, v_h: float, sink: float, omega: float) -> None:
    """Steady gliding turn without sideslip for V0 = 12 m/s, glide 3: textbook relations (tan γ = tan γ0 / cos φ, ω = g tan φ / V)."""
    gamma = math.atan(1.0 / 3.0)
    got = turn_figures(12.0 * math.cos(gamma), 12.0 * math.sin(gamma), bank)
    assert got[0] == pytest.approx(v_h, abs=0.006)
    assert got[1] == pytest.approx(sink, abs=0.006)
    assert got[2] == pytest.approx(omega, abs=0.05)


@pytest.mark.parametrize(
    ("bank", "speed_factor", "load"), [(15, 1.02, 1.04), (30, 1.07, 1.15), (45, 1.19, 1.41), (60, 1.41, 2.00)]
)
def test_shallow_glide_limit_against_a_glider_table(bank: float, speed_factor: float, load: float) -> None:
    """Welch & Irving, Complete Soaring Pilot's Handbook, K7 table: speed multiplier and load factor; sink grows as their product."""
    v, s, _ = turn_figures(30.0, 0.03, bank)
    assert v / 30.0 == pytest.approx(speed_factor, abs=0.006)
    assert s / 0.03 == pytest.approx(speed_factor * load, abs=0.02)


def test_a_turn_in_still_air_is_an_arc() -> None:
    flight = fly(
        Air.still(AT_ONCE, STILL), Start(0.0, 0.0, 200.0, 0.0), [Order("final", 200.0, 90.0, "right")]
    )
    turned = flight.legs[0].turned
    v, s, rate = (float(x) for x in turn_figures(10.0, 4.0, 30.0))
    radius = v / math.radians(rate)
    assert turned.east_m[0] == pytest.approx(radius, rel=1e-6)
    assert turned.north_m[0] == pytest.approx(radius, rel=1e-6)
    assert 200.0 - turned.agl_m[0] == pytest.approx(s * 90.0 / rate, rel=1e-6)


@pytest.mark.parametrize("lag", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("change", [40.0, 90.0, 170.0])
def test_a_bank_that_lags_carries_the_turn_on(lag: float, change: float) -> None:
    """A rate that follows with a lag of the first order is, to first order, the turn flown that much later on the old heading."""
    order = [Order("final", 200.0, change, "right")]
    start = Start(0.0, 0.0, 200.0, 0.0)
    slow = fly(Air.still(Trim(10.0, 4.0, standard_air=False, roll_lag_s=lag), STILL), start, order)
    late = fly(Air.still(AT_ONCE, STILL), Start(0.0, 10.0 * lag, 200.0 - 4.0 * lag, 0.0), order)
    gap = math.hypot(
        slow.landing.east_m[0] - late.landing.east_m[0], slow.landing.north_m[0] - late.landing.north_m[0]
    )
    assert gap < 1.5 + 5.0 * lag
    assert gap < math.hypot(*(10.0 * lag * x for x in (1.0, 1.0)))
    assert slow.legs[0].change_deg[0] == pytest.approx(change, abs=1e-6)
    assert slow.legs[0].turned.agl_m[0] > 0.0


def test_a_turn_without_the_height_for_it_is_cut_off_at_the_ground() -> None:
    flight = fly(Air.still(PLAIN, STILL), Start(0.0, 0.0, 6.0, 0.0), [Order("final", 6.0, 180.0, "right")])
    assert flight.landing.agl_m[0] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < flight.legs[0].change_deg[0] < 90.0


def test_circles_drift_with_the_wind() -> None:
    """Common practice, no source: the centre of a circle moves with the air, so its drift is the wind."""
    wind = uniform(6.0, 250.0)
    order = [Order("base", 300.0, 180.0, "right"), Order("final", 250.0, 0.0, "right")]
    in_wind = fly(Air.still(AT_ONCE, wind), Start(0.0, 0.0, 300.0, 0.0), order)
    u, v = (float(w) for w in wind.vector(0.0))
    turn = in_wind.legs[0]
    v_turn, _, rate = (float(x) for x in turn_figures(10.0, 4.0, 30.0))
    radius = v_turn / math.radians(rate)
    for node in in_wind.nodes[:9]:
        angle = math.radians(rate * node.t_s[0])
        on_circle = radius * (1.0 - math.cos(angle)), radius * math.sin(angle)
        drifted = node.east_m[0] - u * node.t_s[0], node.north_m[0] - v * node.t_s[0]
        assert drifted == pytest.approx(on_circle, abs=0.01)
    assert turn.turned.t_s[0] > 5.0


def test_square_to_the_wind_the_drift_is_the_wind() -> None:
    """Common practice, no source: with the nose square to the wind line one drifts at the wind's speed."""
    air = Air.still(PLAIN, uniform(4.0, 0.0))
    heading, along, across = air.holding(np.array([[90.0]]), np.array([[100.0]]))
    assert across[0, 0] == pytest.approx(0.0, abs=1e-12)
    nose_east = fly(
        air, Start(0.0, 0.0, 80.0), [Order("final", 80.0, math.degrees(math.atan2(10.0, -4.0)))]
    ).landing
    assert nose_east.north_m[0] / nose_east.t_s[0] == pytest.approx(-4.0, abs=1e-6)
    assert nose_east.east_m[0] / nose_east.t_s[0] == pytest.approx(10.0, abs=1e-6)
    assert heading[0, 0] < 90.0
    assert along[0, 0] == pytest.approx(math.sqrt(84.0))


def test_the_lighter_the_wind_the_deeper_the_brakes_that_stop_one() -> None:
    """Common practice, no source. Nil ground speed needs an airspeed equal to the wind: the share of trim left is the wind over it."""

    def share_that_stops(wind_mps: float) -> float:
        shares = np.linspace(0.2, 1.0, 161)
        air = Air.still(PLAIN, uniform(wind_mps, 0.0))
        speed = []
        for share in shares:
            slow = Air(PLAIN, air.agl_m, air.east, air.north, air.airspeed * share, air.sink * share)
            speed.append(abs(slow.holding(np.array([[0.0]]), np.array([[300.0]]))[1][0, 0]))
        return float(shares[int(np.argmin(speed))])

    stops = [share_that_stops(w) for w in (3.0, 5.0, 7.0, 9.0)]
    assert stops == sorted(stops)
    assert stops == pytest.approx([0.3, 0.5, 0.7, 0.9], abs=0.01)


def test_brakes_lengthen_the_way_with_the_wind_and_shorten_it_against() -> None:
    """Common practice, no source (long spots: parachutistonline.com, braked canopy flight): brakes with an unchanged glide."""
    full, slow = PLAIN, Trim(7.0, 2.8, standard_air=False)
    start, tail = Start(0.0, 0.0, 300.0), uniform(5.0, 180.0)
    order = Order("final", 300.0, 0.0)
    assert end_of(slow, tail, start, order).north_m[0] > end_of(full, tail, start, order).north_m[0] + 50.0
    head = uniform(5.0, 0.0)
    assert end_of(slow, head, start, order).north_m[0] < end_of(full, head, start, order).north_m[0] - 50.0


def test_wind_stronger_than_the_airspeed_backs_up_and_drifts() -> None:
    air = Air.still(PLAIN, uniform(12.0, 0.0))
    heading, along, across = air.holding(np.array([[0.0, 90.0]]).T, np.array([[100.0], [100.0]]))
    assert along[0, 0] == pytest.approx(-2.0)
    assert heading[1, 0] % 360.0 == pytest.approx(0.0, abs=1e-9), "the nose points into the wind"
    assert (along[1, 0], across[1, 0]) == pytest.approx((0.0, 2.0), abs=1e-9)


def test_a_turn_is_cut_off_by_the_ground() -> None:
    flight = fly(Air.still(PLAIN, STILL), Start(0.0, 0.0, 10.0, 0.0), [Order("final", 10.0, 180.0, "left")])
    assert flight.landing.agl_m[0] == pytest.approx(0.0, abs=1e-9)
    assert -180.0 < flight.legs[0].change_deg[0] < -20.0


def test_a_gate_already_passed_is_turned_at_once() -> None:
    orders = [
        Order("downwind", 300.0, 180.0, "left"),
        Order("base", 180.0, 90.0, "left"),
        Order("final", 90.0, 0.0, "left"),
    ]
    flight = fly(Air.still(PLAIN, STILL), Start(0.0, 0.0, 150.0), orders)
    assert flight.legs[1].begin.agl_m[0] == pytest.approx(150.0)
    assert flight.landing.agl_m[0] == pytest.approx(0.0, abs=1e-9)


def test_many_versions_agree_with_each_alone() -> None:
    wind = sheared(3.0, 9.0, 200.0, 30.0, sd=1.0)
    trim = Trim(10.0, 4.0, airspeed_sd_mps=0.5, sink_sd_mps=0.3)
    air = Air.drawn(trim, wind, np.random.default_rng(3), 20, central=True)
    orders = [
        Order("downwind", 300.0, 20.0, "left"),
        Order("base", 180.0, 290.0, "left"),
        Order("final", 90.0, 200.0, "left"),
    ]
    together = fly(air, Start(0.0, 0.0, 300.0), orders).landing
    for i in (0, 7, 20):
        one = Air(trim, air.agl_m, air.east[[i]], air.north[[i]], air.airspeed[[i]], air.sink[[i]])
        alone = fly(one, Start(0.0, 0.0, 300.0), orders).landing
        assert (alone.east_m[0], alone.north_m[0]) == pytest.approx(
            (together.east_m[i], together.north_m[i]), abs=1e-6
        )
    calm = fly(Air.still(trim, wind), Start(0.0, 0.0, 300.0), orders).landing
    assert together.east_m[0] == pytest.approx(calm.east_m[0], abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(
    turn=st.floats(0.0, 360.0),
    speed=st.floats(0.0, 9.0),
    from_deg=st.floats(0.0, 360.0),
    hand=st.sampled_from(["left", "right"]),
)
def test_turning_the_world_turns_the_flight(turn: float, speed: float, from_deg: float, hand: str) -> None:
    def landing(by: float) -> complex:
        side = 90.0 if hand == "left" else -90.0
        orders = [
            Order("downwind", 300.0, by + 180.0, hand),
            Order("base", 180.0, by + side, hand),
            Order("final", 90.0, by, hand),
        ]
        end = end_of(Trim(10.0, 4.0), uniform(speed, from_deg + by), Start(0.0, 0.0, 300.0), *orders)
        return complex(end.north_m[0], end.east_m[0])

    turned = landing(0.0) * complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    assert abs(landing(turn) - turned) < 1e-6


def test_a_trim_must_make_sense() -> None:
    with pytest.raises(ValueError, match="airspeed and sink above 0"):
        Trim(10.0, 0.0)


def test_repeated_air_is_the_first_version_each_time() -> None:
    """East, north and both speeds apart."""
    heights = np.array([0.0, 500.0])
    air = Air(
        PLAIN,
        heights,
        np.array([[1.0, 2.0], [9.0, 9.0]]),
        np.array([[3.0, 4.0], [8.0, 8.0]]),
        np.array([10.0, 0.0]),
        np.array([5.0, 0.0]),
    )
    again = air.repeat(3)
    assert len(again) == 3
    for made, first in ((again.east, [1.0, 2.0]), (again.north, [3.0, 4.0])):
        np.testing.assert_array_equal(made, [first] * 3)
    np.testing.assert_array_equal(again.airspeed, [10.0] * 3)
    np.testing.assert_array_equal(again.sink, [5.0] * 3)


def test_a_heading_that_holds_a_track_adds_up_with_the_wind() -> None:
    """The ground velocity is the air velocity and the wind; its part across the track is nothing where the nose holds it."""
    rng = np.random.default_rng(12)
    for _ in range(20):
        wind_speed, wind_from, track, off = rng.uniform((0.0, 0.0, 0.0, -20.0), (9.0, 360.0, 360.0, 20.0))
        profile = WindProfile.from_points([(0.0, wind_speed, wind_from), (600.0, wind_speed, wind_from)])
        air = Air.still(Trim(10.0, 4.0, standard_air=False), profile)
        args = np.array([[track]]), np.array([[300.0]])
        _, _, across = air.holding(*args)
        assert float(across[0, 0]) == pytest.approx(0.0, abs=1e-9)
        heading, along, across = (float(v[0, 0]) for v in air.holding(*args, off))
        a, b = math.radians(heading), math.radians(wind_from)
        ground = 10.0 * np.array([math.sin(a), math.cos(a)]) - wind_speed * np.array(
            [math.sin(b), math.cos(b)]
        )
        c = math.radians(track)
        assert along == pytest.approx(ground @ [math.sin(c), math.cos(c)])
        assert across == pytest.approx(ground @ [math.cos(c), -math.sin(c)])


@pytest.mark.parametrize("hand", ["left", "right"])
def test_a_turn_ends_on_the_heading_that_holds_the_track_where_it_ends(hand: Hand) -> None:
    """The wind falls from 12 m/s at 400 m to nothing on the ground, so the heading depends on the height lost in the turn."""
    profile = WindProfile.from_points([(0.0, 0.0, 0.0), (400.0, 12.0, 0.0)])
    air = Air.still(Trim(14.0, 5.0, standard_air=False), profile)
    one = np.zeros(1)
    at = State(one, one, one, one + 300.0, one + 270.0)
    nodes, _ = _turn(air, at, Order("final", 300.0, 90.0, hand), one, False)
    end = nodes[-1]
    lost = 300.0 - float(end.agl_m[0])
    assert 20.0 < lost < 150.0
    wanted = air.holding(np.array([[90.0]]), end.agl_m[:, None])[0]
    assert float(end.heading_deg[0]) % 360.0 == pytest.approx(float(wanted[0, 0]) % 360.0, abs=1.0)


def test_another_wind_with_the_trims_kept() -> None:
    """5 m/s from the west is 5 m/s to the east and none to the north."""
    air = Air.still(PLAIN, uniform(9.0, 10.0), 3).with_wind(uniform(5.0, 270.0, top=400.0))
    np.testing.assert_allclose(air.east, np.full((3, 2), 5.0))
    np.testing.assert_allclose(air.north, np.zeros((3, 2)), atol=1e-12)
    np.testing.assert_array_equal(air.agl_m, [0.0, 400.0])
    np.testing.assert_array_equal(air.airspeed, [10.0] * 3)


def test_wind_and_airspeed_drawn_together_lie_about_both_and_hang_together_as_said() -> None:
    """From the west at 8 m/s, sd 0.5 m/s; airspeed 10 ± 0.5 m/s, its correlation with the east wind of each height −0.6."""
    wind = uniform(8.0, 270.0, sd=0.5)
    trim = Trim(10.0, 4.0, airspeed_sd_mps=0.5, airspeed_wind=(-0.15, -0.15, 0.0, 0.0))
    air = Air.drawn(trim, wind, np.random.default_rng(8), 3000)
    for drawn, mean in (
        (air.east[:, 0], 8.0),
        (air.east[:, 1], 8.0),
        (air.north[:, 0], 0.0),
        (air.airspeed, 10.0),
    ):
        assert np.mean(drawn) == pytest.approx(mean, abs=0.05)
        assert np.std(drawn) == pytest.approx(0.5, rel=0.06)
    assert np.corrcoef(air.east[:, 0], air.airspeed)[0, 1] == pytest.approx(-0.6, abs=0.05)
    assert np.corrcoef(air.north[:, 0], air.airspeed)[0, 1] == pytest.approx(0.0, abs=0.08)


def test_between_the_heights_of_a_profile_the_wind_is_on_a_line_and_beyond_them_the_same() -> None:
    """Heights 0, 100 and 300 m; Air.wind at 50 m lies half way, at 150 m a quarter, each version by itself."""
    heights = np.array([0.0, 100.0, 300.0])
    east, north = np.array([[0.0, 4.0, 8.0], [1.0, 1.0, 5.0]]), np.array([[2.0, 0.0, -4.0], [0.0, 6.0, 6.0]])
    air = Air(PLAIN, heights, east, north, np.full(2, 10.0), np.full(2, 4.0))
    found = air.wind(np.tile([-10.0, 50.0, 150.0, 400.0], (2, 1)))
    np.testing.assert_allclose(found[0], [[0.0, 2.0, 5.0, 8.0], [1.0, 1.0, 2.0, 5.0]])
    np.testing.assert_allclose(found[1], [[2.0, 1.0, -1.0, -4.0], [0.0, 3.0, 6.0, 6.0]])
