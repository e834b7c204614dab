"""The pilot who follows a plan: lands where arithmetic says, and single errors move the landing by what they are worth."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from analyser.synthetic.air import uniform_air
from analyser.synthetic.truth import Truth
from worlds.followed import PlanErrors, fly_plan

V, SINK, WIND = 10.0, 4.0, 4.0
GATES = (
    ("downwind", 300.0, -160.0, 60.0, 180.0),
    ("base", 180.0, -160.0, -330.0, 90.0),
    ("final", 90.0, 0.0, -330.0, 0.0),
)


def landing(errors: PlanErrors | None = None, **fields: Any) -> Truth:
    """Landing north into a wind of 4 m/s, at sea level, left-hand, no flare."""
    arguments: dict[str, Any] = {
        "landing_deg": 0.0, "airspeed_mps": V, "sink_mps": SINK, "air": uniform_air(WIND, 0.0), "elevation_m": 0.0, "flares": False, "seed": 3,
    }  # fmt: skip
    return fly_plan(GATES, errors=errors or PlanErrors(), **(arguments | fields)).truth


def at(truth: Truth) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([truth.landing_east_m, truth.landing_north_m])


def test_final_leg_is_as_long_as_the_wind_triangle_says() -> None:
    """Height of the gate / sink × (airspeed − wind), from the place where the turn is over."""
    truth = landing()
    final = truth.gate("final")
    assert final is not None
    i = int(np.searchsorted(truth.t_utc_s, final.utc_s))
    j = i + int(np.argmax(truth.agl_m[i:] <= final.end_agl_m))
    length = truth.north_m[-1] - truth.north_m[j]
    assert length == pytest.approx(final.end_agl_m / SINK * (V - WIND), rel=0.06)
    assert abs(truth.east_m[-1] - truth.east_m[j]) < 4.0


def test_gates_are_met_at_their_heights() -> None:
    truth = landing()
    for name, agl, *_ in GATES[1:]:
        gate = truth.gate(name)
        assert gate is not None
        assert gate.agl_m == pytest.approx(agl, abs=3.0)
    first = int(np.argmax(truth.agl_m <= GATES[0][1]))
    assert (truth.east_m[first], truth.north_m[first]) == pytest.approx(GATES[0][2:4], abs=2.0)


def test_late_final_costs_base_and_final() -> None:
    """So many metres later: the base leg goes on for Δh/sink at √(V²−w²), the final is shorter by Δh/sink at V−w."""
    late = 18.0
    moved = at(landing(PlanErrors(final_late_m=late))) - at(landing())
    seconds = late / SINK
    assert moved[0] == pytest.approx(seconds * math.sqrt(V**2 - WIND**2), abs=2.5)
    assert moved[1] == pytest.approx(-seconds * (V - WIND), abs=2.5)


def test_base_too_long_is_a_late_final_in_seconds() -> None:
    moved = at(landing(PlanErrors(base_long_s=5.0))) - at(landing(PlanErrors(final_late_m=5.0 * SINK)))
    assert np.hypot(*moved) < 2.0


def test_displaced_entry_moves_everything() -> None:
    moved = at(landing(PlanErrors(entry_m=(60.0, -40.0)))) - at(landing())
    assert moved == pytest.approx([60.0, -40.0], abs=0.1)


def test_brakes_on_final_into_wind_make_it_short() -> None:
    """Brakes shorten the way against the wind and lengthen it with the wind (fact of the trade: common practice, no source)."""
    into = at(landing(PlanErrors(final_brake=0.5))) - at(landing())
    assert into[1] < -5.0
    tail = uniform_air(6.0, 180.0)
    assert at(landing(PlanErrors(final_brake=0.5), air=tail))[1] > at(landing(air=tail))[1]


def test_another_wind_than_planned_misses_by_wind_times_time() -> None:
    """A metre per second more costs a metre for every second on downwind and on final (base is crabbed): (120 m + 90 m) / sink,
    and the drift in two turns. Over the last 300 ft alone the trade's number is 18 to 23 m."""
    moved = at(landing(air=uniform_air(WIND + 1.0, 0.0))) - at(landing())
    assert moved[1] == pytest.approx(-(120.0 + 90.0) / SINK - 2.0, abs=4.0)


def test_the_pilot_tells_what_was_wrong() -> None:
    assert landing(PlanErrors(final_late_m=18.0)).errors == ("final turned late",)
    assert landing().errors == ()
    assert [g.name for g in landing().plan] == ["downwind", "base", "final"]
