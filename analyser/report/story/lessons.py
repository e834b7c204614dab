"""What the findings and the advice say: what went well, the causes, the one thing to change, what is worth a talk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analyser.findings import Finding
from analyser.replay import Advice
from analyser.report.story.blocks import Aside, Block, Line, Points, Remark, Sentence

__all__ = ["Lessons", "causes", "found", "lessons"]


@dataclass(frozen=True, slots=True)
class Lessons:
    """What a jump teaches: its ``causes``, the largest first, what to do the ``next_time``, and the blocks of three chapters."""

    causes: tuple[Finding, ...]
    next_time: Sentence
    well: tuple[Block, ...]
    change: tuple[Block, ...]
    talk: tuple[Block, ...]


def lessons(findings: Sequence[Finding], advice: Iterable[Advice], reasons: Mapping[str, str]) -> Lessons:
    """What is told of findings and advice; ``reasons``: why there is none."""
    said = [_advice(a.template, a.text, a.evidence, a.gate and a.blocked_by) for a in advice]
    none = reasons.get("advice") or reasons.get("budget") or "nothing in the track asks for a change"
    return Lessons(
        causes(findings),
        said[0] if said else Remark(none),
        _well(findings),
        _change(said) if said else (Line(Remark(none), "missing"),),
        _talk(findings),
    )


def found(finding: Finding) -> Sentence:
    """What a finding says."""
    return Sentence(finding.text, finding.evidence)


def causes(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings that give a cause its metres, the largest first."""
    return tuple(f for f in findings if f.level == "note" and f.metres > 0.0)[:3]


def _advice(template: str, text: str, evidence: object, held: str | None) -> Sentence:
    values = dict(evidence) if isinstance(evidence, dict) else {}
    words = template or "{text}"
    if not template:
        values = {"text": text}
    if held is None or held in text:
        return Sentence(words, values)
    return Sentence(words + " Held back by: {held}.", values | {"held": held})


def _well(findings: Iterable[Finding]) -> tuple[Block, ...]:
    """What went well."""
    good = tuple(found(f) for f in findings if f.level == "good")
    if good:
        return (Points(good),)
    return (
        Line(
            Remark("the track alone shows nothing certain here; the jumper's own list comes first"), "missing"
        ),
    )


def _change(said: list[Sentence]) -> tuple[Block, ...]:
    """The first advice; what else would have done it stays folded."""
    more = (Aside((Points(tuple(said[1:])),), "What else would have done it"),) if said[1:] else ()
    limits = "For the next plan, over clear ground and by the field's rules. Never for the last seconds of a flight."
    return (Line(said[0], "change"), *more, Line(Sentence(limits), "quiet"))


def _talk(findings: Iterable[Finding]) -> tuple[Block, ...]:
    """What is worth a talk with the coach."""
    own = tuple(found(f) for f in findings if f.level == "caution")
    return (Points(own),) if own else ()
