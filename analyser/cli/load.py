"""What ``crabline load`` does once the words are parsed, and where ``debrief --load`` finds the others of a load."""

from __future__ import annotations

import math
import os
import webbrowser
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import typer

from analyser.cli.debrief import assets_beside, check_outputs, one_on_stdout, put, show
from analyser.cli.tracks import Sources, say
from analyser.debrief import Debrief, begin_every
from analyser.errors import AnalyserError, InputError, OutputError
from analyser.importers.read import read
from analyser.load.study import loads_of, study_load
from analyser.logbook import Logbook
from analyser.logbook.scan import check_folders, scan
from analyser.report.documents.load import load_document
from analyser.report.documents.values import to_json
from analyser.report.plain import utc_minute
from analyser.settings import Settings

__all__ = ["in_its_load", "run_load"]

SQLITE: Final = b"SQLite format 3\x00"
NEAR_S: Final = 3600.0  # ours: a load is on the ground within the hour
NEAR_DEG: Final = 0.1


def run_load(
    tracks: Sequence[Path],
    at: str | None,
    plans: Sequence[Path],
    target: str | None,
    units: str,
    *,
    json_file: str | None,
    html: Path | None,
    open_page: bool,
    assets: Path | None,
    quiet: bool,
) -> None:
    """Find the load among the tracks, study it, write and print."""
    named = [path for path in (None if json_file is None else Path(json_file), html) if path is not None]
    alone = one_on_stdout(named)
    files = [path for path in named if str(path) != "-"]
    check_outputs(files, [*(p for p in tracks if p.is_file()), *plans])
    if open_page and (html is None or str(html) == "-"):
        raise OutputError("--open needs a page to open", "add --html FILE")
    when = None if at is None else _moment(at)
    begun = list(_begun(tracks, plans, target, quiet=quiet))
    found = _picked(begun, when, whole=all(not p.is_dir() for p in tracks), quiet=quiet)
    check_outputs(files, [Path(jump.recording.file) for jump in found])
    load = study_load(found)
    texts: list[tuple[Path, str]] = []
    if json_file is not None:
        texts.append((Path(json_file), to_json(load_document(load))))
    if html is not None:
        from analyser.report.page.load_page import render_load

        texts.append((html, render_load(load, units=units, assets=assets_beside(html, assets))))
    put(texts, [*tracks, *plans])
    if not alone:
        from analyser.report.story.load import tell_load

        show(tell_load(load), units)
    if open_page and html is not None:
        webbrowser.open(html.resolve().as_uri())


def in_its_load(jump: Debrief, others: Sequence[Path], *, quiet: bool = False) -> Debrief:
    """A jump debriefed in the wind of its load, whose other tracks are among ``others`` (files, folders, logbooks); itself where nobody is."""
    own = begin_every(jump.recording, jump.settings)[max(jump.jump - 1, 0)]
    files: list[Path] = []
    for path in others:
        files += _from_logbook(path, jump) if _is_logbook(path) else [path]
    begun = [own]
    for one in _begun(files, (), None, quiet=quiet):
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


def _begun(
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


def _moment(text: str) -> float:
    """A time as seconds since 1970; without an offset it is UTC. Wrong usage: BadParameter."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is no time such as 2026-06-14T10:12Z (UTC) or 2026-06-14T12:12+02:00",
            param_hint="--at",
        ) from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _when(jump: Debrief) -> float:
    landed = jump.phases.landing_s
    return jump.track.start_utc_s + (landed if landed is not None else float(jump.track.t_s[-1]))


def _picked(begun: Sequence[Debrief], when: float | None, *, whole: bool, quiet: bool) -> list[Debrief]:
    """The jumps of one load: the one at the time; else the largest of the tracks that were named, or a folder's last."""
    every = loads_of(begun)
    shared = [group for group in every if len(group) > 1]
    if not shared:
        raise InputError(
            "no two of these tracks are of one load",
            "a load is found by its ride in the aeroplane, or by time and place of the exits",
        )
    last = {group: max(_when(begun[k]) for k in group) for group in shared}
    if when is not None:
        group = min(shared, key=lambda g: abs(last[g] - when))
        if abs(last[group] - when) > NEAR_S:
            near = utc_minute(last[group])
            raise InputError("no load landed within an hour of that time", f"the nearest landed at {near}")
    else:
        group = max(shared, key=len) if whole else max(shared, key=lambda g: last[g])
        if len(shared) > 1 and not whole:
            times = ", ".join(utc_minute(last[g])[:-4] for g in shared[-8:])
            say(f"{len(shared)} loads, this is the last; --at TIME picks another: {times} UTC", quiet=quiet)
    if whole:
        for k in sorted(set(range(len(begun))) - set(group)):
            say(f"{begun[k].recording.file}: is not of this load and was left out", quiet=quiet)
    return [begun[k] for k in group]


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
                abs(moment - _when(jump)) > NEAR_S
                or max(abs(float(row["landing_lat"]) - lat), off) > NEAR_DEG
            ):
                continue
            places = [p for p in book.tracks(str(row["sha256"])) if p.is_file()]
            if places:
                found[str(row["sha256"])] = places[0]
    return list(found.values())
