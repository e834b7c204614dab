"""A made-up club for talks: planted habits, a planted improvement, planted cautions; and what is true of it, from long seasons."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
from season_made import FT, season

from analyser.logbook.talks import Note
from analyser.season.questions import Question

CLUB = {
    "Ada Low": "turns final 50 ft low",
    "Ben Gust": "takes strong wind for weaker than it is",
    "Bo High": "turns base 60 ft high",
    "Dee Better": "improves",
    "Eve Plain": "none",
    "Flo Plain": "none",
}
CAUTIONS = {
    "final_turn_below_minimum": 0.15,
    "low_turn": 0.1,
    "short_final": 0.3,
    "s_turns": 0.1,
    "wind_near_airspeed": 0.05,
    "large_last_turn": 0.02,
}
LONG = 6000


class RowsBook:
    """Rows in memory where a logbook is asked for."""

    def __init__(
        self, rows: dict[str, list[dict[str, Any]]], notes: dict[str, list[Note]] | None = None
    ) -> None:
        self.all, self.notes = rows, notes or {}

    def jumpers(self) -> list[str]:
        return sorted(self.all)

    def rows(self, jumper: str | None = None, *, one_jumper: bool = False) -> Iterator[dict[str, Any]]:
        if one_jumper:
            return iter(self.all[str(jumper)])
        return (row for mine in self.all.values() for row in mine)

    def figures(self, jumper: str | None, made_by: str) -> str | None:
        return None

    def keep(self, figures: dict[str | None, str], made_by: str) -> None:
        pass

    def document(self, sha256: str, jump: int) -> str:
        return "{}"

    def landings(self) -> Iterator[Any]:
        return iter(())

    def kept_winds(self, made_by: str) -> dict[Any, Any]:
        return {}

    def kept_loads(self, made_by: str) -> dict[Any, Any]:
        return {}

    def keep_winds(self, *kept: object) -> None:
        pass

    def failures(self) -> Iterator[Any]:
        return iter(())

    def talks(self) -> dict[str, list[Note]]:
        return self.notes


def club(seed: int, jumps: int = 30) -> tuple[dict[str, list[dict[str, Any]]], dict[str, Counter[str]]]:
    """Rows of every pupil, with findings, and how often each caution was planted."""
    rows = season(seed, jumps, habits=CLUB)
    rng = np.random.default_rng(np.random.SeedSequence([seed, 61]))
    planted: dict[str, Counter[str]] = {name: Counter() for name in rows}
    for name, mine in rows.items():
        for row in mine:
            codes = [code for code, share in CAUTIONS.items() if rng.random() < share]
            planted[name].update(codes)
            well = ["into_wind"] if rng.random() < 0.8 else ["landed_across_wind"]
            row["findings"] = " ".join([*well, *codes]) or None
            row["into_wind_error_deg"] = 10.0
    return rows, planted


@cache
def _long(name: str) -> dict[str, np.ndarray[Any, Any]]:
    rows = season(1, LONG, habits={name: CLUB[name]})[name]
    columns = (
        "along_m",
        "across_m",
        "wind_speed_mps",
        "cause_wind_along_m",
        *(f"{g}_agl_error_m" for g in ("final", "base", "downwind")),
    )
    return {c: np.array([row[c] for row in rows], dtype=float) for c in columns}


def is_true(question: Question) -> bool:
    """Whether what a question found holds in a season of thousands of jumps of the same pupil, beyond its margin and to that side."""
    known = _long(str(question.jumper))
    if question.code.startswith("bias"):
        middle = float(np.median(known[f"{question.code.split()[1]}_m"]))
        return abs(middle) > 8.0 and middle * question.value > 0.0
    if question.code == "turn height":
        middle = float(np.median(known[f"{question.evidence['gate']}_agl_error_m"]))
        return abs(middle) > 15.0 * FT and middle * question.value > 0.0
    if question.code in ("wind", "wind cause"):
        values = known["along_m" if question.code == "wind" else "cause_wind_along_m"]
        strong = known["wind_speed_mps"] >= float(question.evidence["edge_mps"])
        step = float(np.median(values[strong]) - np.median(values[~strong]))
        return abs(step) > 8.0 and step * question.value > 0.0
    if question.code in ("distance", "steadiness", "together"):
        return "improves" in CLUB[str(question.jumper)] and question.value < 0.0
    return False  # no change of level, no site, hand or canopy differs in this club
