"""``crabline plan``."""

from pathlib import Path
from typing import Annotated

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
    named_option,
)

__all__ = ["plan"]


def plan(
    plan_files: PlanOption = None,
    winds: Annotated[
        Path | None,
        file_option("--winds", "The wind: CSV, a debrief's JSON, a METAR, a TAF, winds aloft; - for stdin."),
    ] = None,
    station: Annotated[
        str | None, named_option("--station", "NAME", "Which station of the winds aloft.")
    ] = None,
    at: Annotated[
        str | None, named_option("--at", "TIME", "When, for a TAF: day, hour, minute in UTC (141500Z).")
    ] = None,
    target: TargetOption = None,
    hand: Annotated[
        str, named_option("--hand", "HAND", "left, right or both; default: the site's or the plan's.")
    ] = "",
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "Write the plan as JSON; - for stdout.")
    ] = None,
    html_file: HtmlOption = None,
    gpx: Annotated[Path | None, file_option("--gpx", "Gates as GPX waypoints.")] = None,
    geojson: Annotated[Path | None, file_option("--geojson", "Gates as GeoJSON.")] = None,
    units: UnitsOption = "uk",
    template: Annotated[bool, flag("--template", "Print a commented plan to fill in and exit.")] = False,
    schema: Annotated[bool, flag("--schema", "Print the JSON Schema of plan files and exit.")] = False,
    quiet: Annotated[bool, flag("--quiet", "Nothing but the results.", "-q")] = False,
    assets: AssetsOption = None,
) -> None:
    """Find wrong usage, then draw the plan."""
    from analyser.cli.plan import run_plan
    from analyser.cli.tracks import settings_for

    check_units(units)
    check_choice("--hand", hand, ("", "left", "right", "both"))
    if template or schema:
        from analyser.settings.template import TEMPLATE, schema_text

        print(TEMPLATE if template else schema_text(), end="")
        return
    run_plan(
        *settings_for(Path.cwd(), plan_files or [], target, quiet=quiet),
        winds,
        hand,
        units,
        station=station,
        at=at,
        json_file=json_file,
        html=html_file,
        gpx=gpx,
        geojson=geojson,
        assets=assets,
        quiet=quiet,
    )
