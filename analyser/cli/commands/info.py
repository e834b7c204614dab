"""``crabline info``."""

from pathlib import Path
from typing import Annotated

from analyser.cli.options import UnitsOption, check_units, flag, named_option, path_argument

__all__ = ["info"]


def info(
    track: Annotated[Path, path_argument("TRACK", "GPX, FIT, IGC, NMEA, TCX or a table; - for stdin.")],
    json_file: Annotated[
        str | None, named_option("--json", "FILE", "Write it as JSON; - for stdout.")
    ] = None,
    units: UnitsOption = "uk",
    quiet: Annotated[bool, flag("--quiet", "Nothing but the results.", "-q")] = False,
) -> None:
    """Find wrong usage, then look into the file."""
    from analyser.cli.debrief import run_info

    check_units(units)
    run_info(track, json_file, units, quiet=quiet)
