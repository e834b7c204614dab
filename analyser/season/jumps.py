"""read_jumps: the rows of one jumper -> columns, with what does not belong left out and said."""

from __future__ import annotations

import math
from array import array
from collections import Counter, deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from sys import intern
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.logbook.jump_columns import NUMBERS, TARGET_MOVED, Row
from analyser.logbook.same_jump import Landed, same_jump

__all__ = ["Jumps", "LeftOut", "read_jumps"]

Vector = NDArray[np.float64]

_TEXTS: Final = (
    "file",
    "sha256",
    "canopy",
    "site",
    "plan",
    "hand",
    "pattern",
    "grade",
    "landing_utc",
    "findings",
    "left_open",
    "excluded",
)
_FROM_TARGET: Final = tuple(
    name
    for name in NUMBERS
    if name.startswith(("offset_", "cause_", "along_", "across_"))
    or name.endswith(("along_error_m", "across_error_m"))
)


@dataclass(frozen=True, slots=True, eq=False)
class Jumps:
    """Jumps of one jumper in order of landing, as columns: ``number[name]`` (n,) float64 with NaN, ``text[name]`` n values.

    ``t_s`` seconds since 1970 of the landings; ``jump`` the numbers in their files.
    """

    t_s: Vector
    jump: tuple[int, ...]
    number: dict[str, Vector]
    text: dict[str, tuple[str | None, ...]]

    def __len__(self) -> int:
        return int(self.t_s.size)

    def __getitem__(self, name: str) -> Vector:
        return self.number[name]

    def where(self, mask: NDArray[np.bool_]) -> Jumps:
        """The jumps of a mask (n,)."""
        index = np.flatnonzero(mask)
        return Jumps(
            self.t_s[index],
            tuple(self.jump[i] for i in index),
            {name: values[index] for name, values in self.number.items()},
            {name: tuple(values[i] for i in index) for name, values in self.text.items()},
        )

    def is_text(self, name: str, value: str | None) -> NDArray[np.bool_]:
        """Where a text column holds ``value``."""
        return np.array([x == value for x in self.text[name]], dtype=bool)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Why a jump does not count in the statistics, and how often."""

    reason: str
    count: int


def read_jumps(rows: Iterable[Row]) -> tuple[Jumps, tuple[LeftOut, ...]]:
    """The jumps that count, from logbook rows in order of landing, one row in memory at a time.

    Left out: recordings without a jump, jumps excluded by hand, poor recordings, and a second recording of the same jump.
    A jump whose file is gone and whose target has moved counts without its landing.
    """
    why: Counter[str] = Counter()
    times, numbers = array("d"), array("l")
    columns = {name: array("d") for name in NUMBERS}
    texts: dict[str, list[str | None]] = {name: [] for name in _TEXTS}
    for row in _kept(rows, why):
        times.append(seconds(row["landing_utc"]))
        numbers.append(int(row["jump"]))
        for name, values in columns.items():
            values.append(_number(row[name]))
        for name, words in texts.items():
            words.append(None if row[name] is None else intern(row[name]))
    jumps = Jumps(
        np.array(times, dtype=np.float64),
        tuple(numbers),
        {name: np.array(values, dtype=np.float64) for name, values in columns.items()},
        {name: tuple(words) for name, words in texts.items()},
    )
    return jumps, tuple(LeftOut(reason, count) for reason, count in sorted(why.items()))


def _kept(rows: Iterable[Row], why: Counter[str]) -> Iterator[Row]:
    recent: deque[Row] = deque(maxlen=20)
    for row in rows:
        reason = _reason(row, recent)
        if reason:
            why[reason] += 1
            continue
        recent.append(row)
        if row["excluded"] == TARGET_MOVED:
            why["landings measured from another target, whose files are gone"] += 1
            row = row | dict.fromkeys(_FROM_TARGET)
        yield row


def _reason(row: Row, recent: Iterable[Row]) -> str:
    if row["kind"] != "jump":
        return f"no jump in the recording: {row['reason']}" if row["reason"] else "no jump in the recording"
    if row["excluded"] not in (None, "", TARGET_MOVED):
        return "excluded by hand"
    if row["grade"] == "poor":
        return "a poor recording"
    if row["landing_utc"] is None:
        return "no time of landing"
    return "a second recording of the same jump" if any(_same(row, other) for other in recent) else ""


def _same(a: Row, b: Row) -> bool:
    if a["sha256"] == b["sha256"] or a["jumper"] != b["jumper"]:
        return False
    return same_jump(_landed(a), _landed(b), named=a["jumper"] is not None)


def _landed(row: Row) -> Landed:
    return Landed(seconds(row["landing_utc"]), row["landing_lat"], row["landing_lon"])


def seconds(utc: str | None) -> float:
    """Seconds since 1970 of an ISO 8601 time; NaN for None."""
    return math.nan if utc is None else datetime.fromisoformat(utc).timestamp()


def _number(value: object) -> float:
    return float(value) if isinstance(value, (int, float)) else math.nan
