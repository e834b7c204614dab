"""The keys a ``logbook.toml`` may hold: those of a plan, and who, what and where."""

from __future__ import annotations

from typing import Final

from analyser.logbook.table import MOST_CORRECTIONS
from analyser.logbook.talks import TALK_ROWS
from analyser.settings.schema import (
    PLAN_KEYS,
    Choice,
    Flag,
    Keys,
    Position,
    Quantity,
    Rows,
    Text,
    Texts,
    Whole,
)

__all__ = ["LOGBOOK_KEYS"]

LOGBOOK_KEYS: Final[Keys] = {
    **PLAN_KEYS,
    "plan": Texts(),
    "cards": Texts(),
    "note": Text(),
    "jump": Rows(
        {
            "file": Text(),
            "content": Text(),
            "jump": Whole(1),
            "jumper": Text(),
            "canopy": Text(),
            "site": Text(),
            "plan": Texts(),
            "target": Position(),
            "hand": Choice(("left", "right", "as flown")),
            "landing": Quantity("angle", 0.0, 360.0),
            "exclude": Text(),
            "include": Flag(),
            "note": Text(),
        },
        most=MOST_CORRECTIONS,
    ),
    "talk": TALK_ROWS,
}
