"""habit_of: of everything that may be said of a pupil, the one habit that is worth a talk."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from analyser.season.questions import Question
from analyser.season.robust import half_95
from analyser.season.summarise import JumperSeason, group_label

__all__ = ["ABOUT", "Habit", "carried", "habit_of", "metres"]

_ASIDE: Final = {"trim", "canopy"}
"""Not about landing nearer to the target: told, but no reason for a talk before others."""
_CAUSES: Final = {"turn height", "wind cause", "wind"}
_SHARE: Final = (
    0.4  # ours: what is done comes before where it ends, if it explains this share of the largest metres
)
MEDIAN_SD: Final = math.sqrt(math.pi / 2.0)  # error of a median over that of a mean, of a normal sample
ABOUT: Final = {
    "bias across": "left or right",
    "distance": "distance",
    "steadiness": "distance",
    "together": "distance",
}


@dataclass(frozen=True, slots=True)
class Habit:
    """The habit: the question that names it, how many metres at the target it is worth, whether it is clear or may be chance."""

    question: Question
    metres: float
    clear: bool

    @property
    def about(self) -> str:
        """What a talk about it is about (see :mod:`analyser.logbook.talks`)."""
        if self.question.code == "turn height":
            return f"{self.question.evidence['gate']} turn"
        return ABOUT.get(self.question.code, "long or short")


def habit_of(jumper: JumperSeason) -> Habit | None:
    """The clear habit worth most metres at the target, else the one worth watching; None where nothing is either.

    Something a jumper does (the height of a turn, the wind planned for) comes before where it ends (long or short).
    """
    for clear, questions in ((True, jumper.claims), (False, jumper.watched)):
        weighed = [(metres(q, jumper), q) for q in questions if q.code not in _ASIDE]
        weighed = [(m, q) for m, q in weighed if m > 0.0]
        if weighed:
            most = max(m for m, _ in weighed)
            first = [(m, q) for m, q in weighed if q.code in _CAUSES and m >= _SHARE * most] or weighed
            size, question = max(first, key=lambda pair: pair[0])
            return Habit(question, size, clear)
    return None


def carried(question: Question, jumper: JumperSeason) -> tuple[float, float] | None:
    """What a final turn begun higher or lower is at the target by glide and wind: metres long (+) and half of the 95 % interval.

    None for another habit, and where the jumps of the canopy do not show glide and wind.
    """
    if question.code != "turn height" or question.evidence["gate"] != "final":
        return None
    found = next(
        (g.turn_height for g in jumper.groups if group_label(g.canopy, g.part) == question.canopy), None
    )
    if found is None:
        return None
    of_height = found.predicted * (question.high - question.low) / 2.0
    of_slope = question.value * half_95(MEDIAN_SD * found.predicted_sd / math.sqrt(found.n))
    return question.value * found.predicted, math.hypot(of_height, of_slope)


def metres(question: Question, jumper: JumperSeason) -> float:
    """How many metres at the target a habit is worth; 0 for a change to the better."""
    if question.code in ("distance", "steadiness", "together"):
        return max(question.value, 0.0)
    if question.code == "turn height":
        slopes = [g.turn_height.predicted for g in jumper.groups if g.turn_height is not None]
        return abs(question.value) * (max(slopes) if slopes and question.evidence["gate"] == "final" else 1.0)
    return abs(question.value)
