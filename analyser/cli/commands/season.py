"""``crabline season``."""

from pathlib import Path
from typing import Annotated

from analyser.cli.options import (
    AssetsOption,
    PlanOption,
    UnitsOption,
    check_units,
    file_option,
    flag,
    folder_option,
    named_option,
    path_argument,
)

__all__ = ["season"]


def season(
    folders: Annotated[list[Path], path_argument("FOLDER", "Folders that hold tracks, at any depth.")],
    plan_files: PlanOption = None,
    logbook: Annotated[
        Path | None, file_option("--logbook", "Default: logbook.sqlite in the first folder.")
    ] = None,
    jobs: Annotated[
        int | None, named_option("--jobs", "N", "Processes; default one per core.", min=1)
    ] = None,
    csv: Annotated[Path | None, file_option("--csv", "One line per jump.")] = None,
    parquet: Annotated[
        Path | None, file_option("--parquet", "The same as Parquet (needs the extra: parquet).")
    ] = None,
    html_file: Annotated[Path | None, file_option("--html", "The season page.")] = None,
    coach_file: Annotated[
        Path | None, file_option("--coach", "The coach's page: one line per jumper.")
    ] = None,
    talk: Annotated[
        str | None, named_option("--talk", "NAME", "One pupil's talk sheet, on the screen and with --html.")
    ] = None,
    sheets: Annotated[
        Path | None, folder_option("--talks", "Everybody's talk sheet; --coach links to them.")
    ] = None,
    progress: Annotated[
        Path | None, file_option("--progress", "Counts for instructors' cards as CSV.")
    ] = None,
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "The summary as JSON; - for stdout.")
    ] = None,
    cards: Annotated[
        Path | None, folder_option("--canopy-cards", "Write each canopy's measured trim as TOML.")
    ] = None,
    assets: AssetsOption = None,
    pages: Annotated[
        Path | None, folder_option("--pages", "Write each jump's page; --html links to them.")
    ] = None,
    units: UnitsOption = "uk",
    private: Annotated[bool, flag("--private", "Leave out names, dates and places.")] = False,
    quiet: Annotated[bool, flag("--quiet", "Nothing but the results.", "-q")] = False,
    strict: Annotated[bool, flag("--strict", "Exit with 1 where any track could not be used.")] = False,
    retry: Annotated[bool, flag("--retry", "Take up again tracks that failed before.")] = False,
    forget: Annotated[bool, flag("--forget", "Drop the jumps of tracks that are gone.")] = False,
    check: Annotated[
        bool, flag("--check", "Only read the logbook through and say what is wrong in it.")
    ] = False,
    scheduler: Annotated[
        str | None, named_option("--scheduler", "ADDRESS", "A Dask cluster (needs the extra: cluster).")
    ] = None,
) -> None:
    """Find wrong usage, then debrief the folders."""
    from analyser.cli.season import SeasonOutputs, run
    from analyser.cli.season import check as check_it

    check_units(units)
    if check:
        check_it(folders, logbook, private=private)
        return
    outputs = SeasonOutputs(
        csv,
        parquet,
        json_file,
        html_file,
        coach_file,
        cards,
        assets,
        private,
        pages,
        talk,
        sheets,
        progress,
        quiet,
    )
    run(folders, plan_files or [], logbook, jobs, scheduler, retry, strict, units, outputs, forget=forget)
