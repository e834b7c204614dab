"""Where a pattern goes: tracks and headings of its legs, and the plan as the pilot has it in mind (gates on the ground)."""

from __future__ import annotations

import math

import numpy as np

from analyser.synthetic import pilot as fly
from analyser.synthetic.canopy import CanopyPath, Flight, integrate
from analyser.synthetic.pilot import Habits, LegPlan
from analyser.synthetic.setup import LEGS, Setup
from analyser.synthetic.truth import PlanGate

__all__ = ["crab_heading_deg", "leg_track_deg", "planned_gates", "planned_legs"]

MOST_CRAB_DEG = 70.0


def leg_track_deg(name: str, landing_deg: float, side: int) -> float:
    """Track of a leg of a box flown with ``side`` (+1 right-hand): every turn goes to that side by 90°."""
    return (landing_deg - side * 90.0 * (len(LEGS) - 1 - LEGS.index(name))) % 360.0


def crab_heading_deg(track_deg: float, wind_east: float, wind_north: float, airspeed_mps: float) -> float:
    """Heading that keeps ``track_deg`` in a wind (wind triangle); at most 70° of crab where the wind is too strong."""
    a = math.radians(track_deg)
    across = wind_east * math.cos(a) - wind_north * math.sin(a)
    most = math.sin(math.radians(MOST_CRAB_DEG))
    return (track_deg + math.degrees(math.asin(min(max(-across / airspeed_mps, -most), most)))) % 360.0


def planned_legs(setup: Setup, seen: float = 0.0) -> tuple[LegPlan, ...]:
    """The legs as planned: tracks square to the landing direction, heights as planned.

    The crab is that for the assumed wind, or for the real one by a share of ``seen``.
    """
    rows = []
    heights = (*setup.planned_m, 0.0)
    for i, name in enumerate(setup.legs):
        middle = 0.5 * (heights[i] + heights[i + 1])
        assumed, real = setup.assumed.mean(middle), setup.air.mean(middle)
        east, north = (float(a) + seen * (float(r) - float(a)) for a, r in zip(assumed, real))
        track = leg_track_deg(name, setup.landing_deg, setup.side)
        heading = crab_heading_deg(track, east, north, setup.canopy.airspeed_mps)
        rows.append(LegPlan(name, heights[i], heading, setup.side if i > 0 else 0, setup.turn_bank_deg))
    return tuple(rows)


def planned_gates(setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float) -> tuple[PlanGate, ...]:
    """The plan on the ground: the legs flown in the assumed, smooth air by a pilot who errs in nothing, ending on the target."""
    flown = _faultless(setup, legs, approach_deg)
    end_e, end_n = float(flown.east_m[-1]), float(flown.north_m[-1])
    rows = []
    for leg in legs:
        mark = flown.mark(leg.name)
        if mark is None:
            raise ValueError(f"seed {setup.seed}: the plan never reaches the gate {leg.name}")
        track = leg_track_deg(leg.name, setup.landing_deg, setup.side)
        rows.append(
            PlanGate(
                leg.name,
                mark.agl_m,
                mark.east_m - end_e,
                mark.north_m - end_n,
                leg.heading_deg % 360.0,
                track,
            )
        )
    return tuple(rows)


def _faultless(setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float) -> CanopyPath:
    calm = Habits(wander_deg=0.0, brake_share=0.0, final_brake_share=0.0)
    flight = Flight(setup.canopy, legs[0].agl_m + 20.0, math.radians(approach_deg))
    pilot = fly.pattern(flight, legs, np.random.default_rng(0), calm)
    return integrate(flight, setup.assumed.still(), pilot, None, elevation_m=setup.elevation_m)
