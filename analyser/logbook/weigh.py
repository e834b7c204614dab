"""weigh_by_logbook: the advice of a debrief, weighed against the earlier jumps of the same jumper in a logbook."""

from __future__ import annotations

import os
from pathlib import Path

from analyser.debrief import with_earlier
from analyser.errors import InputError
from analyser.jump import Debrief
from analyser.logbook.book import Logbook

__all__ = ["weigh_by_logbook"]


def weigh_by_logbook(found: Debrief, logbook: str | os.PathLike[str]) -> tuple[Debrief, int]:
    """The debrief with advice that tells habit from chance, and how many earlier jumps told them apart.

    The jumper is the one the settings name; where they name none, the only one in the logbook, or the jumps of nobody named. Raises
    InputError where there is no such file, OutputError where it is no logbook.
    """
    path = Path(logbook)
    if not path.exists():
        raise InputError("there is no such logbook", "crabline season FOLDER makes one", str(path))
    landing, start_s = found.landing, found.track.start_utc_s
    if landing is None or start_s is None or not found.choices:
        return found, 0
    with Logbook(path) as book:
        name, names = found.settings.jumper.name, book.jumpers()
        if name is None and len(names) == 1:
            name = names[0]
        earlier = book.earlier(name, start_s + landing.t_s)
    return with_earlier(found, earlier), earlier.jumps
