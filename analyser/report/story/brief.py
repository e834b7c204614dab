"""The three lines on top: where the landing was, the main reason, the one thing to do next time."""

from __future__ import annotations

from analyser.angles import signed_difference_deg
from analyser.debrief import Debrief
from analyser.findings import Finding
from analyser.jump import Values
from analyser.pattern import to_landing_frame
from analyser.replay import BudgetRow
from analyser.report.story.blocks import Remark, Sentence, bearing, distance, height
from analyser.report.story.lessons import Lessons, found
from analyser.sentences import Number

__all__ = ["LONG_SHORT", "NO_MISS", "POOR", "RIGHT_LEFT", "brief", "where"]

LONG_SHORT = ("long", "short")
RIGHT_LEFT = ("right", "left")
OTHER_AXIS_DEG = 10.0  # ours: from here on "along" has to say along what
NO_MISS = "there is no plan and target to count from"
EXPLAINS, MOST, TAKEN_BACK = 0.25, 0.5, 0.2  # ours: shares of the miss, on its own line
POOR = "The recording is poor. Some results are missing and the others have large errors."


def brief(debrief: Debrief, lessons: Lessons) -> tuple[tuple[str, Sentence], ...]:
    """The lines with their names; questions about the input and that the recording is poor come first, because they spoil the others."""
    lines = [
        ("Where", where(debrief)),
        ("Why", _why(debrief, lessons.causes)),
        ("Next time", lessons.next_time),
    ]
    if debrief.track.quality.grade == "poor":
        lines.insert(0, ("Recording", Sentence(POOR)))
    lines[:0] = [("Question", Sentence(q.text, q.evidence)) for q in debrief.questions]
    seen: dict[str, tuple[str, Sentence]] = {}
    for name, text in lines:  # one reason may stand for several lines
        seen.setdefault(text.text(), (name, text))
    return tuple(seen.values())


def where(debrief: Debrief) -> Sentence:
    """The landing from the target, with the direction it is seen along; along the plan's too where that is another."""
    landing = debrief.landing
    if landing is None:
        return Remark(debrief.reasons.get("landing", "the recording holds no landing"))
    if landing.offset_m is None:
        return Remark(debrief.reasons.get("target", "no target was given"))
    offset = distance(landing.offset_m, landing.offset_sd_m)
    if landing.along_m is None or landing.across_m is None:
        return Sentence("You landed {offset} from the target.", {"offset": offset})
    seen = ", looking along your landing direction, {deg}" if landing.landing_deg is not None else ""
    words = f"You landed {{offset}} from the target: {{along}}, {{across}}{seen}."
    values: dict[str, Number | float | str | None] = {
        "offset": offset,
        "along": distance(landing.along_m, landing.along_sd_m, sides=LONG_SHORT),
        "across": distance(landing.across_m, landing.across_sd_m, sides=RIGHT_LEFT),
        "deg": bearing(landing.landing_deg),
    }
    planned = debrief.plan.pattern.landing_deg if debrief.plan is not None else None
    if planned is None or landing.landing_deg is None:
        return Sentence(words, values)
    if abs(float(signed_difference_deg(landing.landing_deg, planned))) <= OTHER_AXIS_DEG:
        return Sentence(words, values)
    along, across = to_landing_frame(landing.east_m, landing.north_m, planned)
    return Sentence(
        words + " Along the planned direction, {planned}: {along_there}, {across_there}.",
        values
        | {
            "planned": bearing(planned),
            "along_there": distance(along, landing.offset_sd_m, sides=LONG_SHORT),
            "across_there": distance(across, landing.offset_sd_m, sides=RIGHT_LEFT),
        },
    )


def _why(debrief: Debrief, named: tuple[Finding, ...]) -> Sentence:
    main = next((cause for cause in named if _explains(debrief, cause)), None)
    if main is not None:
        return found(main)
    if debrief.budget:
        return _not_flown(debrief) or _on_a_leg(debrief, named) or _several(debrief, named)
    reason = debrief.reasons.get("budget") or debrief.reasons.get("legs") or debrief.reasons.get("target")
    return Remark(reason or NO_MISS)


def _several(debrief: Debrief, named: tuple[Finding, ...]) -> Sentence:
    """No cause that leads to where the landing was: whether others took it back, and the largest that points there."""
    if not named:
        return Sentence("No single cause is larger than its error.")
    spot = debrief.landing
    against = -sum(min(_shared(debrief, row), 0.0) for row in debrief.budget)
    taken_back = spot is not None and spot.offset_m is not None and against >= TAKEN_BACK * spot.offset_m**2
    why = (
        "explains the miss: several partly cancelled each other"
        if taken_back
        else "is clear enough to explain the miss"
    )
    largest = next((cause for cause in named if _towards(debrief, cause) > 0.0), None)
    if largest is None:
        return Sentence(f"No single cause {why}.")
    return Sentence(f"No single cause {why}. The largest that is clear: {largest.text}", largest.evidence)


def _towards(debrief: Debrief, cause: Finding) -> float:
    """How far a cause leads to the landing, times the miss [m²]; its metres within their error left out."""
    spot, said = debrief.landing, cause.evidence
    if spot is None or spot.along_m is None or spot.across_m is None or "signed_along_m" not in said:
        return 0.0
    along, across = (_sure(debrief, said, axis) for axis in ("along", "across"))
    return along * spot.along_m + across * spot.across_m


def _explains(debrief: Debrief, cause: Finding) -> bool:
    """Whether a cause leads to where the landing was: without it that would have been nearer, by a good share of the miss."""
    spot, said = debrief.landing, cause.evidence
    if spot is None or spot.along_m is None or spot.across_m is None or "signed_along_m" not in said:
        return True
    along, across = (_sure(debrief, said, axis) for axis in ("along", "across"))
    shared = _towards(debrief, cause)
    nearer = 2.0 * shared > along**2 + across**2
    return nearer and shared >= EXPLAINS * (spot.along_m**2 + spot.across_m**2)


def _sure(debrief: Debrief, said: Values, axis: str) -> float:
    """The metres of a cause on an axis, none where they lie within their error."""
    metres, sd = float(said[f"signed_{axis}_m"] or 0.0), float(said[f"{axis}_sd_m"] or 0.0)
    return metres if abs(metres) > debrief.settings.method.certainty.value * sd else 0.0


def _not_flown(debrief: Debrief) -> Sentence | None:
    """A pattern flown straight in, where the plan has turns before the final."""
    flown, planned = debrief.flown, debrief.planned
    final = flown.gate("final") if flown else None
    if flown is None or planned is None or final is None or flown.kind != "straight in":
        return None
    missing = [g.name for g in planned.gates if flown.gate(g.name) is None]
    if not missing:
        return None
    legs = " and ".join([", ".join(missing[:-1]), missing[-1]] if missing[1:] else missing)
    text = (
        f"You flew straight in from {{agl}}, without the planned {{legs}} {'legs' if missing[1:] else 'leg'}."
    )
    values: dict[str, Number | float | str | None] = {
        "agl": height(final.agl_m, final.agl_sd_m),
        "legs": legs,
    }
    lost = next((f for f in debrief.findings if f.code == "entry_out_of_reach"), None)
    if lost is not None:
        text = "From {lost} down the entry was out of reach in full flight. " + text
        return Sentence(text, values | {"lost": height(float(lost.evidence["lost_agl_m"] or 0.0))})
    return Sentence(text, values)


def _on_a_leg(debrief: Debrief, named: tuple[Finding, ...]) -> Sentence | None:
    """The row that explains most of the miss beyond its error, where no part of it is named and the landing were nearer without it."""
    told = {cause.evidence.get("row") for cause in named}
    rows = [
        (_shared(debrief, row), row)
        for row in debrief.budget
        if row.cause != "wind" and row.cause not in told and _nearer_without(debrief, row)
    ]
    spot = debrief.landing
    if not rows or spot is None or spot.offset_m is None:
        return None
    shared, row = max(rows, key=lambda pair: pair[0])
    if shared < MOST * spot.offset_m**2:
        return None
    sure = debrief.settings.method.certainty.value
    along = distance(row.along_m, row.along_sd_m, sides=LONG_SHORT)
    across = distance(row.across_m, row.across_sd_m, sides=RIGHT_LEFT)
    known = [
        axis
        for axis, metres, sd in (
            ("{along}", row.along_m, row.along_sd_m),
            ("{across}", row.across_m, row.across_sd_m),
        )
        if abs(metres) > sure * sd
    ]
    text = f"The {{row}} brought {' and '.join(known)}. What did it there is too uncertain to say."
    return Sentence(text, {"row": row.cause, "along": along, "across": across})


def _nearer_without(debrief: Debrief, row: BudgetRow) -> bool:
    """Whether the landing would have been nearer to the target without the row."""
    return 2.0 * _shared(debrief, row) > row.along_m**2 + row.across_m**2


def _shared(debrief: Debrief, row: BudgetRow) -> float:
    """How far a row leads to the landing, times the miss [m²]; its metres within their error left out."""
    spot, sure = debrief.landing, debrief.settings.method.certainty.value
    if spot is None or spot.along_m is None or spot.across_m is None:
        return 0.0
    along = row.along_m if abs(row.along_m) > sure * row.along_sd_m else 0.0
    across = row.across_m if abs(row.across_m) > sure * row.across_sd_m else 0.0
    return along * spot.along_m + across * spot.across_m
