"""What a talk with each jumper of a season may be about, in one line; in the order of their latest jumps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.season.habits import Habit, habit_of
from analyser.season.summarise import JumperSeason, Season
from analyser.season.words import subject

__all__ = ["GAP_DAYS", "Talk", "talks"]

GAP_DAYS: Final = 60.0  # ours: a gap that is worth a word about currency


@dataclass(frozen=True, slots=True)
class Talk:
    """One jumper's line. ``number`` counts jumpers as the season does; ``topic`` None: nothing stands out, or too few jumps to
    say anything.
    """

    number: int
    jumper: JumperSeason
    topic: str | None
    habit: Habit | None


def talks(season: Season) -> tuple[Talk, ...]:
    """The jumpers, who jumped last first: an order that says nothing about anybody."""
    lines = [_talk(number, jumper) for number, jumper in enumerate(season.jumpers, 1)]
    return tuple(sorted(lines, key=lambda t: (-_last_s(t), t.number)))


def _last_s(talk: Talk) -> float:
    return talk.jumper.currency.last_s if talk.jumper.currency is not None else 0.0


def _talk(number: int, jumper: JumperSeason) -> Talk:
    habit = habit_of(jumper)
    return Talk(number, jumper, subject(habit.question) if habit is not None else None, habit)
