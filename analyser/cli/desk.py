"""What ``crabline desk`` does once the words are parsed."""

from __future__ import annotations

import webbrowser
from pathlib import Path

from analyser.cli.tracks import say

__all__ = ["run_desk"]


def run_desk(folder: Path | None, port: int, open_page: bool) -> None:
    """Open the desk on a folder, print its address, serve until it is closed."""
    from analyser.desk.folder import DeskFolder, own_folder
    from analyser.desk.server import listen, serve

    place = DeskFolder(own_folder() if folder is None else folder)
    try:
        found = listen(port)
    except BaseException:
        place.close()
        raise

    def ready(address: str) -> None:
        print(address, flush=True)
        say(f"tracks and logbook: {place.path}; Ctrl-C or Close on the page ends it")
        if open_page:
            webbrowser.open(address)

    serve(place, found, ready)
