"""What ``crabline load`` does once the words are parsed."""

from __future__ import annotations

import webbrowser
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import typer

from analyser.cli.debrief import assets_beside, check_outputs, one_on_stdout, put, show
from analyser.cli.load_tracks import NEAR_S, begun_of, landed_at
from analyser.cli.tracks import say
from analyser.debrief import Debrief
from analyser.errors import InputError, OutputError
from analyser.load.study import loads_of, study_load
from analyser.report.documents.load import load_document
from analyser.report.documents.values import to_json
from analyser.report.plain import utc_minute

__all__ = ["run_load"]


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
    begun = list(begun_of(tracks, plans, target, quiet=quiet))
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


def _picked(begun: Sequence[Debrief], when: float | None, *, whole: bool, quiet: bool) -> list[Debrief]:
    """The jumps of one load: the one at the time; else the largest of the tracks that were named, or a folder's last."""
    every = loads_of(begun)
    shared = [group for group in every if len(group) > 1]
    if not shared:
        raise InputError(
            "no two of these tracks are of one load",
            "a load is found by its ride in the aeroplane, or by time and place of the exits",
        )
    last = {group: max(landed_at(begun[k]) for k in group) for group in shared}
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
