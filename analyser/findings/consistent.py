"""One pass over praise, causes, remarks and questions: what is praised is not blamed, and nothing is said that is always true."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from analyser.findings.model import Finding
from analyser.findings.questions import WITHHOLDING
from analyser.jump import Debrief

__all__ = ["RULES", "Rule", "consistent"]


class Rule(NamedTuple):
    """A finding that is left out (by its code) where ``against`` holds for the jump and the causes named."""

    code: str
    against: Callable[[Debrief, Sequence[Finding]], bool]
    why: str


def _named(*ends: str) -> Callable[[Debrief, Sequence[Finding]], bool]:
    """Whether a cause with such a code, or such an end of it, is named."""
    return lambda _, causes: any(c.code.endswith(end) for c in causes for end in ends)


def _advised(kind: str) -> Callable[[Debrief, Sequence[Finding]], bool]:
    """Whether a change of that kind is advised: causes are three at most, an advice may take back a fourth."""
    return lambda x, _: any(a.kind == kind and a.blocked_by is None for a in x.advice)


def _not_the_story(x: Debrief, causes: Sequence[Finding]) -> bool:
    """Without a plan of one's own an entry out of reach is no news; with one it is, where the entry cost the most metres or was not flown."""
    planned = x.settings.pattern.given or x.settings.wind_profile is not None
    entered = any(row.cause == "entry" and row.parts for row in x.budget)
    return not planned or (entered and not _named("entry_place", "downwind_turn_low")(x, causes[:1]))


def _with_metres(_: Debrief, causes: Sequence[Finding]) -> bool:
    """Whether a cause is named with its metres: where the landing was is said by itself, and most jumps land off the target."""
    return any(c.metres > 0.0 for c in causes)


def _asked(code: str) -> Callable[[Debrief, Sequence[Finding]], bool]:
    return lambda x, _: any(q.code == code for q in x.questions)


def _withheld(x: Debrief, _: Sequence[Finding]) -> bool:
    """Whether a target or a plan is asked about that the finding counts from."""
    return any(q.code in WITHHOLDING for q in x.questions)


RULES: tuple[Rule, ...] = (
    *(
        Rule(code, _withheld, "counted from a target or a plan that nobody may have meant")
        for code in ("entry_out_of_reach", "entry_in_reach", "past_target", "plan_fitted")
    ),
    Rule("heights_kept", _named("_turn_high", "_turn_low"), "a height is a cause, or a caution"),
    Rule(
        "heights_kept",
        _named("low_turn", "large_last_turn", "final_turn_below_minimum"),
        "no praise of turns beside a caution about one",
    ),
    Rule("heights_kept", _advised("turn height"), "another height is advised"),
    Rule("plan_fitted", _named("wind_misread", "trim_misread"), "the plan's wind or speeds are a cause"),
    Rule("plan_fitted", _advised("plan the wind"), "another wind in the plan is advised"),
    Rule("entry_in_reach", _named("entry_place"), "the entry is a cause"),
    Rule("into_wind", _named("final_direction"), "the direction of the final is a cause"),
    Rule("straight_final", _named("final_direction"), "the direction of the final is a cause"),
    Rule("entry_out_of_reach", _not_the_story, "said with every jump without a plan it says nothing"),
    Rule(
        "past_target", _named("final_turn_high", "final_turn_low"), "the same turn is a cause with its metres"
    ),
    *(
        Rule(
            code, _with_metres, "the landing's own place stands first, and causes are named with their metres"
        )
        for code in ("landed_long", "landed_short", "off_wind_line")
    ),
    Rule("hand_against_plan", _asked("hand"), "asked as a question"),
)


def consistent(x: Debrief, others: Sequence[Finding], causes: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings beside the causes without those that a rule leaves out."""
    against = [*causes, *(f for f in others if f.level == "caution")]
    out = {rule.code for rule in RULES if rule.against(x, against)}
    return tuple(f for f in others if f.code not in out)
