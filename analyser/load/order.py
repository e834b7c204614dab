"""The order in which a load left, opened and landed, and which neighbours in it are too close to tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from analyser.load.flights import Flight
from analyser.load.thresholds import LOAD

__all__ = ["EVENTS", "Event", "Moment", "order_of"]

Event = Literal["exit", "opening", "landing"]
EVENTS: Final[tuple[Event, ...]] = ("exit", "opening", "landing")


@dataclass(frozen=True, slots=True)
class Moment:
    """When one of a load did something: number of the flight, time [s since 1970, UTC] and its error beside the others'; ``tied``: too close to
    the one before to say who was first."""

    who: int
    t_s: float
    sd_s: float
    tied: bool


def order_of(flights: Sequence[Flight], event: Event) -> tuple[Moment, ...]:
    """Who exited, opened or landed when, first to last; only those whose track holds it."""
    found = []
    for k, flight in enumerate(flights):
        t = {"exit": flight.exit_s, "opening": flight.opened_s, "landing": flight.landed_s}[event]
        if t is not None:
            sd = (
                flight.landed_sd_s
                if event == "landing"
                else LOAD.exit_sd_s
                if event == "exit"
                else LOAD.opening_sd_s
            )
            found.append((t, math.hypot(sd, flight.clock_sd_s), k))
    moments: list[Moment] = []
    for t, sd, k in sorted(found):
        before = moments[-1] if moments else None
        tied = before is not None and t - before.t_s < LOAD.sure * math.hypot(sd, before.sd_s)
        moments.append(Moment(k, t, sd, tied))
    return tuple(moments)
