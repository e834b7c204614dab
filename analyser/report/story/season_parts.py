"""The jumps of a logbook, canopy by canopy, as the story of a season wants them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from analyser.logbook import Logbook
from analyser.report.pictures.season import Part
from analyser.report.plain import utc_minute
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.stats import JumperSeason, Season, group_jumps

__all__ = ["Link", "season_parts"]

Link = Callable[[str, int], str]


def season_parts(
    logbook: Logbook, season: Season, *, private: bool = False, link: Link | None = None
) -> list[list[Part]]:
    """The canopies of every jumper. ``link`` gives the address of one jump's debrief from its content hash and number, "" for none."""
    return [list(_parts(logbook, jumper, private, link)) for jumper in season.jumpers]


def _parts(logbook: Logbook, jumper: JumperSeason, private: bool, link: Link | None) -> Iterator[Part]:
    jumps, _ = read_jumps(logbook.rows(jumper.name, one_jumper=True))
    for i, ((_, part, mine, _q), group) in enumerate(zip(group_jumps(jumps), jumper.groups, strict=True), 1):
        name = f"canopy {i}" if private else group.canopy or "canopy not named"
        name = f"{name}, part {part}" if part else name
        hashes = mine.text["sha256"]
        links = [link(str(sha), jump) if link else "" for sha, jump in zip(hashes, mine.jump, strict=True)]
        places = tuple(int(k) + 1 for k in np.searchsorted(jumps.t_s, mine.t_s))
        yield Part(name, mine, group, places, tuple(_labels(mine, private, places)), tuple(links))


def _labels(jumps: Jumps, private: bool, places: Sequence[int]) -> Iterator[str]:
    for place, t in zip(places, jumps.t_s, strict=True):
        yield f"jump {place}" if private else utc_minute(float(t))
