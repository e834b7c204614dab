"""The entry of a plan against the flight: a place at a height on the plan's first leg, not the place where a turn begins."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.compare import GateDifference
from analyser.flight import Air, Start, Trim, fly, wind_known
from analyser.pattern import Gate, Pattern, to_landing_frame
from analyser.plan import orders_from
from analyser.plan.jump import Plan
from analyser.replay.places import established
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["entered", "planned_at", "with_entry"]


def entered(plan: Pattern, flown: Pattern, track: Track) -> Gate | None:
    """Where the jumper was on the plan's first leg: at the entry's height, or lower down where the turn onto that leg ended lower.

    Parameters
    ----------
    plan, flown : Pattern
        In metres from the target.
    track : Track
        Places [m] and heights above the landing area [m].

    Returns
    -------
    Gate or None
        None where the leg was not flown, or only at heights where the plan is not on it.
    """
    first = plan.gates[0]
    place = established(flown, first.name, track, first.agl_m)
    ends = plan.gates[1].agl_m if len(plan.gates) > 1 else 0.0
    if place is None or not ends < place.agl_m < first.agl_m + Method().gate_height.value:
        return None
    return place


def planned_at(plan: Pattern, agl_m: float, air: Air) -> tuple[float, float]:
    """Where the plan, flown from its entry, is on its first leg at a height [m]; east and north from the target [m]."""
    first, orders = plan.gates[0], list(orders_from(plan, plan.gates[0].name))
    high, low = (
        fly(air, Start(first.east_m, first.north_m, h), orders).landing for h in (first.agl_m, agl_m)
    )
    east, north = high.east_m - low.east_m, high.north_m - low.north_m
    return first.east_m + float(np.ravel(east)[0]), first.north_m + float(np.ravel(north)[0])


def with_entry(
    rows: tuple[GateDifference, ...],
    plan: Plan,
    flown: Pattern,
    track: Track,
    trim: Trim | None,
    wind: WindProfile | None,
) -> tuple[GateDifference, ...]:
    """The gates compared, with the place of the entry read where both are on the leg at one height, as the budget does.

    The heights stay those where the turns began. The error of the height at which they are compared is one of the place along the leg. No distance where the flight is at no height of the plan's first leg on it.

    Parameters
    ----------
    rows : tuple of GateDifference
        Flown minus planned where each turn began.
    plan : Plan
        In metres from the target.
    flown : Pattern
        In metres from the target.
    track : Track
        Places [m] and heights above the landing area [m].
    trim, wind : Trim and WindProfile, optional
        In which the plan is flown from its entry; where they are not known, those it was drawn for.

    Returns
    -------
    tuple of GateDifference
        The first of them with another place.
    """
    drawn = plan.pattern
    if not rows or rows[0].along_m is None or drawn.landing_deg is None:
        return rows
    place = entered(drawn, flown, track)
    if place is None:
        nowhere: dict[str, Any] = dict.fromkeys(
            ("along_m", "across_m", "lateral_sd_m", "along_sd_m", "across_sd_m")
        )
        return (replace(rows[0], **nowhere), *rows[1:])
    if trim is None or wind is None or not wind_known(wind, drawn.gates[0].agl_m):
        trim, wind = plan.trim, plan.wind
    air = Air.still(trim, wind)
    east, north = planned_at(drawn, place.agl_m, air)
    higher = planned_at(drawn, place.agl_m + place.agl_sd_m, air)
    step = to_landing_frame(higher[0] - east, higher[1] - north, drawn.landing_deg)
    along, across = to_landing_frame(place.east_m - east, place.north_m - north, drawn.landing_deg)
    here = replace(
        rows[0],
        along_m=along,
        across_m=across,
        lateral_sd_m=math.hypot(place.lateral_sd_m, *step),
        along_sd_m=math.hypot(place.lateral_sd_m, step[0]),
        across_sd_m=math.hypot(place.lateral_sd_m, step[1]),
        place_agl_m=place.agl_m,
    )
    return (here, *rows[1:])
