"""findings: small rules, each with threshold, unit and source, that turn numbers into at most a few neutral sentences."""

from __future__ import annotations

from analyser.findings.causes import cause_rules
from analyser.findings.consistent import consistent
from analyser.findings.flight import flight_rules
from analyser.findings.landing import into_wind_error_deg, landing_rules
from analyser.findings.model import Finding
from analyser.findings.thresholds import FINDINGS
from analyser.jump import Debrief, Question
from analyser.sentences import fill
from analyser.units import DISPLAY_SYSTEMS, DisplaySystem

__all__ = [
    "Finding",
    "find_findings",
    "into_wind_error_deg",
    "render",
]


def render(finding: Finding | Question, display: DisplaySystem = DISPLAY_SYSTEMS["metric"]) -> str:
    """The finding, or the question, as a sentence in the display's units.

    Parameters
    ----------
    finding : Finding or Question
        A template with its values in SI units.
    display : DisplaySystem
        Units and how they are rounded.

    Returns
    -------
    str
    """
    return fill(finding.text, finding.evidence, display)


def find_findings(jump: Debrief) -> tuple[Finding, ...]:
    """What can be said about the jump: what went well first, then at most three causes by metres, then notes, then cautions.

    Of several causes in one group the largest stays. No rule speaks inside its own uncertainty, and none
    against another (:mod:`analyser.findings.consistent`).

    Parameters
    ----------
    jump : Debrief
        With everything the other stages found.

    Returns
    -------
    tuple of Finding
        In the order they are told in.
    """
    causes = _largest(list(cause_rules(jump)))[: FINDINGS.most_causes]
    others = consistent(jump, [*landing_rules(jump), *flight_rules(jump)], causes)
    good = [f for f in others if f.level == "good"][: FINDINGS.most_good]
    notes = [f for f in others if f.level == "note"]
    cautions = [f for f in others if f.level == "caution"]
    return (*good, *causes, *notes, *cautions)


def _largest(causes: list[Finding]) -> list[Finding]:
    """The causes by falling metres, one for each group."""
    best: dict[str, Finding] = {}
    for cause in sorted(causes, key=lambda f: -f.metres):
        best.setdefault(cause.group, cause)
    return list(best.values())
