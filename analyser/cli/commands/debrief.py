"""``crabline debrief``."""

from pathlib import Path
from typing import Annotated

import typer

from analyser.cli.options import (
    AssetsOption,
    HtmlOption,
    PlanOption,
    TargetOption,
    UnitsOption,
    check_choice,
    check_units,
    file_option,
    flag,
    folder_option,
    named_option,
    path_argument,
)

__all__ = ["debrief"]


def debrief(
    tracks: Annotated[
        list[Path] | None,
        path_argument("TRACK", "GPX, FIT, IGC, NMEA, TCX or a table; FILE#2; - for stdin."),
    ] = None,
    plan: PlanOption = None,
    target: TargetOption = None,
    jump: Annotated[
        str | None,
        named_option("--jump", "N", "Which jump of the file, from 1, or all; default the last."),
    ] = None,
    load: Annotated[
        list[Path] | None,
        file_option("--load", "Other tracks of the load (files, a folder, a logbook): one wind; repeatable."),
    ] = None,
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "Write the results as JSON; - for stdout.")
    ] = None,
    html_file: HtmlOption = None,
    units: UnitsOption = "uk",
    open_page: Annotated[bool, flag("--open", "Open the page in a browser.")] = False,
    recollect: Annotated[bool, flag("--recollect", "The page first asks what the jumper remembers.")] = False,
    assets: AssetsOption = None,
    gpx: Annotated[Path | None, file_option("--gpx", "Write phases and gates as GPX.")] = None,
    geojson: Annotated[Path | None, file_option("--geojson", "Write them as GeoJSON.")] = None,
    kml: Annotated[Path | None, file_option("--kml", "Write them as KML.")] = None,
    winds_csv: Annotated[Path | None, file_option("--winds-csv", "Write the recovered winds as CSV.")] = None,
    samples_csv: Annotated[
        Path | None, file_option("--samples-csv", "Write every fix with what was found.")
    ] = None,
    images: Annotated[
        Path | None, folder_option("--images", "Write each picture (needs the extra: images).")
    ] = None,
    image_format: Annotated[str, named_option("--image-format", "KIND", "png or svg.")] = "png",
    logbook: Annotated[
        Path | None, file_option("--logbook", "Tell habit from chance by the jumper's earlier jumps.")
    ] = None,
    brief: Annotated[
        bool, flag("--brief", "Print three lines: where the landing was, why, and what to do.")
    ] = False,
    quiet: Annotated[bool, flag("--quiet", "Nothing but the results.", "-q")] = False,
    schema: Annotated[bool, flag("--schema", "Print the JSON Schema of --json and exit.")] = False,
) -> None:
    """Find wrong usage, then debrief."""
    from analyser.cli.debrief import Outputs, run_debrief
    from analyser.cli.tracks import wanted

    if schema:
        from analyser.report.documents.schemas import schema_text

        print(schema_text(), end="")
        return
    if not tracks:
        raise typer.BadParameter("name a track file", param_hint="TRACK")
    check_units(units)
    check_choice("--image-format", image_format, ("png", "svg"))
    exchange = (gpx, geojson, kml, winds_csv, samples_csv)
    outputs = Outputs(
        json_file, html_file, open_page, recollect, assets, *exchange, images, image_format, brief, quiet
    )
    named = [wanted(track, jump) for track in tracks]
    run_debrief(named, [*(plan or [])], target, units, outputs, logbook, load=load or [])
