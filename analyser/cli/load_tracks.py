"""The jumps of some tracks, folders and logbooks as a load needs them, and one jump in the wind of its load."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from analyser.cli.tracks import Sources, say
from analyser.debrief import Debrief, begin_every
from analyser.errors import AnalyserError
from analyser.importers.read import read
from analyser.load.study import loads_of, study_load
from analyser.logbook import Logbook
from analyser.logbook.scan import check_folders, scan
from analyser.settings import Settings

__all__ = ["NEAR_S", "begun_of", "in_its_load", "landed_at"]

SQLITE: Final = b"SQLite format 3\x00"
NEAR_S: Final = 3600.0  # ours: a load is on the ground within the hour
NEAR_DEG: Final = 0.1


def in_its_load(jump: Debrief, others: Sequence[Path], *, quiet: bool = False) -> Debrief:
    """A jump debriefed in the wind of its load, whose other tracks are among ``others`` (files, folders, logbooks); itself where nobody is."""
    own = begin_every(jump.recording, jump.settings)[max(jump.jump - 1, 0)]
    files: list[Path] = []
    for path in others:
        files += _from_logbook(path, jump) if _is_logbook(path) else [path]
    begun = [own]
    for one in begun_of(files, (), None, quiet=quiet):
        if (one.recording.sha256, one.jump) != (own.recording.sha256, own.jump):
            begun.append(one)
    group = next((g for g in loads_of(begun) if 0 in g), (0,))
    if len(group) < 2:
        say("no other track is of the same load: the wind is of this track alone", quiet=quiet)
        return jump
    load = study_load([begun[k] for k in group])
    mine = (own.recording.sha256, own.jump)
    found = next((j for j in load.jumps if (j.recording.sha256, j.jump) == mine), jump)
    return found.knowing(jump=jump.jump, jumps=jump.jumps, questions=jump.questions)


def begun_of(
    paths: Sequence[Path], plans: Sequence[Path], target: str | None, *, quiet: bool
) -> Iterator[Debrief]:
    """Track and phases of every jump of the tracks; what a folder holds that is no track is said and left out."""
    sources = Sources(None, plans, target)
    for path in paths:
        inside = path.is_dir()
        if inside:
            check_folders([path])
        for file in (found.path for found in scan([Path(os.path.abspath(path))])) if inside else (path,):
            try:
                yield from _jumps(file, sources)
            except AnalyserError as error:
                if not inside:
                    raise
                say(f"left out: {error}", quiet=quiet)


def _jumps(file: Path, sources: Sources) -> Iterator[Debrief]:
    recording = read(file)
    settings, overrides = sources.of_track(file, recording.sha256)
    if settings.columns != Settings().columns:
        recording = read(file, columns=settings.columns)
    for jump in begin_every(recording, settings):
        own = overrides.get(jump.jump)
        yield jump if own is None else begin_every(recording, own)[jump.jump - 1]


def landed_at(jump: Debrief) -> float:
    """When a jump landed, else ends [s since 1970, UTC]."""
    landed = jump.phases.landing_s
    return jump.track.start_utc_s + (landed if landed is not None else float(jump.track.t_s[-1]))


def _is_logbook(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(SQLITE)) == SQLITE
    except OSError:
        return False


def _from_logbook(path: Path, jump: Debrief) -> list[Path]:
    """The tracks of a logbook that landed near a jump in time and place, as far as they are still there."""
    lat, lon = jump.track.frame.lat_deg, jump.track.frame.lon_deg
    found: dict[str, Path] = {}
    with Logbook(path) as book:
        for row in book.rows():
            if row["landing_utc"] is None or row["landing_lat"] is None or row["landing_lon"] is None:
                continue
            moment = datetime.fromisoformat(str(row["landing_utc"])).timestamp()
            off = abs((float(row["landing_lon"]) - lon + 180.0) % 360.0 - 180.0) * math.cos(math.radians(lat))
            if (
                abs(moment - landed_at(jump)) > NEAR_S
                or max(abs(float(row["landing_lat"]) - lat), off) > NEAR_DEG
            ):
                continue
            places = [p for p in book.tracks(str(row["sha256"])) if p.is_file()]
            if places:
                found[str(row["sha256"])] = places[0]
    return list(found.values())
