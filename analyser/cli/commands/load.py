"""``crabline load``."""

from pathlib import Path
from typing import Annotated

import typer

from analyser.cli.options import (
    AssetsOption,
    HtmlOption,
    PlanOption,
    TargetOption,
    UnitsOption,
    check_units,
    flag,
    named_option,
    path_argument,
)

__all__ = ["load"]


def load(
    tracks: Annotated[
        list[Path] | None,
        path_argument("TRACK", "The tracks of a load, or a folder that holds them among others."),
    ] = None,
    at: Annotated[
        str | None,
        named_option(
            "--at", "TIME", "Which load of a folder: the one that landed nearest to it; 2026-06-14T10:12Z."
        ),
    ] = None,
    plan: PlanOption = None,
    target: TargetOption = None,
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "Write the results as JSON; - for stdout.")
    ] = None,
    html_file: HtmlOption = None,
    units: UnitsOption = "uk",
    open_page: Annotated[bool, flag("--open", "Open the page in a browser.")] = False,
    assets: AssetsOption = None,
    quiet: Annotated[bool, flag("--quiet", "Nothing but the results.", "-q")] = False,
    schema: Annotated[bool, flag("--schema", "Print the JSON Schema of --json and exit.")] = False,
) -> None:
    """Find wrong usage, then the load."""
    from analyser.cli.load import run_load

    if schema:
        from analyser.report.documents.schemas import schema_text

        print(schema_text("load"), end="")
        return
    if not tracks:
        raise typer.BadParameter("name tracks or a folder", param_hint="TRACK")
    check_units(units)
    run_load(
        tracks,
        at,
        plan or [],
        target,
        units,
        json_file=json_file,
        html=html_file,
        open_page=open_page,
        assets=assets,
        quiet=quiet,
    )
