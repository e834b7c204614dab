"""Who needs which talk first: every jumper of a season in one line, ordered by the metres that stand out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.season.questions import Question
from analyser.season.stats import JumperSeason, Season
from analyser.season.words import subject

__all__ = ["Talk", "talks"]

# Not about landing nearer to the target: told, but no reason for a talk before others.
_ASIDE: Final = {"trim", "canopy"}
GAP_DAYS: Final = 60.0  # ours: a gap that is worth a word about currency


@dataclass(frozen=True, slots=True)
class Talk:
    """One jumper's line. ``number`` counts jumpers as the season does; ``metres`` is what orders the lines.

    ``topic`` None: nothing stands out (``enough``) or too few jumps to say anything.
    """

    number: int
    jumper: JumperSeason
    topic: str | None
    reason: Question | None
    metres: float
    enough: bool


def talks(season: Season) -> tuple[Talk, ...]:
    """The jumpers, most metres first; then those where nothing stands out, then those with too few jumps."""
    lines = [_talk(number, jumper) for number, jumper in enumerate(season.jumpers, 1)]
    return tuple(sorted(lines, key=lambda t: (-t.metres, not t.enough, t.number)))


def _talk(number: int, jumper: JumperSeason) -> Talk:
    weighed = [(metres(q, jumper), q) for q in jumper.claims if q.code not in _ASIDE]
    weighed = [(m, q) for m, q in weighed if m > 0.0]
    enough = any(group.accuracy is not None for group in jumper.groups)
    if not weighed:
        return Talk(number, jumper, None, None, 0.0, enough)
    size, first = max(weighed, key=lambda pair: pair[0])
    return Talk(number, jumper, subject(first), first, size, enough)


def metres(question: Question, jumper: JumperSeason) -> float:
    """How many metres at the target a habit is worth; 0 for a change to the better."""
    if question.code in ("distance", "steadiness", "together"):
        return max(question.value, 0.0)
    if question.code == "turn height":
        slopes = [g.turn_height.predicted for g in jumper.groups if g.turn_height is not None]
        return abs(question.value) * (max(slopes) if slopes and question.evidence["gate"] == "final" else 1.0)
    return abs(question.value)
