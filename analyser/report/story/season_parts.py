"""The jumps of a logbook, canopy by canopy, as the story of a season wants them."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from analyser.logbook import Logbook
from analyser.report.pictures.season import Part
from analyser.report.plain import two_clocks, utc_minute
from analyser.report.story.blocks import Sentence, distance
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.report.story.views import Shown
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.sheet import Sheet
from analyser.season.summarise import JumperSeason, Season, group_jumps

__all__ = ["Link", "jumper_parts", "season_parts", "sheet_documents"]

Link = Callable[[str, int], str]


def season_parts(
    logbook: Logbook, season: Season, *, private: bool = False, link: Link | None = None
) -> list[list[Part]]:
    """The canopies of every jumper. ``link`` gives the address of one jump's debrief from its content hash and number, "" for none."""
    return [list(jumper_parts(logbook, jumper, private=private, link=link)) for jumper in season.jumpers]


def sheet_documents(logbook: Logbook, sheet: Sheet, *, private: bool = False) -> list[Shown]:
    """The jumps of a talk sheet's small views, with their documents."""
    shown = []
    for one in sheet.views:
        text = logbook.document(one.sha256, one.jump)
        if text is None:
            continue
        document = json.loads(text)
        landing = document.get("landing") or {}
        title = (
            Sentence("jump {n}", {"n": str(one.place)})
            if private
            else Sentence("{day}", {"day": _landed(one.t_s, landing)})
        )
        note = Sentence(
            "{along}, {across}",
            {
                "along": distance(landing.get("along_m"), sides=LONG_SHORT),
                "across": distance(landing.get("across_m"), sides=RIGHT_LEFT),
            },
        )
        shown.append(Shown(title, note, document))
    return shown


def jumper_parts(
    logbook: Logbook, jumper: JumperSeason, *, private: bool = False, link: Link | None = None
) -> Iterator[Part]:
    """The canopies of one jumper."""
    jumps, _ = read_jumps(logbook.rows(jumper.name, one_jumper=True))
    for i, ((_, part, mine, _q), group) in enumerate(zip(group_jumps(jumps), jumper.groups, strict=True), 1):
        name = f"canopy {i}" if private else group.canopy or "canopy not named"
        name = f"{name}, part {part}" if part else name
        hashes = mine.text["sha256"]
        links = [link(str(sha), jump) if link else "" for sha, jump in zip(hashes, mine.jump, strict=True)]
        places = tuple(int(k) + 1 for k in np.searchsorted(jumps.t_s, mine.t_s))
        yield Part(name, mine, group, places, tuple(_labels(mine, private, places)), tuple(links))


def _landed(t_s: float, landing: Mapping[str, Any]) -> str:
    return _when(t_s, landing.get("lat") or math.nan, landing.get("lon") or math.nan)


def _labels(jumps: Jumps, private: bool, places: Sequence[int]) -> Iterator[str]:
    columns = (places, jumps.t_s, jumps["landing_lat"], jumps["landing_lon"])
    for place, t, lat, lon in zip(*columns, strict=True):
        yield f"jump {place}" if private else _when(float(t), float(lat), float(lon))


def _when(t_s: float, lat_deg: float, lon_deg: float) -> str:
    """Both clocks of a landing; UTC alone where its place is not known."""
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)):
        return utc_minute(t_s)
    return two_clocks(t_s, lat_deg, lon_deg)
