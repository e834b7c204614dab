"""What ``crabline debrief`` and ``crabline info`` do once the words are parsed: call, write, print."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from analyser.cli.streams import error_line
from analyser.cli.tracks import Sources, Wanted, debriefed, folder_of, recorded, say
from analyser.debrief import Debrief, inspect_recording
from analyser.errors import AnalyserError, OutputError
from analyser.placing import NO_TARGET
from analyser.report.documents.debrief import to_document
from analyser.report.documents.info import info_document
from analyser.report.documents.values import to_json
from analyser.report.plain import plain
from analyser.units import DISPLAY_SYSTEMS
from analyser.writing import STDOUT, identity, refuse_inputs, sweep_parts, write_text

if TYPE_CHECKING:
    from analyser.report.story.blocks import Story

__all__ = ["Outputs", "run_debrief", "run_info"]

ADD_TARGET = (
    "no target given: add --target LAT,LON, or a plan with a target, to see how far from it you landed"
)


@dataclass(frozen=True, slots=True)
class Outputs:
    """Where the results go besides the terminal."""

    json: str | None
    html: Path | None
    open: bool
    recollect: bool
    assets: Path | None
    gpx: Path | None
    geojson: Path | None
    kml: Path | None
    winds_csv: Path | None
    samples_csv: Path | None
    images: Path | None
    image_format: str
    brief: bool = False
    quiet: bool = False

    def exchange(self) -> bool:
        """Whether any file was named that holds one jump only, the page and the JSON left aside."""
        named = (self.gpx, self.geojson, self.kml, self.winds_csv, self.samples_csv, self.images)
        return any(path is not None for path in named)

    def files(self) -> list[Path]:
        """Every file named; standard output is none."""
        return [path for path in self._named() if path != STDOUT]

    def on_stdout(self) -> bool:
        """Whether a result goes to standard output, in place of the text. Wrong usage where several do."""
        return one_on_stdout(self._named())

    def _named(self) -> list[Path]:
        named = [self.html, self.gpx, self.geojson, self.kml, self.winds_csv, self.samples_csv]
        named.append(None if self.json is None else Path(self.json))
        if self.images is not None:
            from analyser.report.pictures.figures import PICTURES

            named += [self.images / f"{name}.{self.image_format}" for name in PICTURES]
        return [path for path in named if path is not None]


def run_debrief(
    tracks: Sequence[Wanted],
    plans: Sequence[Path],
    target: str | None,
    units: str,
    outputs: Outputs,
    logbook: Path | None = None,
    *,
    load: Sequence[Path] = (),
) -> None:
    """Debrief what was asked for, write the files, print the story; two tracks side by side, more as lines of JSON or one by one.

    ``load``: where the other tracks of the jump's load are; its wind is then that of all of them.
    """
    outputs.on_stdout()
    inputs = [*(track.path for track in tracks if not track.stdin), *plans, *([logbook] if logbook else [])]
    inputs += [path for path in load if path.is_file()]
    check_outputs(outputs.files(), inputs)
    if outputs.open and outputs.html is None:
        raise OutputError("--open needs a page to open", "add --html FILE")
    going_on = len(tracks) > 1 and outputs.html is None and not outputs.exchange()
    known = _known(tracks, plans, target, outputs.quiet, going_on=going_on)
    inputs += [path for sources in known.values() if isinstance(sources, Sources) for path in sources.files()]
    check_outputs(outputs.files(), inputs)
    found, bad = _debriefs(tracks, known, outputs.quiet, going_on=going_on)
    if load:
        from analyser.cli.load_tracks import in_its_load

        found = [in_its_load(result, load, quiet=outputs.quiet) for result in found]
    if logbook is not None:
        found = [_by_logbook(one, logbook, outputs.quiet) for one in found]
    if len(tracks) == 2 and len(found) == 2 and outputs.json is None and not outputs.brief:
        run_two(found, units, outputs, inputs)
    elif len(found) == 1 and not bad:
        run_one(found[0], units, outputs, inputs)
    elif found:
        run_many(found, units, outputs, inputs)
    if bad:
        raise typer.Exit(1)


def _known(
    tracks: Sequence[Wanted], plans: Sequence[Path], target: str | None, quiet: bool, *, going_on: bool
) -> dict[Path, Sources | AnalyserError]:
    """Folder → what holds in it; where it goes on, a folder whose own files are at fault costs its tracks only."""
    known: dict[Path, Sources | AnalyserError] = {}
    for folder in dict.fromkeys(folder_of(track) for track in tracks):
        try:
            known[folder] = Sources(folder, plans, target, quiet=quiet)
        except AnalyserError as error:
            known[folder] = error
    faults = [fault for fault in known.values() if isinstance(fault, AnalyserError)]
    if faults and (not going_on or len(faults) == len(known)):
        raise faults[0]
    return known


def _debriefs(
    tracks: Sequence[Wanted], known: Mapping[Path, Sources | AnalyserError], quiet: bool, *, going_on: bool
) -> tuple[list[Debrief], int]:
    """The jumps of all tracks and how many tracks could not be used; each of these is a line on stderr where it goes on, else the end."""
    found: list[Debrief] = []
    bad = 0
    for track in tracks:
        try:
            sources = known[folder_of(track)]
            if isinstance(sources, AnalyserError):
                raise sources
            found += debriefed(track, sources, quiet=quiet)
        except AnalyserError as error:
            if not going_on:
                raise
            print(error_line(error), file=sys.stderr)
            bad += 1
    return found, bad


def _by_logbook(result: Debrief, logbook: Path, quiet: bool) -> Debrief:
    from analyser.logbook.weigh import weigh_by_logbook

    again, jumps = weigh_by_logbook(result, logbook)
    plural = "" if jumps == 1 else "s"
    say(f"{jumps} earlier jump{plural} in {logbook} tell habit from chance", quiet=quiet or jumps == 0)
    return again


def run_one(result: Debrief, units: str, outputs: Outputs, inputs: Sequence[Path]) -> None:
    """One jump with all its files."""
    write_files(result, units, outputs, inputs)
    if not outputs.on_stdout():
        show(_told(result, outputs), units, brief=outputs.brief)
    if outputs.open and outputs.html is not None:
        import webbrowser

        webbrowser.open(outputs.html.resolve().as_uri())


def run_many(found: Sequence[Debrief], units: str, outputs: Outputs, inputs: Sequence[Path]) -> None:
    """Several jumps: with ``--json`` a document a line (JSON lines), else their stories one after the other."""
    if outputs.exchange() or outputs.html is not None:
        raise AnalyserError(
            "several jumps give text or lines of JSON only", "debrief each alone for pages and exchange files"
        )
    if outputs.json is not None:
        text = "".join(
            json.dumps(to_document(result), ensure_ascii=False, allow_nan=False) + "\n" for result in found
        )
        if outputs.json == "-":
            sys.stdout.write(text)
            return
        write_text(outputs.json, text, inputs=inputs)
    for number, result in enumerate(found):
        print("\n" * (number > 0) + f"{plain(result.recording.file)}#{result.jump}")
        show(_told(result, outputs), units, brief=outputs.brief)


def _told(result: Debrief, outputs: Outputs) -> Story:
    """The story as the terminal has it: held back where the jumper is to remember first."""
    from analyser.report.story.jump import tell_jump
    from analyser.report.story.recollection import held_back

    story = tell_jump(_at_the_shell(result), recollect=outputs.recollect)
    return held_back(story, None if outputs.html is None else str(outputs.html)) if story.asked else story


def _at_the_shell(result: Debrief) -> Debrief:
    """Who reads in the terminal is told which option gives what is missing; documents and pages name none."""
    for what, why in result.reasons.items():
        if why == NO_TARGET:
            result = result.lacking(what, ADD_TARGET)
    return result


def one_on_stdout(named: Sequence[Path]) -> bool:
    """Whether one of the outputs is ``-``; wrong usage (exit code 2) where several are."""
    if named.count(STDOUT) > 1:
        raise typer.BadParameter("only one output can be -", param_hint="-")
    return STDOUT in named


def put(texts: Sequence[tuple[Path, str]], inputs: Sequence[Path]) -> None:
    """Each text into its file, or on standard output."""
    for path, text in texts:
        if path == STDOUT:
            sys.stdout.write(text)
        else:
            write_text(path, text, inputs=inputs)


def check_outputs(files: Sequence[Path], inputs: Sequence[Path]) -> None:
    """Refuse before any work is done what could not be written after it, and sweep what killed runs left there."""
    refuse_inputs(files, inputs)
    seen: set[object] = set()
    for path in files:
        if identity(path) in seen:
            raise OutputError("is named for two outputs", "give each its own name", str(path))
        seen.add(identity(path))
    for folder in {path.parent for path in files}:
        sweep_parts(folder)


def assets_beside(page: Path, assets: Path | None) -> Path | None:
    """Write the shared bundle into ``assets`` and give the folder as the page names it; None where none was asked for."""
    if assets is None:
        return None
    from analyser.report.page.shell import write_assets

    write_assets(assets)
    return Path(os.path.relpath(assets.resolve(), page.resolve().parent))


def write_files(result: Debrief, units: str, outputs: Outputs, inputs: Sequence[Path]) -> None:
    """Write every file asked for, each whole or not at all; all texts are made before the first is written."""
    texts: list[tuple[Path, str]] = []
    if outputs.json is not None:
        texts.append((Path(outputs.json), to_json(to_document(result))))
    if outputs.html is not None:
        from analyser.report.page.pages import render_page

        texts.append(
            (
                outputs.html,
                render_page(
                    result,
                    units=units,
                    recollect=outputs.recollect,
                    assets=assets_beside(outputs.html, outputs.assets),
                ),
            )
        )
    texts += [(path, text) for path, text in exchange_texts(result, outputs) if path is not None]
    put(texts, inputs)
    if outputs.images is not None:
        from analyser.report.files import write_images

        write_images(result, outputs.images, outputs.image_format, units=units)


def exchange_texts(result: Debrief, outputs: Outputs) -> list[tuple[Path | None, str]]:
    """The exchange files asked for."""
    if not any((outputs.gpx, outputs.geojson, outputs.kml, outputs.winds_csv, outputs.samples_csv)):
        return []
    from analyser.report import files

    makers = (
        (outputs.gpx, files.gpx_text),
        (outputs.geojson, files.geojson_text),
        (outputs.kml, files.kml_text),
        (outputs.winds_csv, files.winds_csv),
        (outputs.samples_csv, files.samples_csv),
    )
    return [(path, make(result)) for path, make in makers if path is not None]


def show(story: Story, units: str, *, brief: bool = False) -> None:
    """Print a story on stdout."""
    from rich.console import Console

    from analyser.report.terminal import print_story, terminal_width

    console = Console(width=terminal_width(), highlight=False, emoji=False)
    print_story(story, DISPLAY_SYSTEMS[units], console, brief=brief)


def run_two(found: Sequence[Debrief], units: str, outputs: Outputs, inputs: Sequence[Path]) -> None:
    """Two jumps side by side, at the same target."""
    from analyser.report.page.pages import render_comparison
    from analyser.report.story.two_jumps import tell_two_jumps

    if outputs.exchange():
        raise AnalyserError(
            "two tracks give a page and a table only", "debrief each alone for JSON and exchange files"
        )
    a, b = found
    if outputs.html is not None:
        assets = assets_beside(outputs.html, outputs.assets)
        put([(outputs.html, render_comparison(a, b, units=units, assets=assets))], inputs)
    if not outputs.on_stdout():
        show(tell_two_jumps(_at_the_shell(a), _at_the_shell(b)), units)


def run_info(track: Path, json_file: str | None, units: str, *, quiet: bool = False) -> None:
    """Say what a file holds."""
    from analyser.report.story.info import tell_info

    asked = Wanted(track, None)
    found = inspect_recording(recorded(asked, Sources(folder_of(asked), (), None, quiet=quiet)))
    if json_file == "-":
        sys.stdout.write(to_json(info_document(found)))
        return
    if json_file is not None:
        inputs = [] if asked.stdin else [track]
        check_outputs([Path(json_file)], inputs)
        write_text(json_file, to_json(info_document(found)), inputs=inputs)
    show(tell_info(found), units)
