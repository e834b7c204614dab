"""Who needs which talk first: every jumper of a season in one line, ordered by the metres that stand out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.season.habits import Habit, habit_of
from analyser.season.stats import JumperSeason, Season
from analyser.season.words import subject

__all__ = ["GAP_DAYS", "Talk", "talks"]

GAP_DAYS: Final = 60.0  # ours: a gap that is worth a word about currency


@dataclass(frozen=True, slots=True)
class Talk:
    """One jumper's line. ``number`` counts jumpers as the season does; ``metres`` is what orders the lines.

    ``topic`` None: nothing stands out (``enough``) or too few jumps to say anything.
    """

    number: int
    jumper: JumperSeason
    topic: str | None
    habit: Habit | None
    metres: float
    enough: bool


def talks(season: Season) -> tuple[Talk, ...]:
    """The jumpers, most metres of a clear habit first; then those with something worth watching; then those where nothing stands out, then
    those with too few jumps."""
    lines = [_talk(number, jumper) for number, jumper in enumerate(season.jumpers, 1)]
    return tuple(sorted(lines, key=lambda t: (not _clear(t), -t.metres, not t.enough, t.number)))


def _clear(talk: Talk) -> bool:
    return talk.habit is not None and talk.habit.clear


def _talk(number: int, jumper: JumperSeason) -> Talk:
    habit = habit_of(jumper)
    enough = any(group.accuracy is not None for group in jumper.groups)
    if habit is None:
        return Talk(number, jumper, None, None, 0.0, enough)
    return Talk(number, jumper, subject(habit.question), habit, habit.metres, enough)
