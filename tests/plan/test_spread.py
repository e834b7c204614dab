"""Errors of a plan: closed forms in uniform wind, what is not known stays unsaid, and the intervals hold against the true wind."""

from __future__ import annotations

import json
import math
from dataclasses import astuple, replace
from pathlib import Path

import numpy as np
import pytest
from pattern_cases import sheared, uniform

from analyser.debrief import debrief_recording
from analyser.flight import LegFlown, Order, Trim
from analyser.flight.path import State
from analyser.plan.report import HandPlan, report_plan
from analyser.plan.spread import ErrorsOf, _leg, errors_of, spread_of_plan
from analyser.report.documents.air import wind_rows
from analyser.report.documents.debrief import to_document
from analyser.report.documents.plan import plan_document
from analyser.settings import PatternSetup, Settings, Site
from analyser.settings.winds import read_measured_trim, read_winds
from analyser.synthetic.scenario import record_jump
from analyser.wind.profile import WindProfile

PLAIN = Trim(10.0, 4.0, standard_air=False)
SETUP = PatternSetup(landing_deg=0.0)
SD = 0.5


def one_error(speed: float, *, east_sd: float = 0.0, north_sd: float = 0.0) -> WindProfile:
    """A wind from the north whose error is the same at every height."""
    same = np.ones((2, 2))
    zero = np.zeros((2, 2))
    covariance = np.block([[east_sd**2 * same, zero], [zero, north_sd**2 * same]])
    return WindProfile(
        np.array([0.0, 1000.0]), np.zeros(2), np.full(2, -speed), covariance, ("measured",) * 2, ("",) * 2
    )


def plan_in(wind: WindProfile, trim: Trim = PLAIN) -> HandPlan:
    return report_plan(Settings(pattern=SETUP), wind, trim, hands=("left",), instant_turns=True).plans[0]


def test_closed_form_of_a_wind_that_is_off_along_the_landing() -> None:
    """Final is shorter by its time for every m/s, downwind longer by its own; base, square to the wind, by w/√(V² − w²) of its time."""
    wind = 5.0
    plan = plan_in(one_error(wind, north_sd=SD))
    downwind, base, final = plan.gates
    times = {leg.name: leg.seconds for leg in plan.legs}
    along = {"final": times["final"], "base": times["final"], "downwind": times["final"] + times["downwind"]}
    slower = wind / math.sqrt(10.0**2 - wind**2) * times["base"]
    for gate in (downwind, base, final):
        assert gate.spread is not None
        assert gate.spread.along_sd_m == pytest.approx(SD * along[gate.name], rel=0.08)
        assert gate.spread.north_sd_m == pytest.approx(gate.spread.along_sd_m)
    assert final.spread is not None
    assert base.spread is not None
    assert final.spread.across_sd_m == pytest.approx(0.0, abs=1e-6)
    assert base.spread.across_sd_m == pytest.approx(SD * slower, rel=0.12)
    legs = {leg.name: leg.spread for leg in plan.legs}
    assert legs["final"].ground_speed_sd_mps == pytest.approx(SD, rel=0.08)
    assert legs["final"].length_sd_m == pytest.approx(SD * times["final"], rel=0.08)
    assert legs["final"].seconds_sd == pytest.approx(0.0, abs=1e-9)
    crab = math.degrees(SD / math.sqrt(10.0**2 - wind**2))
    assert legs["base"].heading_sd_deg == pytest.approx(crab, rel=0.12)
    assert plan.spread is not None
    assert plan.spread.landing_along_sd_m == pytest.approx(SD * along["downwind"], rel=0.08)


def test_a_wind_that_is_off_from_the_side_turns_the_nose_of_final() -> None:
    plan = plan_in(one_error(5.0, east_sd=SD))
    final = plan.legs[-1].spread
    assert final is not None
    assert final.heading_sd_deg == pytest.approx(math.degrees(SD / 10.0), rel=0.1)
    assert plan.gates[-1].spread is not None
    assert plan.gates[-1].spread.across_sd_m == pytest.approx(0.0, abs=0.1), "the track is held"


def test_closed_form_of_a_sink_that_is_off() -> None:
    plan = plan_in(uniform(0.0, 0.0), replace(PLAIN, sink_sd_mps=0.1))
    for leg in plan.legs:
        assert leg.spread is not None
        assert leg.spread.seconds_sd == pytest.approx(leg.seconds * 0.1 / 4.0, rel=0.1)
        assert leg.spread.length_sd_m == pytest.approx(leg.length_m * 0.1 / 4.0, rel=0.1)
        assert leg.spread.ground_speed_sd_mps == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("wind_sd", "trim_sd", "known", "parts"),
    [
        (0.0, 0.0, (), ("no error is given for the wind", "no error is given for the canopy's speeds")),
        (0.5, 0.0, ("wind",), ("no error is given for the canopy's speeds",)),
        (
            0.0,
            0.2,
            ("canopy",),
            ("no error is given for the wind", "no error is given for the canopy's sink"),
        ),
        (0.5, 0.2, ("wind", "canopy"), ("no error is given for the canopy's sink",)),
    ],
)
def test_what_nobody_gave_an_error_has_none(wind_sd, trim_sd, known, parts) -> None:
    wind, trim = sheared(3.0, 6.0, 20.0, sd=wind_sd), replace(PLAIN, airspeed_sd_mps=trim_sd)
    errors = errors_of(wind, trim)
    assert errors.known == known
    assert errors.reason.count(";") == max(len(parts) - 1, 0)
    assert all(part in errors.reason for part in parts)
    settings = Settings(site=Site(target=(47.3, 11.9)))
    told = plan_document(report_plan(settings, wind, trim), settings, trim)
    assert told["errors"] == {"from": list(known), "reason": errors.reason or None}
    gate, plan = told["gates"][0], told["plans"][0]
    values = [gate["along_sd_m"], gate["east_sd_m"], plan["legs"][0]["length_sd_m"]]
    values += [plan["legs"][0]["crab_sd_deg"], plan["landing"]["along_sd_m"]]
    assert all((v is not None) == bool(known) for v in values)
    assert told["canopy"]["airspeed_sd_mps"] == (trim_sd or None)


def test_a_wind_with_an_error_at_some_heights_only_is_told() -> None:
    wind = sheared(3.0, 6.0, 20.0, sd=0.5)
    k = wind.agl_m.shape[0]
    covariance = wind.covariance.copy()
    covariance[[0, k], :] = covariance[:, [0, k]] = 0.0
    trim = replace(PLAIN, airspeed_sd_mps=0.2, sink_sd_mps=0.1)
    assert errors_of(wind, trim) == ErrorsOf(("wind", "canopy"), "")
    partly = errors_of(replace(wind, covariance=covariance), trim)
    assert partly.known == ("wind", "canopy")
    assert f"no error is given for the wind at 1 of {k} heights" in partly.reason


def test_the_errors_of_wind_and_canopy_add_in_squares() -> None:
    wind, trim = one_error(5.0, north_sd=SD), replace(PLAIN, airspeed_sd_mps=0.3, sink_sd_mps=0.1)
    still = one_error(5.0)
    rows = [
        spread_of_plan(SETUP, t, w, hand="left", landing_deg=0.0, draws=2000)
        for t, w in ((trim, wind), (PLAIN, wind), (trim, still))
    ]
    both, windy, winged = (r.gates[-1].along_sd_m for r in rows if r is not None)
    assert both == pytest.approx(math.hypot(windy, winged), rel=0.08)


def test_the_correlation_with_the_next_height_goes_round(tmp_path: Path) -> None:
    """A chain of Markov: what is two heights apart hangs together by the product; without the key all heights share one error."""
    heights = np.array([0.0, 50.0, 100.0])
    chain = 0.8 ** np.abs(np.subtract.outer(np.arange(3), np.arange(3)))
    covariance = np.kron(np.array([[0.25, 0.06], [0.06, 0.36]]), chain)
    wind = WindProfile(heights, np.ones(3), np.ones(3), covariance, ("measured",) * 3, ("",) * 3)
    rows = wind_rows(wind)
    assert [r["correlation_above"] for r in rows] == [0.8, 0.8, None]
    path = tmp_path / "d.json"
    path.write_text(json.dumps({"schema": "crabline.debrief/1", "winds": rows}), encoding="utf-8")
    assert read_winds(path).covariance == pytest.approx(covariance, abs=1e-3)
    for row in rows:
        del row["correlation_above"]
    path.write_text(json.dumps({"schema": "crabline.debrief/1", "winds": rows}), encoding="utf-8")
    assert read_winds(path).covariance == pytest.approx(
        np.kron(covariance[::3, ::3], np.ones((3, 3))), abs=1e-3
    )
    table = tmp_path / "w.csv"
    table.write_text(
        "agl_m,east_mps,north_mps,sd_mps,correlation_above\n0,1,1,0.5,0.8\n50,1,1,0.5,\n", encoding="utf-8"
    )
    assert read_winds(table).covariance[0, 1] == pytest.approx(0.8 * 0.25)


@pytest.mark.slow
def test_intervals_hold_against_the_plan_for_the_true_wind(tmp_path: Path) -> None:
    """The plan from a debrief's JSON, against the plan for the wind and the trim that were there."""
    gates, legs = [], []
    for seed in range(52_300, 52_314):
        jump = record_jump(seed)
        truth = jump.truth
        path = tmp_path / f"{seed}.json"
        path.write_text(json.dumps(to_document(debrief_recording(jump.recording))), encoding="utf-8")
        measured = read_measured_trim(path)
        if measured is None:
            continue
        trim = Trim(measured.airspeed_mps, measured.sink_mps, 30.0, truth.ground_elevation_m, *measured[2:])
        settings = Settings(pattern=PatternSetup(landing_deg=truth.landing_deg))
        told = report_plan(settings, read_winds(path), trim).plans[0]
        points = [
            (h, math.hypot(e, n), math.degrees(math.atan2(-e, -n)))
            for h, e, n in zip(truth.wind_agl_m, truth.wind_east, truth.wind_north)
        ]
        true_trim = Trim(truth.airspeed_mps, truth.sink_mps, 30.0, truth.ground_elevation_m)
        was = report_plan(settings, WindProfile.from_points(points), true_trim).plans[0]
        for a, b in zip(told.gates, was.gates, strict=True):
            assert a.spread is not None
            gates.append((a.along_m - b.along_m) / a.spread.along_sd_m)
            gates.append((a.across_m - b.across_m) / a.spread.across_sd_m)
        for c, d in zip(told.legs, was.legs, strict=True):
            assert c.spread is not None
            legs.append((c.ground_speed_mps - d.ground_speed_mps) / c.spread.ground_speed_sd_mps)
            legs.append((c.length_m - d.length_m) / c.spread.length_sd_m)
    assert len(gates) >= 60
    for z in (np.abs(gates), np.abs(legs)):
        assert np.mean(z <= 1.96) >= 0.85
        # the stated errors cover wings of other hands, so half of them hold more than half of our own
        assert 0.3 <= np.mean(z <= 0.674) <= 0.78


def test_the_spread_of_a_leg_counted_by_hand() -> None:
    """Three draws of a leg about north: what its nose swings from one side to the other is no spread of its middle heading."""

    def state(t: list[float], east: list[float], north: list[float], heading: list[float]) -> State:
        return State(*(np.array(v) for v in (t, east, north, [0.0] * 3, heading)))

    none = [0.0] * 3
    begin = state(none, none, none, none)
    turned = state([5.0] * 3, [3.0] * 3, [4.0] * 3, [350.0, 358.0, 6.0])
    end = state([15.0, 25.0, 20.0], [3.0] * 3, [104.0, 204.0, 154.0], [10.0, 2.0, 354.0])
    swings = _leg(LegFlown(Order("final", 100.0, 0.0), begin, turned, end, np.zeros(3)))
    assert swings.heading_sd_deg == pytest.approx(0.0, abs=1e-9)
    assert swings.ground_speed_sd_mps == pytest.approx(0.0, abs=1e-9)  # 100 m in 10, 200 in 20, 150 in 15 s
    assert swings.seconds_sd == pytest.approx(np.std([15.0, 25.0, 20.0]))
    assert swings.length_sd_m == pytest.approx(np.std(np.hypot(3.0, [104.0, 204.0, 154.0])))
    aside = end._replace(heading_deg=np.array([350.0, 358.0, 6.0]))  # straight: 10° and 2° left, 6° right
    straight = _leg(LegFlown(Order("final", 100.0, 0.0), begin, turned, aside, np.zeros(3)))
    moved = (
        s._replace(
            t_s=s.t_s + np.array([0.0, 50.0, 200.0]),
            east_m=s.east_m + np.array([30.0, -70.0, 10.0]),
            north_m=s.north_m + np.array([400.0, 90.0, -20.0]),
            heading_deg=s.heading_deg + 250.0,
        )
        for s in (begin, turned, aside)
    )
    there = _leg(LegFlown(Order("final", 100.0, 0.0), *moved, np.zeros(3)))
    assert astuple(there) == pytest.approx(astuple(straight))
    assert straight.heading_sd_deg == pytest.approx(np.std([-10.0, -2.0, 6.0]), rel=1e-3)
