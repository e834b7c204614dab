"""Which parts of a budget may be named as causes: beyond their error, and not taken back by the rest of their own row."""

from __future__ import annotations

import math
from collections.abc import Iterable

from analyser.replay.budget import BudgetRow, Cause
from analyser.replay.parts import Part, PartName
from analyser.replay.sink import Brakes
from analyser.replay.thresholds import REPLAY
from analyser.replay.unbraked import in_brakes
from analyser.settings import Method

__all__ = ["certainty_of", "standing"]


def standing(
    rows: Iterable[BudgetRow], method: Method, brakes: Brakes | None = None
) -> tuple[tuple[BudgetRow, Part], ...]:
    """The parts that may be named as causes with their rows, the largest first; a row without parts counts as one.

    ``brakes``: those of the final, which the sink shows. Where the turn after a crosswind leg carried the flight is nothing that one may change by itself, and is not named.
    """
    found = [
        (row, part)
        for row in rows
        for part in row.parts or (_whole(row),)
        if part.part != "turn"
        and _beyond_error(part, method, certainty_of(row.cause, part, method, brakes))
        and _in_its_row(row, part)
    ]
    return tuple(sorted(found, key=lambda rp: -math.hypot(rp[1].along_m, rp[1].across_m)))


def certainty_of(cause: Cause, part: Part, method: Method, brakes: Brakes | None) -> float:
    """How many standard deviations a part must be beyond zero to be named.

    Where the sink shows brakes on final, that they made the landing short is known and only by how much is not: the test has one side.

    Parameters
    ----------
    cause : str
        The row of the part.
    part : Part
        Metres along and across [m].
    method : Method
        ``certainty``.
    brakes : Brakes or None
        Those of the final, as the sink shows them.

    Returns
    -------
    float
    """
    known = cause == "final leg" and part.part == "speed" and part.along_m < 0.0
    return method.certainty.value * (REPLAY.one_sided if known and in_brakes(brakes, method) else 1.0)


def _whole(row: BudgetRow) -> Part:
    name: PartName = "wind" if row.cause == "wind" else "place"
    return Part(name, row.along_m, row.across_m, row.along_sd_m, row.across_sd_m)


def _beyond_error(part: Part, method: Method, sure: float) -> bool:
    """Above the smallest cause worth a name, and along or across beyond its error."""
    if math.hypot(part.along_m, part.across_m) < method.cause_metres.value:
        return False
    axes = ((part.along_m, part.along_sd_m), (part.across_m, part.across_sd_m))
    floor = method.cause_metres.value / 2.0
    return any(abs(v) > floor and abs(v) > sure * sd for v, sd in axes)


def _in_its_row(row: BudgetRow, part: Part) -> bool:
    """Whether the row holds at least half of the part: what another part of the same leg took back cost nothing."""
    along, across = part.along_m, part.across_m
    return row.along_m * along + row.across_m * across >= REPLAY.shared * (along**2 + across**2)
