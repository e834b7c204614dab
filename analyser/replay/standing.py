"""Which parts of a budget may be named as causes: beyond their error, and not taken back by the rest of their own row."""

from __future__ import annotations

import math
from collections.abc import Iterable

from analyser.replay.budget import BudgetRow
from analyser.replay.parts import Part, PartName
from analyser.replay.thresholds import REPLAY
from analyser.settings import Method

__all__ = ["standing"]


def standing(rows: Iterable[BudgetRow], method: Method) -> tuple[tuple[BudgetRow, Part], ...]:
    """The parts that may be named as causes with their rows, the largest first; a row without parts counts as one.

    Where the turn after a crosswind leg carried the flight is nothing that one may change by itself, and is not named.
    """
    found = [
        (row, part)
        for row in rows
        for part in row.parts or (_whole(row),)
        if part.part != "turn" and _beyond_error(part, method) and _in_its_row(row, part)
    ]
    return tuple(sorted(found, key=lambda rp: -math.hypot(rp[1].along_m, rp[1].across_m)))


def _whole(row: BudgetRow) -> Part:
    name: PartName = "wind" if row.cause == "wind" else "place"
    return Part(name, row.along_m, row.across_m, row.along_sd_m, row.across_sd_m)


def _beyond_error(part: Part, method: Method) -> bool:
    """Above the smallest cause worth a name, and along or across beyond its error."""
    if math.hypot(part.along_m, part.across_m) < method.cause_metres.value:
        return False
    axes = ((part.along_m, part.along_sd_m), (part.across_m, part.across_sd_m))
    floor, sure = method.cause_metres.value / 2.0, method.certainty.value
    return any(abs(v) > floor and abs(v) > sure * sd for v, sd in axes)


def _in_its_row(row: BudgetRow, part: Part) -> bool:
    """Whether the row holds at least half of the part: what another part of the same leg took back cost nothing."""
    along, across = part.along_m, part.across_m
    return row.along_m * along + row.across_m * across >= REPLAY.shared * (along**2 + across**2)
