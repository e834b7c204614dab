"""Questions about odd input: the target, the unit of the gates, the hand, the landing direction. Each asks, and names the likely slip."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from analyser.angles import signed_difference_deg, wind_from_deg
from analyser.findings.model import Values
from analyser.findings.thresholds import FINDINGS
from analyser.frame import great_circle_m
from analyser.jump import Debrief, Question
from analyser.units import FOOT_M

__all__ = ["UNIT_OF_GATES", "WAITING", "WITHHOLDING", "ask", "distance_m", "target_away"]

UNIT_OF_GATES = frozenset({"gates_high", "gates_low"})
WITHHOLDING = UNIT_OF_GATES | {
    "target_far",
    "target_swapped",
    "target_moved",
    "landing_reversed",
    "wind_reversed",
}
"""No cause is given metres before these are answered: they would be counted from a plan or a target that nobody meant."""
TARGET_FIRST = "Check the target first. If it is right, begin the next pattern where the plan has it."
GATES_FIRST = (
    "Check the unit of the gates first. If it is right, begin the next pattern at the heights of the plan."
)
WAITING: Mapping[str, str] = {
    "target_far": TARGET_FIRST,
    "target_swapped": TARGET_FIRST,
    "target_moved": TARGET_FIRST,
    "gates_high": GATES_FIRST,
    "gates_low": GATES_FIRST,
    "landing_reversed": "Check the planned landing direction first: nothing is advised before it is right.",
    "wind_reversed": "Check the planned wind first: its direction is where it comes from.",
}
"""What to do first, where nothing is advised before a question is answered: it would lead to where nobody means to be."""


def ask(x: Debrief) -> tuple[Question, ...]:
    """What is odd about the input of a debrief; empty where nothing is.

    Parameters
    ----------
    x : Debrief
        With landing, legs, plan and comparison, as far as they are known.

    Returns
    -------
    tuple of Question
        Each with the values it rests on; some withhold the budget until they are answered.
    """
    return (*_target(x), *_gates(x), *_reversed(x), *_wind_reversed(x), *_hand(x))


def target_away(target: tuple[float, float], place: tuple[float, float], away_m: float) -> Question:
    """The question about a target that lies ``away_m`` from ``place`` (both lat, lon): swapped, or another field's?

    Parameters
    ----------
    target, place : tuple of float
        Latitude and longitude [deg, WGS 84].
    away_m : float
        Their distance [m].

    Returns
    -------
    Question
    """
    swapped = distance_m((target[1], target[0]), place)
    values: Values = {"away_m": away_m}
    if swapped < min(FINDINGS.swapped_m, 0.1 * away_m):
        text = "The target lies {away_m:distance~} from the landing. Were latitude and longitude swapped?"
        return Question("target_swapped", text, values)
    text = "The target lies {away_m:distance~} from the landing. Is this the right target?"
    return Question("target_far", text, values)


def distance_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Distance of two places (lat, lon) on a sphere [m]; infinite where a latitude is none.

    Parameters
    ----------
    a, b : tuple of float
        Latitude and longitude [deg, WGS 84].

    Returns
    -------
    float
        Along the great circle of a sphere of 6,371 km (haversine), good to half a percent [m].
    """
    if abs(a[0]) > 90.0:
        return float("inf")
    return float(great_circle_m(*a, *b))


def _target(x: Debrief) -> Iterator[Question]:
    spot, target = x.landing, x.settings.site.target
    if spot is None or spot.offset_m is None or target is None:
        return
    if spot.offset_m > FINDINGS.far_m:
        lat, lon = x.track.frame.to_geodetic(spot.east_m, spot.north_m)
        yield target_away(target, (float(lat), float(lon)), spot.offset_m)
    elif spot.offset_m > FINDINGS.suspect_m and _moved_as_one(x):
        values: Values = {"away_m": spot.offset_m}
        text = "The whole pattern lies {away_m:distance~} beside the plan, in the direction of the landing. Is this the right target?"
        yield Question("target_moved", text, values)


def _moved_as_one(x: Debrief) -> bool:
    """Whether gates and landing lie off their places by one vector: each near the mean of them all, which is itself far.

    The first of three or more in a plan of one's own is left out: a pattern is joined in many ways, and its turn begins before the
    planned place. The usual pattern is nobody's plan, so there all have to agree.
    """
    if x.landing is None or x.planned is None or x.flown is None or len(x.planned.gates) < 2:
        return False
    gates = x.planned.gates
    own = x.settings.pattern.given and len(gates) > 2
    off = [(x.landing.east_m, x.landing.north_m)]
    for gate in gates[1:] if own else gates:
        seen = x.flown.gate(gate.name)
        if seen is None:
            return False
        off.append((seen.east_m - gate.east_m, seen.north_m - gate.north_m))
    mean = np.mean(off, axis=0)
    size = float(np.hypot(*mean))
    apart = float(np.max(np.hypot(*(np.array(off) - mean).T)))
    return size > FINDINGS.suspect_m and apart <= max(2.0 * FINDINGS.block_m, FINDINGS.block_share * size)


def _gates(x: Debrief) -> Iterator[Question]:
    """Gates whose heights look like metres typed as feet, or feet as metres; not where the turns were flown near them."""
    setup = x.settings.pattern
    if not setup.given:
        return
    heights = setup.heights_m
    top, final = max(heights.values()), heights["final"]
    seen = [r.flown_agl_m / r.planned_agl_m for r in x.comparison if r.flown_agl_m and r.planned_agl_m]
    ratio = float(np.median(seen)) if len(seen) >= 2 else float("nan")
    if abs(ratio - 1.0) < FINDINGS.unit_within:
        return
    values: Values = {"top_m": top, "final_m": final}
    if top > FINDINGS.high_gate_m:
        text = "The first gate stands at {top_m:height~}. Metres or feet?"
        yield Question("gates_high", text, values)
    elif final < FINDINGS.low_final_m or abs(ratio * FOOT_M - 1.0) < FINDINGS.unit_within:
        text = "The gates stand at {top_m:height~} to {final_m:height~}. Were metres typed as feet?"
        yield Question("gates_low", text, values)


def _reversed(x: Debrief) -> Iterator[Question]:
    """A landing direction that is not the one flown: typed the other way round, or another slip."""
    typed, flown = x.settings.pattern.landing_deg, x.flown
    if typed is None or flown is None or flown.landing_deg is None or flown.leg("final") is None:
        return
    off = abs(float(signed_difference_deg(flown.landing_deg, typed)))
    if off < FINDINGS.across_deg:
        return
    values: Values = {"planned_deg": typed, "flown_deg": flown.landing_deg}
    slip = (
        "Was the direction typed the wrong way round?" if off > FINDINGS.reversed_deg else "Which is right?"
    )
    text = "The plan lands on {planned_deg:bearing~}, the flight landed on {flown_deg:bearing~}. " + slip
    yield Question("landing_reversed", text, values)


def _wind_reversed(x: Debrief) -> Iterator[Question]:
    """A planned wind from where the wind blew to: a direction of the wind is where it comes from."""
    thought, profile, planned = x.settings.wind_profile, x.profile, x.planned
    if thought is None or profile is None or planned is None or not planned.gates:
        return
    heights = np.linspace(0.0, planned.gates[0].agl_m, 9)
    typed, there = ([float(np.mean(v)) for v in wind.vector(heights)] for wind in (thought, profile))
    if min(math.hypot(*typed), math.hypot(*there)) < FINDINGS.steady_mps:
        return
    from_typed, from_there = (float(wind_from_deg(*wind)) for wind in (typed, there))
    if abs(float(signed_difference_deg(from_typed, from_there))) < FINDINGS.reversed_deg:
        return
    values: Values = {"typed_deg": from_typed, "there_deg": from_there}
    text = (
        "The plan has the wind from {typed_deg:bearing~}; the track shows it from {there_deg:bearing~}. Was it typed where the wind blows "
        "to?"
    )
    yield Question("wind_reversed", text, values)


def _hand(x: Debrief) -> Iterator[Question]:
    asked, flown = x.settings.pattern.hand, x.flown
    if (
        flown is None
        or flown.hand is None
        or asked in ("as flown", flown.hand)
        or flown.confidence < FINDINGS.sure_pattern
    ):
        return
    values: Values = {"planned": asked, "flown": flown.hand}
    text = "The plan asks for {planned:text}-hand turns and the flight made {flown:text}-hand ones. Which hand was planned?"
    yield Question("hand", text, values)
