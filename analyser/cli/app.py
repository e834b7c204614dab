"""The ``crabline`` command: parse, call, print, exit code; no arithmetic."""

from __future__ import annotations

import errno
import io
import os
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from analyser._version import __version__
from analyser.errors import AnalyserError, OutputError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["app", "main"]

app = typer.Typer(
    context_settings={"help_option_names": ["-h", "--help"]},
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="The debrief of a parachute landing from its GPS track, on the ground, after the jump. "
    "Not an altimeter, not an instructor: licensed instructors and local rules decide.",
)

# Who may read or write a path is found out where that is done, in one line with exit code 1; typer would take it for a wrong command.
path_option = partial(typer.Option, readable=False)
path_argument = partial(typer.Argument, readable=False)

CLUB_SEED, CLUB_JUMPS = 1, 12
CLUB = {"club": f"a folder for a season: six jumpers, {CLUB_JUMPS} jumps each, with plans and logbook.toml"}

PlanOption = Annotated[
    list[Path] | None,
    path_option(
        "--plan",
        metavar="FILE",
        envvar="CRABLINE_PLAN",
        help="Site, canopy, pattern, wind (TOML); repeatable, later wins.",
    ),
]
TargetOption = Annotated[
    str | None,
    typer.Option("--target", metavar="LAT,LON", help="The target, degrees of WGS 84; beats the plan's."),
]
UnitsOption = Annotated[
    str,
    typer.Option(
        "--units",
        metavar="NAME",
        envvar="CRABLINE_UNITS",
        help="us, uk, nordic or metric: units of the text and the page.",
    ),
]


def main() -> None:
    """Run the command; every foreseen error is one line on stderr and exit code 1."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = (
            "1"  # with more the last digits of a sum depend on how many: same input, same bytes
        )
    open_what_is_closed()
    write_any_character()
    try:
        try:
            app(prog_name="crabline")
        finally:
            sys.stdout.flush()
    except AnalyserError as error:
        fail(error)
    except SystemExit as left:
        if isinstance(left.__context__, BrokenPipeError):  # click has caught it and leaves with 1
            give_up_stdout(status=0)
        raise
    except BrokenPipeError:
        give_up_stdout(status=0)  # who reads no further has what was wanted: crabline … | head
    except OSError as error:
        if error.filename is not None or error.errno not in (
            errno.ENOSPC,
            errno.EDQUOT,
            errno.EFBIG,
            errno.EIO,
        ):
            raise
        give_up_stdout(
            f"error: standard output: can not be written ({os.strerror(error.errno).lower()}); make room"
        )
    except KeyboardInterrupt:
        raise SystemExit(130) from None


def give_up_stdout(line: str = "", status: int = 1) -> NoReturn:
    """What is still to be written to stdout goes nowhere; ``line`` on stderr, and the exit code."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if line:
        print(line, file=sys.stderr)
    raise SystemExit(status) from None


def open_what_is_closed() -> None:
    """A stream that the caller closed (``>&-``) becomes the null device, so that no file is opened in its place."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def write_any_character() -> None:
    """Pipes and files get UTF-8, as JSON asks (RFC 8259, 8.1); a terminal keeps its encoding, with ? for what it has not."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            if stream.isatty():
                stream.reconfigure(errors="replace")
            else:
                stream.reconfigure(encoding="utf-8")


def fail(error: AnalyserError) -> NoReturn:
    """``error: FILE: what is wrong; what to do`` on stderr, exit code 1."""
    print(f"error: {error}".replace("\n", " "), file=sys.stderr)
    raise SystemExit(1)


def version(wanted: bool) -> None:
    """Print the version and leave."""
    if wanted:
        print(f"crabline {__version__}")
        raise typer.Exit


@app.callback()
def common(
    show_version: Annotated[
        bool, typer.Option("--version", callback=version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Options of the command itself."""


@app.command(
    epilog="Example: crabline debrief sample_tracks/first_light.gpx --target 49.7215,-107.9342 --html page.html"
)
def debrief(
    tracks: Annotated[
        list[Path] | None,
        path_argument(metavar="TRACK", help="GPX, FIT, IGC, NMEA, TCX or a table; FILE#2; - for stdin."),
    ] = None,
    plan: PlanOption = None,
    target: TargetOption = None,
    jump: Annotated[
        str | None,
        typer.Option("--jump", metavar="N", help="Which jump of the file, from 1, or all; default the last."),
    ] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Write the results as JSON; - for stdout.")
    ] = None,
    html_file: Annotated[Path | None, path_option("--html", metavar="FILE", help="Write the page.")] = None,
    units: UnitsOption = "uk",
    open_page: Annotated[bool, typer.Option("--open", help="Open the page in a browser.")] = False,
    recollect: Annotated[
        bool, typer.Option("--recollect", help="The page first asks what the jumper remembers.")
    ] = False,
    assets: Annotated[
        Path | None,
        path_option("--assets", metavar="FOLDER", help="Share one script bundle between pages."),
    ] = None,
    gpx: Annotated[
        Path | None,
        path_option("--gpx", metavar="FILE", help="Write phases and gates as GPX."),
    ] = None,
    geojson: Annotated[
        Path | None, path_option("--geojson", metavar="FILE", help="Write them as GeoJSON.")
    ] = None,
    kml: Annotated[Path | None, path_option("--kml", metavar="FILE", help="Write them as KML.")] = None,
    winds_csv: Annotated[
        Path | None,
        path_option("--winds-csv", metavar="FILE", help="Write the recovered winds as CSV."),
    ] = None,
    samples_csv: Annotated[
        Path | None,
        path_option("--samples-csv", metavar="FILE", help="Write every fix with what was found."),
    ] = None,
    images: Annotated[
        Path | None,
        path_option("--images", metavar="FOLDER", help="Write each picture (needs the extra: images)."),
    ] = None,
    image_format: Annotated[str, typer.Option("--image-format", metavar="KIND", help="png or svg.")] = "png",
    brief: Annotated[
        bool, typer.Option("--brief", help="Print three lines: where the landing was, why, and what to do.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Nothing but the results.")] = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of --json and exit.")
    ] = False,
) -> None:
    """Debrief one jump: winds by layer, legs with turn heights, plan against flown, where the metres went."""
    from analyser.cli.debrief import Outputs, run_debrief
    from analyser.cli.tracks import wanted

    if schema:
        from analyser.report.documents.schemas import schema_text

        print(schema_text(), end="")
        return
    if not tracks:
        raise typer.BadParameter("name a track file", param_hint="TRACK")
    check_choice("--units", units, ("us", "uk", "nordic", "metric"))
    check_choice("--image-format", image_format, ("png", "svg"))
    outputs = Outputs(
        json_file,
        html_file,
        open_page,
        recollect,
        assets,
        gpx,
        geojson,
        kml,
        winds_csv,
        samples_csv,
        images,
        image_format,
        brief,
        quiet,
    )
    run_debrief([wanted(track, jump) for track in tracks], [*(plan or [])], target, units, outputs)


@app.command(epilog="Example: crabline plan --plan shared/plans/first_light.toml --gpx pattern.gpx")
def plan(
    plan_files: PlanOption = None,
    winds: Annotated[
        Path | None,
        path_option("--winds", metavar="FILE", help="The wind: CSV, a debrief's JSON, a METAR, winds aloft."),
    ] = None,
    station: Annotated[
        str | None, typer.Option("--station", metavar="NAME", help="Which station of the winds aloft.")
    ] = None,
    target: TargetOption = None,
    hand: Annotated[
        str,
        typer.Option(
            "--hand", metavar="HAND", help="left, right or both; default: the site's or the plan's."
        ),
    ] = "",
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Write the plan as JSON; - for stdout.")
    ] = None,
    html_file: Annotated[Path | None, path_option("--html", metavar="FILE", help="Write the page.")] = None,
    gpx: Annotated[Path | None, path_option("--gpx", metavar="FILE", help="Gates as GPX waypoints.")] = None,
    geojson: Annotated[
        Path | None, path_option("--geojson", metavar="FILE", help="Gates as GeoJSON.")
    ] = None,
    units: UnitsOption = "uk",
    template: Annotated[
        bool, typer.Option("--template", help="Print a commented plan to fill in and exit.")
    ] = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of plan files and exit.")
    ] = False,
    assets: Annotated[
        Path | None,
        path_option("--assets", metavar="FOLDER", help="Share one script bundle between pages."),
    ] = None,
) -> None:
    """Draw the pattern that reaches the target in a given wind: turn points and heights. On the ground, before the jump."""
    from analyser.cli.plan import run_plan
    from analyser.cli.tracks import settings_for

    check_choice("--units", units, ("us", "uk", "nordic", "metric"))
    check_choice("--hand", hand, ("", "left", "right", "both"))
    if template or schema:
        from analyser.settings.template import TEMPLATE, schema_text

        print(TEMPLATE if template else schema_text(), end="")
        return
    run_plan(
        settings_for(Path.cwd(), plan_files or [], target),
        plan_files or [],
        winds,
        hand,
        units,
        station=station,
        json_file=json_file,
        html=html_file,
        gpx=gpx,
        geojson=geojson,
        assets=assets,
    )


@app.command(epilog="Example: crabline info sample_tracks/first_light.gpx")
def info(
    track: Annotated[Path, path_argument(metavar="TRACK", help="GPX, FIT, IGC, NMEA, TCX or a table.")],
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Write it as JSON; - for stdout.")
    ] = None,
    units: UnitsOption = "uk",
) -> None:
    """What a file holds: sampling, gaps, altitude quality, jumps found; nothing is judged."""
    from analyser.cli.debrief import run_info

    check_choice("--units", units, ("us", "uk", "nordic", "metric"))
    run_info(track, json_file, units)


@app.command(epilog="Example: crabline season sample_tracks --logbook season.sqlite --csv season.csv")
def season(
    folders: Annotated[
        list[Path],
        path_argument(metavar="FOLDER", help="Folders that hold tracks, at any depth."),
    ],
    plan_files: PlanOption = None,
    logbook: Annotated[
        Path | None,
        path_option("--logbook", metavar="FILE", help="Default: logbook.sqlite in the first folder."),
    ] = None,
    jobs: Annotated[
        int | None, typer.Option("--jobs", metavar="N", min=1, help="Processes; default one per core.")
    ] = None,
    csv: Annotated[Path | None, path_option("--csv", metavar="FILE", help="One line per jump.")] = None,
    parquet: Annotated[
        Path | None,
        path_option(
            "--parquet",
            metavar="FILE",
            help="The same as Parquet (needs the extra: parquet).",
        ),
    ] = None,
    html_file: Annotated[Path | None, path_option("--html", metavar="FILE", help="The season page.")] = None,
    coach_file: Annotated[
        Path | None,
        path_option("--coach", metavar="FILE", help="The coach's page: one line per jumper."),
    ] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="The summary as JSON; - for stdout.")
    ] = None,
    cards: Annotated[
        Path | None,
        path_option(
            "--canopy-cards",
            metavar="FOLDER",
            help="Write each canopy's measured trim as TOML.",
        ),
    ] = None,
    assets: Annotated[
        Path | None,
        path_option("--assets", metavar="FOLDER", help="Share one script bundle between pages."),
    ] = None,
    pages: Annotated[
        Path | None,
        path_option("--pages", metavar="FOLDER", help="Write each jump's page; --html links to them."),
    ] = None,
    units: UnitsOption = "uk",
    private: Annotated[bool, typer.Option("--private", help="Leave out names, dates and places.")] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with 1 where any track could not be used.")
    ] = False,
    retry: Annotated[bool, typer.Option("--retry", help="Take up again tracks that failed before.")] = False,
    forget: Annotated[bool, typer.Option("--forget", help="Drop the jumps of tracks that are gone.")] = False,
    check: Annotated[
        bool, typer.Option("--check", help="Only read the logbook through and say what is wrong in it.")
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="A Dask cluster (needs the extra: cluster)."),
    ] = None,
) -> None:
    """Debrief every track below the folders into one logbook, then summarise it."""
    from analyser.cli.season import SeasonOutputs, run
    from analyser.cli.season import check as check_it

    check_choice("--units", units, ("us", "uk", "nordic", "metric"))
    if check:
        check_it(folders, logbook)
        return
    outputs = SeasonOutputs(csv, parquet, json_file, html_file, coach_file, cards, assets, private, pages)
    run(folders, plan_files or [], logbook, jobs, scheduler, retry, strict, units, outputs, forget=forget)


@app.command(epilog="Example: crabline desk my_tracks")
def desk(
    folder: Annotated[
        Path | None,
        path_argument(
            metavar="FOLDER", help="Tracks and logbook; default: a folder of your own, made for it."
        ),
    ] = None,
    port: Annotated[
        int, typer.Option("--port", metavar="N", min=0, max=65535, help="0 takes any free one.")
    ] = 0,
    no_open: Annotated[bool, typer.Option("--no-open", help="Do not open the browser.")] = False,
) -> None:
    """The local page in the browser: drop a track, click the target, read the debrief, keep the logbook."""
    from analyser.cli.desk import run_desk

    run_desk(folder, port, not no_open)


@app.command(epilog="Example: crabline sample first_light --out tracks")
def sample(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="Which sample; none lists them.")] = None,
    out: Annotated[Path, path_option("--out", metavar="FOLDER", help="Where to write it.")] = Path("."),
) -> None:
    """Write an invented demo track with its truth beside it, or a whole club; with no name, list them."""
    from analyser.synthetic.samples import sample_names, write_sample

    names = sample_names()
    if name is None:
        for key, text in {**names, **CLUB}.items():
            print(f"{key:24} {text}")
        return
    if name in CLUB:
        from analyser.synthetic.season import write_season

        print(f"{len(write_season(out / name, CLUB_SEED, CLUB_JUMPS))} tracks in {out / name}")
        return
    if name not in names:
        import difflib

        near = difflib.get_close_matches(name, [*names, *CLUB], 1)
        raise AnalyserError(
            "there is no sample of that name",
            f"did you mean {near[0]}? crabline sample lists them" if near else "crabline sample lists them",
            name,
        )
    try:
        paths = write_sample(name, out)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"can not be read ({reason})", "check folder and permission", str(out)) from None
    for path in paths:
        print(path)


def check_choice(option: str, value: str, allowed: Sequence[str]) -> None:
    """Wrong usage (exit code 2) where ``value`` is not one of ``allowed``."""
    if value not in allowed:
        raise typer.BadParameter(f"{value!r} is not one of {', '.join(allowed)}", param_hint=option)
