"""What may be said of the questions of a season: clear (Holm, over all jumpers), worth watching (false share held within one jumper)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.season.questions import Question
from analyser.season.robust import holm

__all__ = ["ALPHA", "FALSE_SHARE", "judge"]

ALPHA: Final = 0.05
FALSE_SHARE: Final = 0.2
"""Ours: of what is called worth watching a fifth may be chance. Enough for a coach to look out for, never for a verdict."""


def judge(questions: Sequence[Question]) -> tuple[Question, ...]:
    """Both tiers, jumper by jumper in the order given; a value inside its margin is in neither.

    *Clear*: Holm's p over all questions of the season below ALPHA. *Worth watching*: of what is left of one jumper, all to which Benjamini
    and Hochberg (J. R. Statist. Soc. B 57 (1995) 289) give a p up to FALSE_SHARE. Distance and turn heights together are said only where
    neither is alone.
    """
    if not questions:
        return ()
    adjusted = holm([q.p for q in questions])
    judged = [
        replace(q, p_holm=float(p), claimed=bool(p < ALPHA) and abs(q.value) > q.margin)
        for q, p in zip(questions, adjusted, strict=True)
    ]
    judged = _watch(judged)
    alone = ("distance", "steadiness")
    clear = {(q.jumper, q.canopy) for q in judged if q.claimed and q.code in alone}
    watched = {(q.jumper, q.canopy) for q in judged if q.watched and q.code in alone}
    return tuple(
        replace(
            q,
            claimed=q.claimed and (q.jumper, q.canopy) not in clear,
            watched=q.watched and (q.jumper, q.canopy) not in clear | watched,
        )
        if q.code == "together"
        else q
        for q in judged
    )


def _watch(questions: list[Question]) -> list[Question]:
    rest: dict[str | None, list[int]] = {}
    for i, question in enumerate(questions):
        if not question.claimed:
            rest.setdefault(question.jumper, []).append(i)
    p_bh = np.array([q.p for q in questions])
    for mine in rest.values():
        p_bh[mine] = _false_share(p_bh[mine])
    return [
        replace(
            q, p_bh=float(p), watched=bool(not q.claimed and p <= FALSE_SHARE and abs(q.value) > q.margin)
        )
        for q, p in zip(questions, p_bh, strict=True)
    ]


def _false_share(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Benjamini's and Hochberg's adjusted p: the least false share at which each is named."""
    order = np.argsort(p)[::-1]
    scaled = p[order] * p.size / np.arange(p.size, 0, -1)
    found = np.empty_like(p)
    found[order] = np.minimum.accumulate(scaled)
    return np.minimum(found, 1.0)
