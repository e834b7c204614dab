"""One clock and one scale of height for all of a load, from what the tracks have in common in the aeroplane."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.load.flights import Flight
from analyser.load.members import Group
from analyser.load.thresholds import LOAD

__all__ = ["on_one_clock"]


def on_one_clock(flights: Sequence[Flight], load: Group) -> tuple[Flight, ...]:
    """The flights of a load, their times brought together (the middle one's clock stays) and their heights to one scale.

    The one who shares the longest ride with the others gives clock and scale first. A track with no ride in common keeps its clock,
    with an error of ``LOAD.clock_sd_s``.
    """
    members = load.members
    shared = {k: sum(r.seconds for pair, r in load.rides.items() if k in pair) for k in members}
    first = max(members, key=lambda k: shared[k])
    clocks: dict[int, tuple[float, float, float]] = {first: (0.0, 0.0, 1.0)}
    reached = [first]
    while reached:
        base = reached.pop(0)
        for (i, j), ride in sorted(load.rides.items()):
            other = j if i == base else i
            if base not in (i, j) or other in clocks:
                continue
            sign = 1.0 if i == base else -1.0
            before, sd, scale = clocks[base]
            ratio = ride.scale if sign > 0 else 1.0 / ride.scale
            clocks[other] = (
                before + sign * ride.clock_s,
                float(np.hypot(sd, ride.clock_sd_s)),
                scale * ratio,
            )
            reached.append(other)
    known = [c[0] for c in clocks.values()]
    satellite = [c[2] for k, c in clocks.items() if not flights[k].barometric] or [1.0]
    unit = float(np.median(satellite))  # a barometer's metres are too short on a warm day
    middle = float(np.median(known)) if len(clocks) > 1 else 0.0
    found = []
    for k in members:
        flight = flights[k]
        if len(clocks) > 1 and k in clocks:
            clock, sd, scale = clocks[k]
            found.append(flight.stretched(scale / unit).on_clock(clock - middle, sd))
        else:
            found.append(flight.on_clock(0.0, LOAD.clock_sd_s))
    return tuple(found)
