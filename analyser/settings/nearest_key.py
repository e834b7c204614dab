"""The key that was meant where another one was typed."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Final

from analyser.settings.schema import UNITS, Keys, known_keys, listed_keys

__all__ = ["meant", "near"]

_NEAR: Final = 0.75  # ours: a ratio of difflib; "nmae" has it to "name", "standards" has 0.31 to "wind"


def meant(key: str, keys: Keys, top: Keys) -> str:
    """What was meant by a key that ``keys`` does not hold, and where it stands in ``top``; else what is known here."""
    others = {t: known_keys(i) for t, i in top.items() if isinstance(i, Mapping) and i is not keys}
    for table, known in others.items():
        if key in known:
            return f"{key} belongs to [{table}]"
    if guess := near(key, known_keys(keys)):
        return f"did you mean {guess}?"
    for table, known in others.items():
        if guess := near(key, known):
            return f"did you mean {guess} in [{table}]?"
    return f"known here: {listed_keys(keys)}"


def near(word: str, known: list[str]) -> str | None:
    """The known word that ``word`` may be a slip of, with the same unit where there is one; None where none is really near.

    Case and units are left aside: two words are not near because both end in ``_deg``.
    """
    stems: dict[str, list[str]] = {}
    for name in known:
        stems.setdefault(_stem(name), []).append(name)
    found = difflib.get_close_matches(_stem(word), list(stems), n=1, cutoff=_NEAR)
    if not found:
        return None
    names = stems[found[0]]
    return next((n for n in names if n.rpartition("_")[2] == word.casefold().rpartition("_")[2]), names[0])


def _stem(word: str) -> str:
    name, _, unit = word.casefold().rpartition("_")
    return name if name and any(unit in units for units in UNITS.values()) else word.casefold()
