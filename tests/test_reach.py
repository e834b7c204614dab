"""Reach: closed forms in still and uniform air, the forward model at the edge, the wind line, who crossed it when."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from ambiance import Atmosphere
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import TRIM, fly_case, sheared, track_of, uniform

from analyser.flight import Air, Order, Start, Trim, fly
from analyser.pattern import Gate
from analyser.reach import Goal, GoalReach, _last_crossing, _turned, find_reach, reach_of, wind_line_deg
from analyser.wind.profile import WindProfile

PLAIN = Trim(10.0, 4.0, standard_air=False)


def margins(
    wind: WindProfile,
    goal: Goal,
    east: float,
    north: float,
    agl: float,
    heading: float,
    line: float = 0.0,
    trim: Trim = PLAIN,
):
    rows = reach_of(Air.still(trim, wind), goal, *(np.array([v]) for v in (east, north, agl, heading)), line)
    return tuple(float(r[0, 0]) for r in rows)


def test_still_air_is_the_glide_cone() -> None:
    margin, up, down = margins(uniform(0.0, 0.0), Goal(0.0, 0.0, 0.0), 0.0, -500.0, 300.0, 0.0)
    assert margin == pytest.approx(300.0 * 2.5 - 500.0)
    assert (up, down) == pytest.approx((250.0, 1250.0))


def test_the_wind_moves_the_cone() -> None:
    """Upwind reach (V−w)/sink, downwind reach (V+w)/sink times the height: the glide cone of the trade."""
    wind = uniform(4.0, 0.0)
    margin, _, _ = margins(wind, Goal(0.0, 0.0, 100.0), 0.0, -200.0, 300.0, 0.0)
    assert margin == pytest.approx(200.0 * (10.0 - 4.0) / 4.0 - 200.0)
    margin, _, _ = margins(wind, Goal(0.0, 0.0, 100.0), 0.0, 200.0, 300.0, 180.0)
    assert margin == pytest.approx(200.0 * (10.0 + 4.0) / 4.0 - 200.0)


def test_spare_metres_up_and_down_the_wind() -> None:
    wind, goal = uniform(4.0, 0.0), Goal(0.0, 0.0, 0.0)
    _, up, down = margins(wind, goal, 0.0, 100.0, 300.0, 90.0)
    assert margins(wind, goal, 0.0, 100.0 - up, 300.0, 90.0)[0] == pytest.approx(0.0, abs=3.0)
    other_way = margins(wind, goal, 0.0, 100.0 + down, 300.0, 90.0)[0]
    assert other_way == pytest.approx(0.0, abs=55.0), "the turn is then flown the other way: two radii"
    assert 0.0 < up < down


def test_turning_first_costs() -> None:
    straight = margins(uniform(0.0, 0.0), Goal(0.0, 500.0, 0.0), 0.0, 0.0, 300.0, 0.0)[0]
    away = margins(uniform(0.0, 0.0), Goal(0.0, 500.0, 0.0), 0.0, 0.0, 300.0, 180.0)[0]
    square = margins(uniform(0.0, 0.0), Goal(0.0, 500.0, 0.0), 0.0, 0.0, 300.0, 90.0)[0]
    assert straight > square > away
    assert straight - away > 60.0


@settings(max_examples=60, deadline=None)
@given(
    speed=st.floats(0.0, 14.0),
    from_deg=st.floats(0.0, 360.0),
    heading=st.floats(0.0, 360.0),
    bearing=st.floats(0.0, 360.0),
    agl=st.floats(250.0, 900.0),
)
def test_at_the_edge_the_forward_model_just_arrives(speed, from_deg, heading, bearing, agl) -> None:
    """Fly the model to the goal's height on a heading; a goal at its end is exactly at the edge."""
    trim, wind = replace(TRIM, roll_lag_s=0.0), sheared(speed, speed + 2.0, from_deg, 30.0)
    air = Air.still(trim, wind)
    still = Air(trim, air.agl_m, air.east * 0.0, air.north * 0.0, air.airspeed, air.sink)
    turned = fly(still, Start(0.0, 0.0, agl, heading), [Order("final", agl, bearing)])
    goal_agl = 100.0
    nodes = [n for n in turned.nodes if n.agl_m[0] >= goal_agl]
    # the way through the air in still air, then the drift of the same descent added
    last = nodes[-1]
    glide_on = (last.agl_m[0] - goal_agl) * trim.glide
    end = np.array([last.east_m[0], last.north_m[0]]) + glide_on * np.array(
        [math.sin(math.radians(bearing)), math.cos(math.radians(bearing))]
    )
    seconds = np.linspace(goal_agl, agl, 400)
    middle = 0.5 * (seconds[1:] + seconds[:-1])
    dt = np.diff(seconds) / (trim.sink_mps * trim.factor(middle))
    drift = np.array([float(np.sum(w * dt)) for w in wind.vector(middle)])
    goal = Goal(*(end + drift), goal_agl)
    margin, _, _ = margins(wind, goal, 0.0, 0.0, agl, heading, trim=trim)
    assert margin == pytest.approx(0.0, abs=6.0), (
        "heights are lost a little faster in the turn, the drift a little shorter"
    )


def test_over_a_flight() -> None:
    case = fly_case(sheared(4.0, 6.0, 10.0, sd=0.4), landing_deg=10.0)
    track = track_of(case.flown.path, step_s=0.5)
    stop = int(np.searchsorted(track.t_s, case.landing.t_s))
    reach = find_reach(track, 0, stop, case.wind, case.trim, entry=case.plan.gates[0])
    assert reach is not None
    assert reach.from_deg == pytest.approx(10.0, abs=0.5)
    assert np.all(np.diff(reach.t_s) == 1.0)
    high = reach.agl_m > 110.0
    assert np.nanmin(reach.target.margin_m[high]) > 0.0
    assert np.nanmin(reach.target.margin_m) > -3.0, "on final in full flight the target lies just at the edge"
    assert reach.target.lost_t_s is None
    assert np.all(reach.target.margin_sd_m[np.isfinite(reach.target.margin_sd_m)] > 0.0)
    # nothing nearer than place and height themselves are known
    floor = np.hypot(track.position_sd_m, case.trim.glide * track.agl_sd_m)
    assert np.nanmin(reach.target.margin_sd_m) >= 0.999 * floor
    # flown in the plan: upwind of the target on the downwind leg, downwind of it on final
    assert reach.upwind_m[0] > 0.0 > reach.upwind_m[-5]
    assert reach.crossed_agl_m is not None
    assert 91.0 < reach.crossed_agl_m < 305.0
    # a left-hand pattern lies on the left, looking up the wind
    assert reach.right_m[5] < -100.0


def test_lost_and_worst() -> None:
    """Run down the wind, away from the entry: at some height it is gone for good."""
    wind = uniform(6.0, 0.0, sd=0.2)
    path = fly(Air.still(TRIM, wind), Start(0.0, 300.0, 900.0), [Order("final", 900.0, 180.0)]).path()
    track = track_of(path)
    entry = Gate("downwind", 300.0, 0.0, 300.0, 180.0, 180.0)
    stop = int(np.searchsorted(track.t_s, path[-1][0]))
    reach = find_reach(track, 0, stop, wind, TRIM, entry=entry)
    assert reach is not None
    assert reach.entry is not None
    assert reach.entry.lost_agl_m is not None
    assert 500.0 < reach.entry.lost_agl_m < 900.0
    assert reach.entry.worst_margin_m < -500.0
    assert reach.entry.worst_agl_m < reach.entry.lost_agl_m
    before = reach.t_s < reach.entry.lost_t_s
    assert reach.entry.margin_m[before][-1] >= -2.0 * reach.entry.margin_sd_m[before][-1]
    assert np.all(reach.entry.margin_m[~before & (reach.agl_m > 320.0)] < 0.0)
    assert np.all(np.isnan(reach.entry.margin_m[reach.agl_m < 320.0]))


def test_turning_the_world_changes_no_margin() -> None:
    case = fly_case(sheared(4.0, 6.0, 0.0), landing_deg=0.0)
    track = track_of(case.flown.path)
    turned_track = replace(
        track,
        east_m=track.north_m.copy(),
        north_m=-track.east_m,
        v_east=track.v_north.copy(),
        v_north=-track.v_east,
    )
    stop = int(np.searchsorted(track.t_s, case.landing.t_s))
    here = find_reach(track, 0, stop, case.wind, case.trim, draws=4)
    there = find_reach(turned_track, 0, stop, sheared(4.0, 6.0, 90.0), case.trim, draws=4)
    assert here is not None
    assert there is not None
    good = np.isfinite(here.target.margin_m)
    assert there.target.margin_m[good] == pytest.approx(here.target.margin_m[good], abs=1e-6)
    assert there.upwind_m == pytest.approx(here.upwind_m, abs=1e-6)
    assert there.right_m == pytest.approx(here.right_m, abs=1e-6)


def test_no_heights_no_reach_and_no_wind_no_line() -> None:
    case = fly_case(uniform(4.0, 0.0))
    track = track_of(case.flown.path)
    blind = replace(track, agl_m=np.full(len(track), np.nan))
    assert find_reach(blind, 0, len(track), case.wind, case.trim) is None
    assert wind_line_deg(uniform(0.0, 0.0), 300.0) is None


def test_errors_of_wind_and_airspeed_found_together_cancel_up_the_wind_and_add_down_the_wind() -> None:
    """Closed form: metres to spare up the wind = (V − w)·T − distance; with one error in both they cancel, down the wind they double."""
    sd, seconds = 0.4, 400.0 / 4.0
    covariance = np.zeros((4, 4))
    covariance[2:, 2:] = sd**2
    wind = WindProfile(
        np.array([0.0, 1000.0]),
        np.zeros(2),
        np.array([-5.0, -5.0]),
        covariance,
        ("measured",) * 2,
        ("",) * 2,
    )
    # a wind from the north that is stronger goes with an airspeed that is higher: north component and airspeed run against each other
    trim = replace(PLAIN, airspeed_sd_mps=sd, airspeed_wind=(0.0, 0.0, -(sd**2), -(sd**2)))
    here = (np.zeros(1), np.zeros(1), np.full(1, 400.0))
    for trim_used, up_sd, down_sd in (
        (trim, 0.0, 2.0 * sd * seconds),
        (replace(trim, airspeed_wind=()), math.sqrt(2.0) * sd * seconds, math.sqrt(2.0) * sd * seconds),
    ):
        air = Air.drawn(trim_used, wind, np.random.default_rng(5), 4000)
        for north, heading, expected in ((300.0, 0.0, up_sd), (-1200.0, 180.0, down_sd)):
            margin, _, _ = reach_of(air, Goal(0.0, north, 0.0), *here, np.array([heading]), 0.0)
            assert np.std(margin[:, 0]) == pytest.approx(expected, rel=0.05, abs=0.5)


@pytest.mark.parametrize(
    ("margin", "sd", "told"),
    [(60.0, 20.0, True), (39.0, 20.0, None), (-39.0, 20.0, None), (-60.0, 20.0, False), (None, None, None)],
)
def test_in_reach_is_only_said_outside_twice_the_error(margin, sd, told) -> None:
    values = np.array([100.0, math.nan if margin is None else margin])
    errors = np.full(2, math.nan if sd is None else sd)
    goal = GoalReach(values, errors, values, values, 1.0, 300.0, margin, sd, None, None)
    assert goal.in_reach is told
    assert goal.doubtful.tolist() == [False, told is None and margin is not None]


@pytest.mark.parametrize(
    ("margins", "errors", "told"),
    [
        ((-77.0, -56.0), (223.0, 7.0), False),
        ((183.0, 60.0), (222.0, 5.0), None),
        ((183.0, 60.0), (60.0, 5.0), True),
        ((40.0, -77.0), (5.0, 223.0), None),
    ],
)
def test_what_is_in_reach_counts_every_moment(margins, errors, told) -> None:
    """The error shrinks on the way down: the smallest margin is not always the one that tells most."""
    values, sd = np.array(margins), np.array(errors)
    i = int(np.argmin(values))
    goal = GoalReach(values, sd, values, values, 1.0, 300.0, values[i], sd[i], None, None)
    assert goal.in_reach is told


@pytest.mark.parametrize("elevation_m", [0.0, 2500.0])
def test_a_turn_is_as_wide_as_a_balanced_one_in_the_air_of_its_height(elevation_m: float) -> None:
    """R = V²/(g sin φ) for a wing that keeps its lift coefficient: load 1/cos φ, V² grown by it; densities of a reference
    library. That is for a flat glide; one of 1 to 2.5 turns 3 % wider."""
    trim = Trim(10.0, 4.0, 30.0, elevation_m)
    agl, heading = np.array([300.0]), np.array([0.0])
    air = Air.still(trim, uniform(0.0, 0.0))
    lost, east, north = _turned(air, np.array([[20_000.0]]), np.array([[0.0]]), agl, heading)
    thin = float(Atmosphere(0.0).density[0] / Atmosphere(elevation_m + 300.0).density[0])
    radius = 10.0**2 * thin / (9.80665 * math.sin(math.radians(30.0)))
    assert float(north[0, 0]) == pytest.approx(-radius, rel=0.04)
    assert float(east[0, 0]) == pytest.approx(20_000.0 - radius, rel=1e-3)
    # a quarter of the circle at the sink of the bank: 1/cos of it to the power 3/2, over the speed
    glide = 10.0 / 4.0 * math.cos(math.radians(30.0))
    assert float(lost[0, 0]) == pytest.approx(math.pi / 2.0 * radius / glide, rel=0.1)


def test_a_wind_known_near_the_ground_alone_tells_no_reach() -> None:
    """Determined at the ground and not above it: find_reach asks up to the top of the flight, here some 300 m."""
    case = fly_case(uniform(4.0, 0.0))
    track = track_of(case.flown.path)
    low = replace(case.wind, status=("measured", "undetermined"))
    assert find_reach(track, 0, len(track), case.wind, case.trim, draws=4) is not None
    assert find_reach(track, 0, len(track), low, case.trim, draws=4) is None


def test_the_last_crossing_is_the_first_step_on_the_downwind_side() -> None:
    """Over the target to the downwind side twice: after steps 1 and 3, of which the second counts."""
    assert _last_crossing(np.array([5.0, 3.0, -1.0, 2.0, -2.0, -3.0])) == 4
    assert _last_crossing(np.array([-3.0, -1.0, 2.0])) is None
