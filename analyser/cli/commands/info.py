"""``crabline info``."""

from pathlib import Path
from typing import Annotated

from analyser.cli.options import UnitsOption, check_units, named_option, path_argument

__all__ = ["info"]


def info(
    track: Annotated[Path, path_argument("TRACK", "GPX, FIT, IGC, NMEA, TCX or a table; - for stdin.")],
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "Write it as JSON; - for stdout.")
    ] = None,
    units: UnitsOption = "uk",
) -> None:
    """Find wrong usage, then look into the file."""
    from analyser.cli.debrief import run_info

    check_units(units)
    run_info(track, json_file, units)
