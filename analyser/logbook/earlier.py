"""earlier_of: what the jumps before one say about a jumper's habits: the parts of their budgets."""

from __future__ import annotations

import json
import sqlite3
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final, NamedTuple

from analyser.logbook.same_jump import SAME_JUMP_S
from analyser.replay.next_jump import Earlier

__all__ = ["MOST_EARLIER", "Weighable", "before", "earlier_of", "weighable"]

MOST_EARLIER: Final = 10  # ours: who has mended a habit is not reminded of it a season long
SAME_TIME: Final = 3  # devices on one jump, at most

Budget = Sequence[Mapping[str, Any]]
_KNOWN: Final = "json_extract(json, '$.budget', '$.advice_choices', '$.advice')"
_ONE_JUMPER: Final = "FROM jump JOIN document USING (sha256, jump) WHERE jumper IS ? AND landing_utc"


class Weighable(NamedTuple):
    """One jump of a logbook: its choices and advice as its document has them, and the earlier jumps of the same jumper."""

    sha256: str
    jump: int
    choices: Sequence[Mapping[str, Any]]
    advice: Sequence[Mapping[str, Any]]
    earlier: Earlier


def earlier_of(budgets: Iterable[Budget]) -> Earlier:
    """The parts of earlier jumps by (row, part), from the budgets of their documents; a budget without parts is left out."""
    jumps, parts = 0, dict[tuple[str, str], list[tuple[float, float]]]()
    for budget in budgets:
        rows = [(row["cause"], part) for row in budget for part in row.get("parts") or ()]
        jumps += bool(rows)
        first = {
            (cause, part["part"]): part for cause, part in reversed(rows)
        }  # of two places that of the entry
        for key, part in first.items():
            parts.setdefault(key, []).append((part["along_m"], part["across_m"]))
    return Earlier(jumps, parts)


def before(db: sqlite3.Connection, jumper: str | None, landing_s: float) -> Earlier:
    """The jumps of a jumper (None: of nobody named) that landed before a moment [s since 1970], the last of them."""
    cut = datetime.fromtimestamp(landing_s - SAME_JUMP_S, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    query = (
        f"SELECT json_extract(json, '$.budget') {_ONE_JUMPER} < ? AND excluded IS NULL "
        "AND json_array_length(json, '$.budget') > 0 ORDER BY landing_utc DESC, sha256, jump LIMIT ?"
    )
    return earlier_of(json.loads(row[0]) for row in db.execute(query, (jumper, cut, MOST_EARLIER)))


def weighable(db: sqlite3.Connection, jumper: str | None) -> Iterator[Weighable]:
    """Every jump of a jumper whose advice was chosen from something, in the order of landing, with the jumps before it."""
    query = f"SELECT sha256, jump, landing_utc, excluded, {_KNOWN} {_ONE_JUMPER} IS NOT NULL ORDER BY landing_utc, sha256, jump"
    past: deque[tuple[float, Budget]] = deque(maxlen=MOST_EARLIER + SAME_TIME)
    for sha256, jump, landing_utc, excluded, text in db.execute(query, (jumper,)):
        budget, choices, advice = json.loads(text)
        landed = _seconds_of(landing_utc)
        if choices:
            known = [rows for at, rows in past if at < landed - SAME_JUMP_S][-MOST_EARLIER:]
            yield Weighable(sha256, jump, choices, advice or [], earlier_of(known))
        if budget and excluded is None:
            past.append((landed, budget))


def _seconds_of(utc: str) -> float:
    """Seconds since 1970 of a time as documents write it. Raises ValueError for another text."""
    return datetime.fromisoformat(utc.replace("Z", "+00:00")).astimezone(UTC).timestamp()
