"""compare: two patterns gate by gate; symmetric by construction, ``compare(p, p)`` is zero."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.pattern import Gate, LegName, Pattern, to_landing_frame

__all__ = ["GateDifference", "compare"]


@dataclass(frozen=True, slots=True)
class GateDifference:
    """Flown minus planned at one gate: heights [m], place along/across the planned landing direction [m].

    ``along_sd_m``, ``across_sd_m`` the errors of the place [m]; ``place_agl_m`` the height [m] at which both places were read, where
    that is not where the turn began: the entry of a plan is met already on its leg.
    """

    gate: LegName
    planned_agl_m: float | None
    flown_agl_m: float | None
    agl_m: float | None
    agl_sd_m: float | None
    along_m: float | None
    across_m: float | None
    lateral_sd_m: float | None
    along_sd_m: float | None = None
    across_sd_m: float | None = None
    place_agl_m: float | None = None


def compare(flown: Pattern, planned: Pattern) -> tuple[GateDifference, ...]:
    """One row per planned gate, in the order flown; values are None where the gate was not flown.

    Both patterns stand in the same frame (metres from the target). Swapping the two swaps the sign of every difference, as
    long as both have the same landing direction.

    Parameters
    ----------
    flown, planned : Pattern
        Gates in metres from the target, heights above the landing area.

    Returns
    -------
    tuple of GateDifference
        Flown minus planned: height, along and across the planned track [m], heading [deg].
    """
    landing_deg = planned.landing_deg if planned.landing_deg is not None else flown.landing_deg
    return tuple(_row(flown.gate(gate.name), gate, landing_deg) for gate in planned.gates)


def _row(flown: Gate | None, planned: Gate, landing_deg: float | None) -> GateDifference:
    if flown is None:
        return GateDifference(planned.name, planned.agl_m, None, None, None, None, None, None)
    along: float | None = None
    across: float | None = None
    if landing_deg is not None:
        east, north = flown.east_m - planned.east_m, flown.north_m - planned.north_m
        along, across = to_landing_frame(east, north, landing_deg)
    lateral = math.hypot(flown.lateral_sd_m, planned.lateral_sd_m)
    return GateDifference(
        gate=planned.name,
        planned_agl_m=planned.agl_m,
        flown_agl_m=flown.agl_m,
        agl_m=flown.agl_m - planned.agl_m,
        agl_sd_m=math.hypot(flown.agl_sd_m, planned.agl_sd_m),
        along_m=along,
        across_m=across,
        lateral_sd_m=lateral,
        along_sd_m=None if along is None else lateral,
        across_sd_m=None if across is None else lateral,
    )
