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
    "CAUTIONS",
    "PLAN_CAUTIONS",
    "Finding",
    "find_findings",
    "into_wind_error_deg",
    "render",
]


CAUTIONS: tuple[str, ...] = (
    "For debriefing on the ground, after landing. Not an altimeter, not for use in the air, not an instructor: "
    "licensed instructors and the rules of your association and drop zone decide.",
    "Numbers are estimates with the errors shown. Nothing here counts for a licence; a witness signs those.",
    "A missed target is corrected in the next plan, not on final. A landing across or down wind in the clear is safer than a low turn.",
    "The wind found is a mean for this jump and height. It is not the gust measured near the ground that wind limits speak of, and says nothing about the next load.",
)

PLAN_CAUTIONS: tuple[str, ...] = (
    "Made on the ground, before the jump, for the wind that was given: the air may differ. Not an altimeter, not for use in the air, "
    "not an instructor: licensed instructors and the rules of your association and drop zone decide.",
    "The wind up to which a leg can be held is where the pattern ends, not a limit to jump in.",
    CAUTIONS[2],
)


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
