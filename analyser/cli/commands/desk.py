"""``crabline desk``."""

from pathlib import Path
from typing import Annotated

from analyser.cli.options import flag, named_option, path_argument

__all__ = ["desk"]


def desk(
    folder: Annotated[
        Path | None,
        path_argument("FOLDER", "Tracks and logbook; default: a folder of your own, made for it."),
    ] = None,
    port: Annotated[int, named_option("--port", "N", "0 takes any free one.", min=0, max=65535)] = 0,
    no_open: Annotated[bool, flag("--no-open", "Do not open the browser.")] = False,
) -> None:
    """Open the desk."""
    from analyser.cli.desk import run_desk

    run_desk(folder, port, not no_open)
