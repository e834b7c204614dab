"""The causes of the miss in words: the largest parts of the budget that lie beyond their error, each with its own metres."""

from __future__ import annotations

import math
from collections.abc import Iterator

from analyser.findings.legs import turn_height
from analyser.findings.model import Finding, Values, clearly
from analyser.findings.parts import part_words
from analyser.findings.questions import UNIT_OF_GATES
from analyser.findings.thresholds import FINDINGS
from analyser.jump import Debrief
from analyser.replay import BudgetRow
from analyser.replay.parts import Part
from analyser.replay.standing import certainty_of, standing

__all__ = ["cause_rules"]


def cause_rules(x: Debrief) -> Iterator[Finding]:
    """The causes: from the parts of the budget where there is one, else from the gates alone."""
    if not x.budget:
        yield from _gates_alone(x)
        return
    for row, part in standing(x.budget, x.settings.method, x.brakes):
        if _worth_it(x, part):
            yield _cause(x, row, part)


def _worth_it(x: Debrief, part: Part) -> bool:
    """Off the target no small share of the miss is a cause; on it only what is larger than the target area: the rest took each other back."""
    spot, radius = x.landing, x.settings.method.on_target.value
    if spot is None or spot.offset_m is None:
        return True
    least = FINDINGS.least_share * spot.offset_m if spot.offset_m > radius else 2.0 * radius
    return math.hypot(part.along_m, part.across_m) > least


def _cause(x: Debrief, row: BudgetRow, part: Part) -> Finding:
    values: Values = {
        "along_m": abs(part.along_m),
        "along_sd_m": part.along_sd_m,
        "across_m": abs(part.across_m),
        "across_sd_m": part.across_sd_m,
        "signed_along_m": part.along_m,
        "signed_across_m": part.across_m,
        "part": part.part,
        "row": row.cause,
    }
    cost = _cost(part, certainty_of(row.cause, part, x.settings.method, x.brakes))
    code, text = part_words(x, row.cause, part, values)
    metres = math.hypot(part.along_m, part.across_m)
    return Finding(code, "note", f"{text} {cost}", values, metres, f"{row.cause}: {part.part}")


def _cost(part: Part, sure: float) -> str:
    """What the part cost, naming only the axes that lie beyond their error."""
    along, across = abs(part.along_m), abs(part.across_m)
    axes = []
    if clearly(along, part.along_sd_m, 0.0, sure) and along >= FINDINGS.minor_axis * across:
        axes.append("{along_m:distance} " + ("long" if part.along_m > 0 else "short"))
    if clearly(across, part.across_sd_m, 0.0, sure) and across >= FINDINGS.minor_axis * along:
        axes.append("{across_m:distance} to the " + ("right" if part.across_m > 0 else "left"))
    return f"Worth {' and '.join(axes)}."


def _gates_alone(x: Debrief) -> Iterator[Finding]:
    """Without a target: gates whose height stands out, ranked by the metres they move the landing; none in a doubtful unit."""
    if any(q.code in UNIT_OF_GATES for q in x.questions):
        return
    method = x.settings.method
    for row in x.comparison:
        if row.agl_m is None or not clearly(
            abs(row.agl_m), row.agl_sd_m, method.gate_height.value, method.certainty.value
        ):
            continue
        values: Values = {}
        code, text = turn_height(x, row, values)
        metres = abs(row.agl_m) * (x.trim.glide if x.trim else 2.5)
        yield Finding(code, "note", text, values, metres, f"turn onto {row.gate}")
