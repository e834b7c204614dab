"""Progress over canopies: what instructors' cards ask for, counted with its days; the witness signs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from analyser.season.facts import Count, caution_counts, heights_kept, ring_count, well_counts
from analyser.season.figures import RINGS_M
from analyser.season.jumps import Jumps

__all__ = ["Card", "card"]

DAYS: Final = (30, 90)  # ours: windows before the latest jump in which jumps are counted


@dataclass(frozen=True, slots=True)
class Card:
    """One canopy's card: first and latest jump [s since 1970], what was counted, each with its days; rings carry their radius [m]."""

    canopy: str | None
    n: int
    first_s: float
    last_s: float
    counts: tuple[tuple[Count, float | None], ...]


def card(jumps: Jumps) -> Card:
    """The card of the jumps under one canopy (one or more)."""
    return Card(
        jumps.text["canopy"][-1],
        len(jumps),
        float(jumps.t_s[0]),
        float(jumps.t_s[-1]),
        tuple(_counts(jumps)),
    )


def _counts(jumps: Jumps) -> Iterator[tuple[Count, float | None]]:
    for days in DAYS:
        recent = jumps.t_s > jumps.t_s[-1] - days * 86_400.0
        times = tuple(float(t) for t in jumps.t_s[recent])
        yield (
            Count(f"jumps in the {days} days up to the latest", int(np.sum(recent)), len(jumps), times),
            None,
        )
    kept, planned = heights_kept(jumps)
    times = tuple(float(t) for t in jumps.t_s[kept])
    yield Count("turn heights kept", int(np.sum(kept)), int(np.sum(planned)), times), None
    for radius in RINGS_M:
        yield ring_count(jumps, radius), radius
    yield from ((count, None) for count in well_counts(jumps)[2:])
    yield from ((count, None) for count in caution_counts(jumps) if count.met)
