"""What the findings and the advice say: what went well, the causes, the one thing to change, what is worth a talk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from analyser.findings import Finding
from analyser.replay import Advice
from analyser.report.story.blocks import Aside, Block, Line, Points, Sentence, missing, say

__all__ = ["advised", "causes", "change", "found", "no_change", "talk", "well"]


def found(finding: Finding) -> Sentence:
    """What a finding says."""
    return Sentence(finding.text, finding.evidence)


def causes(findings: Iterable[Finding]) -> list[Finding]:
    """The findings that give a cause its metres, the largest first."""
    return [f for f in findings if f.level == "note" and f.metres > 0.0][:3]


def advised(advice: Iterable[Advice]) -> list[Sentence]:
    """Every advice, the best first, with what holds it back."""
    return [_advice(a.template, a.text, a.evidence, a.gate and a.blocked_by) for a in advice]


def _advice(template: str, text: str, evidence: object, held: str | None) -> Sentence:
    values = dict(evidence) if isinstance(evidence, dict) else {}
    words = template or "{text}"
    if not template:
        values = {"text": text}
    if held is None or held in text:
        return Sentence(words, values)
    return Sentence(words + " Held back by: {held}.", values | {"held": held})


def no_change(reasons: Mapping[str, str]) -> str:
    """Why there is no advice."""
    return reasons.get("advice") or reasons.get("budget") or "nothing in the track asks for a change"


def well(findings: Iterable[Finding]) -> tuple[Block, ...]:
    """What went well."""
    good = tuple(found(f) for f in findings if f.level == "good")
    if good:
        return (Points(good),)
    return (missing("the track alone shows nothing certain here; the jumper's own list comes first"),)


def change(advice: Iterable[Advice], reasons: Mapping[str, str]) -> tuple[Block, ...]:
    """The first advice; what else would have done it stays folded."""
    said = advised(advice)
    if not said:
        return (missing(no_change(reasons)),)
    more = (Aside((Points(tuple(said[1:])),), "What else would have done it"),) if said[1:] else ()
    limits = "For the next plan, over clear ground and by the field's rules. Never for the last seconds of a flight."
    return (Line(said[0], "change"), *more, Line(say(limits), "quiet"))


def talk(findings: Iterable[Finding]) -> tuple[Block, ...]:
    """What is worth a talk with the coach."""
    own = tuple(found(f) for f in findings if f.level == "caution")
    return (Points(own),) if own else ()
