"""The three lines on top: where the landing was, the main reason, the one thing to do next time."""

from __future__ import annotations

from analyser.angles import signed_difference_deg
from analyser.debrief import Debrief
from analyser.findings import Finding
from analyser.pattern import to_landing_frame
from analyser.report.story.blocks import Sentence, bearing, distance, say, sentence
from analyser.sentences import Number

__all__ = ["LONG_SHORT", "NO_CHANGE", "NO_MISS", "RIGHT_LEFT", "advised", "brief", "causes", "found", "where"]

LONG_SHORT = ("long", "short")
RIGHT_LEFT = ("right", "left")
OTHER_AXIS_DEG = 10.0  # ours: from here on "along" has to say along what
NO_MISS = "there is no plan and target to count from"
NO_CHANGE = "nothing in the track asks for a change"
POOR = "The recording is poor. Some results are missing and the others have large errors."


def brief(debrief: Debrief) -> tuple[tuple[str, Sentence], ...]:
    """The lines with their names; questions about the input and that the recording is poor come first, because they spoil the others."""
    lines = [("Where", where(debrief)), ("Why", _why(debrief)), ("Next time", _next(debrief))]
    if debrief.track.quality.grade == "poor":
        lines.insert(0, ("Recording", say(POOR)))
    lines[:0] = [("Question", Sentence(q.text, q.evidence)) for q in debrief.questions]
    seen: dict[str, tuple[str, Sentence]] = {}
    for name, text in lines:  # one reason may stand for several lines
        seen.setdefault(text.text(), (name, text))
    return tuple(seen.values())


def where(debrief: Debrief) -> Sentence:
    """The landing from the target, with the direction it is seen along; along the plan's too where that is another."""
    landing = debrief.landing
    if landing is None:
        return sentence(debrief.reasons.get("landing", "the recording holds no landing"))
    if landing.offset_m is None:
        return sentence(debrief.reasons.get("target", "no target was given"))
    offset = distance(landing.offset_m, landing.offset_sd_m)
    if landing.along_m is None or landing.across_m is None:
        return say("You landed {offset} from the target.", offset=offset)
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


def found(finding: Finding) -> Sentence:
    """What a finding says."""
    return Sentence(finding.text, finding.evidence)


def causes(debrief: Debrief) -> list[Finding]:
    """The findings that give a cause its metres, the largest first."""
    return [f for f in debrief.findings if f.level == "note" and f.metres > 0.0][:3]


def _why(debrief: Debrief) -> Sentence:
    if debrief.main_cause is not None:
        return found(debrief.main_cause)
    if debrief.budget:
        return say("No single cause is larger than its error.")
    reason = debrief.reasons.get("budget") or debrief.reasons.get("legs") or debrief.reasons.get("target")
    return sentence(reason or NO_MISS)


def _next(debrief: Debrief) -> Sentence:
    said = advised(debrief)
    if said:
        return said[0]
    reason = debrief.reasons.get("advice") or debrief.reasons.get("budget")
    return sentence(reason or NO_CHANGE)


def advised(debrief: Debrief) -> list[Sentence]:
    """Every advice, the best first, with what holds it back."""
    return [_advice(a.template, a.text, a.evidence, a.gate and a.blocked_by) for a in debrief.advice]


def _advice(template: str, text: str, evidence: object, held: str | None) -> Sentence:
    values = dict(evidence) if isinstance(evidence, dict) else {}
    words = template or "{text}"
    if not template:
        values = {"text": text}
    if held is None or held in text:
        return Sentence(words, values)
    return Sentence(words + " Held back by: {held}.", values | {"held": held})
