"""The sheet for the next talk with one pupil: the jumps since the last talk, the one habit, what got better, what was agreed and how it went."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np

from analyser.logbook import Logbook
from analyser.logbook.talks import Note
from analyser.pattern import LEG_NAMES
from analyser.season.facts import CAUTION_KINDS, Count, Facts, Latest, caution_counts, facts, latest
from analyser.season.figures import LEAST
from analyser.season.habits import Habit, habit_of
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.questions import Question
from analyser.season.robust import Level, difference, level
from analyser.season.summarise import JumperSeason, Season, group_jumps

__all__ = ["Agreed", "CanopyFacts", "Sheet", "Views", "make_sheet", "measure"]

MOST_VIEWS: Final = 6  # small plan views: what two rows of a sheet of A4 hold at a scale that can be read


@dataclass(frozen=True, slots=True)
class Views:
    """One jump to be drawn: content and number, when [s since 1970], canopy, landing [m]."""

    sha256: str
    jump: int
    t_s: float
    place: int
    canopy: str | None


@dataclass(frozen=True, slots=True)
class CanopyFacts:
    """What is counted under one canopy, before the last talk and since (or over all jumps, ``before`` None)."""

    canopy: str | None
    part: int
    before: Facts | None
    since: Facts


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed and how it went: a level before and since [m], or counts; ``step`` since minus before where both have ten jumps."""

    note: Note
    canopy: str | None = None
    before: Level | None = None
    since: Level | None = None
    step: Level | None = None
    n_before: int = 0
    n_since: int = 0
    count_before: Count | None = None
    count_since: Count | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything a talk sheet shows. ``since_n`` jumps since the last talk (all, without one); the views are the latest of them."""

    number: int
    jumper: JumperSeason
    talks: tuple[Note, ...]
    since_n: int
    n: int
    latest: Latest | None
    canopies: tuple[CanopyFacts, ...]
    cautions_before: tuple[Count, ...]
    cautions: tuple[Count, ...]
    habit: Habit | None
    better: tuple[Question, ...]
    agreed: Agreed | None
    views: tuple[Views, ...]

    @property
    def last(self) -> Note | None:
        """The last talk noted."""
        return self.talks[-1] if self.talks else None


def make_sheet(logbook: Logbook, season: Season, number: int) -> Sheet:
    """The sheet of the jumper with this number (from 1, as the season counts them)."""
    jumper = season.jumpers[number - 1]
    jumps, _ = read_jumps(logbook.rows(jumper.name, one_jumper=True))
    notes = tuple(logbook.talks().get(jumper.name or "", ()))
    return sheet_of(number, jumper, jumps, notes)


def sheet_of(number: int, jumper: JumperSeason, jumps: Jumps, notes: Sequence[Note]) -> Sheet:
    """The sheet from what is known already; ``notes`` the talks, the oldest first."""
    last = notes[-1] if notes else None
    since = _since(jumps, last)
    groups = [(canopy, part, mine) for canopy, part, mine, _ in group_jumps(jumps)]
    recent = jumps.where(since)
    return Sheet(
        number,
        jumper,
        tuple(notes),
        int(np.sum(since)),
        len(jumps),
        latest(jumps),
        tuple(_canopies(groups, last)),
        caution_counts(jumps.where(~since)),
        caution_counts(recent),
        habit_of(jumper),
        better(jumper),
        _agreed(last, groups) if last is not None else None,
        tuple(_views(jumps, since)),
    )


def better(jumper: JumperSeason) -> tuple[Question, ...]:
    """What got better, clear first, then what may be chance."""
    found = (*jumper.claims, *jumper.watched)
    return tuple(q for q in found if q.code in ("distance", "steadiness", "together") and q.value < 0.0)


def day_s(note: Note) -> float:
    """The end of the day of a talk [s since 1970]: its own jumps belong to what was talked about."""
    return datetime.fromisoformat(note.day).replace(tzinfo=UTC).timestamp() + 86_400.0


def _since(jumps: Jumps, last: Note | None) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return jumps.t_s >= day_s(last) if last is not None else np.ones(len(jumps), dtype=bool)


def _canopies(groups: Sequence[tuple[str | None, int, Jumps]], last: Note | None) -> Iterator[CanopyFacts]:
    for canopy, part, mine in sorted(groups, key=lambda g: float(g[2].t_s[0])):
        since = _since(mine, last)
        before = facts(mine.where(~since)) if last is not None and bool(np.any(~since)) else None
        if before is not None or bool(np.any(since)):
            yield CanopyFacts(canopy, part, before, facts(mine.where(since)))


def measure(jumps: Jumps, about: str) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
    """What a talk is about as one number per jump [m] (NaN where unknown); None where it is counted instead."""
    for gate in LEG_NAMES:
        if about == f"{gate} turn":
            planned = ~jumps.is_text("plan", None)
            return np.where(planned, jumps[f"{gate}_agl_error_m"], np.nan)
    column = {"long or short": "along_m", "left or right": "across_m", "distance": "offset_m"}.get(about)
    return None if column is None else jumps[column]


def _agreed(last: Note, groups: Sequence[tuple[str | None, int, Jumps]]) -> Agreed:
    """Before and since the talk, under the canopy of the latest jump alone: wings are not pooled."""
    about = last.about
    if about is None or not groups:
        return Agreed(last)
    canopy, _, mine = max(groups, key=lambda g: float(g[2].t_s[-1]))
    since = _since(mine, last)
    old, new = mine.where(~since), mine.where(since)
    if about in CAUTION_KINDS.values():
        pair = [next(c for c in caution_counts(part) if c.name == about) for part in (old, new)]
        return Agreed(
            last, canopy, n_before=len(old), n_since=len(new), count_before=pair[0], count_since=pair[1]
        )
    values = [v[np.isfinite(v)] for v in (measure(part, about) for part in (old, new)) if v is not None]
    if len(values) < 2:
        return Agreed(last, canopy)
    known = [level(v) if v.size >= LEAST else None for v in values]
    step = difference(*values) if all(k is not None for k in known) else None
    return Agreed(last, canopy, known[0], known[1], step, int(values[0].size), int(values[1].size))


def _views(jumps: Jumps, since: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Iterator[Views]:
    known = jumps.is_text("excluded", None)  # a flight drawn about a target that has moved would mislead
    for i in np.flatnonzero(since & known)[-MOST_VIEWS:]:
        sha, canopy = jumps.text["sha256"][i], jumps.text["canopy"][i]
        yield Views(str(sha), jumps.jump[i], float(jumps.t_s[i]), int(i) + 1, canopy)
