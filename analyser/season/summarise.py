"""summarise: a logbook -> Season: every jumper, canopy by canopy, with what may be said about each."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final

import numpy as np

from analyser.errors import OutputError
from analyser.logbook import Failure, Logbook
from analyser.season.clear import ALPHA, FALSE_SHARE, judge
from analyser.season.facts import Facts, Latest, Trend, facts, latest, trend
from analyser.season.figures import (
    LEAST,
    Accuracy,
    Band,
    Currency,
    GateFigures,
    Share,
    TrimFigures,
    TurnHeight,
    accuracy,
    by_condition,
    causes,
    currency,
    gates,
    trim,
    turn_height,
)
from analyser.season.figures_text import as_text, from_text, made_by
from analyser.season.jumps import Jumps, LeftOut, read_jumps
from analyser.season.loads import LoadsAgreement, loads_agreement
from analyser.season.pooling import pool, shrunk
from analyser.season.questions import Question, ask, canopies_apart, trim_change
from analyser.season.robust import Level

__all__ = ["GroupSeason", "JumperSeason", "Season", "group_jumps", "group_label", "questions_of", "summarise"]

Part = tuple[str | None, int, Jumps, Question | None]

# ours: a trim that changes this clearly is taken for another canopy, and the jumps are kept apart
SPLIT_P: Final = 1e-4
MIXED_MPS: Final = (
    0.6  # ours: brake settings and weights of one canopy scatter by less; wings a size apart by more
)
LEAST_TRIMS: Final = 5


@dataclass(frozen=True, slots=True)
class GroupSeason:
    """One canopy of one jumper. ``part`` tells pieces of an unnamed change of trim apart (1, 2 …; 0 = no change).

    ``shrunk``: bias along drawn towards that of all groups with a canopy of this name, (value, sd), where there are three or more.
    ``mixed``: the trims are those of several canopies, so nothing is said of all of them together.
    """

    canopy: str | None
    part: int
    n: int
    first_s: float
    last_s: float
    accuracy: Accuracy | None
    conditions: dict[str, tuple[Band, ...]]
    gates: tuple[GateFigures, ...]
    causes: tuple[Share, ...]
    turn_height: TurnHeight | None
    trim: TrimFigures | None
    shrunk: tuple[float, float] | None = None
    mixed: bool = False


@dataclass(frozen=True, slots=True)
class JumperSeason:
    """One jumper: currency over all jumps, what was left out of the statistics, one entry per canopy; facts that need no statistics: over
    the jumps under the canopy of the latest one, the latest jump, and the trend under that canopy. ``digest`` of all that was counted, before
    anything was judged."""

    name: str | None
    currency: Currency | None
    left_out: tuple[LeftOut, ...]
    groups: tuple[GroupSeason, ...]
    questions: tuple[Question, ...]
    facts: Facts | None = None
    latest: Latest | None = None
    trend: Trend | None = None
    digest: str = field(default="", compare=False)

    @property
    def claims(self) -> tuple[Question, ...]:
        """What may be said, the largest effect against its margin first."""
        return tuple(sorted((q for q in self.questions if q.claimed), key=lambda q: q.p))

    @property
    def watched(self) -> tuple[Question, ...]:
        """What is worth watching and may be chance, the surest first."""
        return tuple(sorted((q for q in self.questions if q.watched), key=lambda q: q.p))


@dataclass(frozen=True, slots=True)
class Season:
    """A logbook's summary. ``questions_asked`` in all, held together by Holm's rule at ``alpha``."""

    jumpers: tuple[JumperSeason, ...]
    failures: tuple[Failure, ...]
    jumps: int
    questions_asked: int
    alpha: float = ALPHA
    false_share: float = FALSE_SHARE
    loads: LoadsAgreement | None = None


def summarise(logbook: Logbook) -> Season:
    """Statistics of a whole logbook, one jumper in memory at a time."""
    jumpers = list(_counted(logbook))
    judged = judge([q for jumper in jumpers for q in jumper.questions])
    rest = iter(judged)
    jumpers = [replace(j, questions=tuple(next(rest) for _ in j.questions)) for j in jumpers]
    return Season(
        tuple(_shrink(jumpers)),
        tuple(logbook.failures()),
        sum(j.currency.n for j in jumpers if j.currency),
        len(judged),
        loads=loads_agreement(logbook),
    )


def _counted(logbook: Logbook) -> Iterator[JumperSeason]:
    """Everybody's figures, not yet judged; those of jumpers without a change since they were last counted are taken as they were kept."""
    program = made_by(JumperSeason)
    fresh: dict[str | None, str] = {}
    for name in logbook.jumpers():
        text = logbook.figures(name, program)
        try:
            known = None if text is None else from_text(JumperSeason, text)
        except (ValueError, TypeError, LookupError, RecursionError):
            known = None
        if known is None:
            known = _jumper(logbook, name)
            text = fresh[name] = as_text(known)
        yield replace(known, digest=hashlib.sha256(str(text).encode()).hexdigest()[:32])
    with suppress(OutputError):  # a logbook that may only be read is counted anew every time
        logbook.keep(fresh, program)


def group_jumps(jumps: Jumps) -> Iterator[Part]:
    """The jumps canopy by canopy, split where an unnamed change of trim is plain: canopy, part, jumps, trim question."""
    names = sorted(set(jumps.text["canopy"]), key=lambda n: (n is None, n or ""))
    for name in names:
        mine = jumps.where(jumps.is_text("canopy", name))
        found = trim_change(mine)
        if found is None:
            yield name, 0, mine, None
            continue
        index, question = found
        if question.p >= SPLIT_P or abs(question.value) <= question.margin:
            yield name, 0, mine, question
            continue
        order = np.arange(len(mine))
        yield name, 1, mine.where(order < index), question
        yield name, 2, mine.where(order >= index), None


def _jumper(logbook: Logbook, name: str | None) -> JumperSeason:
    jumps, left_out = read_jumps(logbook.rows(name, one_jumper=True))
    parts = list(group_jumps(jumps))
    groups = tuple(_group(canopy, part, mine) for canopy, part, mine, _ in parts)
    now = max((mine for _, _, mine, _ in parts), key=lambda mine: float(mine.t_s[-1]), default=None)
    return JumperSeason(
        name,
        currency(jumps.t_s),
        left_out,
        groups,
        tuple(questions_of(name, parts)),
        facts(now) if now is not None else None,
        latest(jumps),
        trend(now) if now is not None and not is_mixed(now) else None,
    )


def questions_of(name: str | None, parts: Sequence[Part]) -> Iterator[Question]:
    """Every question that can be put to one jumper, canopy by canopy and between canopies, not yet judged."""
    for canopy, part, mine, trim_question in parts:
        label = group_label(canopy, part)
        if trim_question is not None:
            yield replace(trim_question, jumper=name, canopy=canopy or group_label(None, 0))
        for question in ask(mine) if len(mine) >= LEAST and not is_mixed(mine) else ():
            yield replace(question, jumper=name, canopy=label)
    ordered = sorted(parts, key=lambda p: float(p[2].t_s[0]))
    for (c1, p1, first, _), (c2, p2, second, _) in pairwise([p for p in ordered if not is_mixed(p[2])]):
        for question in canopies_apart(first, second, (group_label(c1, p1), group_label(c2, p2))):
            yield replace(question, jumper=name)


def group_label(canopy: str | None, part: int) -> str:
    """A canopy and its part as questions name them."""
    name = canopy or "canopy not named"
    return f"{name}, part {part}" if part else name


def is_mixed(jumps: Jumps) -> bool:
    """Whether the trims scatter between jumps, beyond their errors, more than those of one canopy do."""
    found = pool(jumps["airspeed_mps"], jumps["airspeed_sd_mps"])
    return found is not None and found.n >= LEAST_TRIMS and found.tau > MIXED_MPS


def _group(canopy: str | None, part: int, jumps: Jumps) -> GroupSeason:
    if is_mixed(jumps):
        first, last = float(jumps.t_s[0]), float(jumps.t_s[-1])
        return GroupSeason(canopy, part, len(jumps), first, last, None, {}, (), (), None, None, mixed=True)
    return GroupSeason(
        canopy,
        part,
        len(jumps),
        float(jumps.t_s[0]),
        float(jumps.t_s[-1]),
        accuracy(jumps),
        by_condition(jumps),
        gates(jumps),
        causes(jumps),
        turn_height(jumps),
        trim(jumps),
    )


def _shrink(jumpers: list[JumperSeason]) -> Iterator[JumperSeason]:
    """Bias along of every group drawn towards that of all with a canopy of the same name: other wings say nothing about it."""
    places: dict[str, list[tuple[int, int]]] = {}
    for i, jumper in enumerate(jumpers):
        for k, group in enumerate(jumper.groups):
            if group.accuracy is not None and group.canopy is not None:
                places.setdefault(group.canopy, []).append((i, k))
    drawn: dict[tuple[int, int], tuple[float, float]] = {}
    for mine in places.values():
        known = [g.accuracy.along for i, k in mine if (g := jumpers[i].groups[k]).accuracy is not None]
        found = shrunk([level.value for level in known], [_sd(level) for level in known])
        drawn |= dict(zip(mine, found or (), strict=False))
    for i, jumper in enumerate(jumpers):
        groups = tuple(replace(g, shrunk=drawn.get((i, k))) for k, g in enumerate(jumper.groups))
        yield replace(jumper, groups=groups)


def _sd(found: Level) -> float:
    """Standard deviation of a level, widened for its few degrees of freedom."""
    return float(found.se * np.sqrt(found.df / max(found.df - 2.0, 1.0)))
