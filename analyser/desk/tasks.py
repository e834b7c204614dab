"""perform: what a process of the pool does; each task is one function that a command uses too, or a page made of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path, PurePath
from typing import Any, Final, NamedTuple
from urllib.parse import urlencode

from analyser.desk.planning import draw
from analyser.desk.work import AnalyserError, Logbook, Settings, debrief, debrief_job, read

__all__ = ["FILES", "Both", "Download", "OfLogbook", "Task", "perform"]


class Task(NamedTuple):
    """The name of a task and what it needs."""

    name: str
    argument: Any


class Download(NamedTuple):
    """One file made of a jump: its kind (one of FILES), the track, its settings, the jump's number (0: the only flight), and the display
    system in which a page opens."""

    kind: str
    track: str
    settings: Settings
    jump: int
    units: str


class Both(NamedTuple):
    """Two jumps to lay beside each other: track and number of each, under the settings of the first."""

    tracks: tuple[str, str]
    jumps: tuple[int, int]
    settings: Settings
    units: str


class OfLogbook(NamedTuple):
    """A page of a whole logbook, or of one jumper in it, and the display system in which it opens."""

    logbook: str
    units: str
    jumper: str = ""


def perform(task: Task) -> Any:
    """The value of a task; an AnalyserError comes back as a value, so that its one line arrives whole."""
    try:
        return _TASKS[task.name](task.argument)
    except AnalyserError as error:
        return error


def _warm(_: None) -> None:
    """Load what a debrief and its page need."""
    import scipy.linalg  # noqa: F401

    import analyser.report.page.pages  # noqa: F401


def _check(path: str) -> None:
    """Read a file that is not named like a track. Raises what a command would say to it."""
    read(path)


def _picture(path: str) -> None:
    """Open and decode a picture once. Raises what the maps would say of it."""
    from analyser.report.pictures.aerial import Box, cut_out
    from analyser.settings import SitePicture

    plain = SitePicture(path, (0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))
    cut_out(plain, (0.0, 0.0), Box(0.0, -100.0, 100.0, 0.0))


def _file(asked: Download) -> str:
    return FILES[asked.kind].make(debrief(asked.track, asked.settings, jump=asked.jump or None), asked.units)


def _json(result: Any, _: str) -> str:
    from analyser.report.documents.debrief import to_document
    from analyser.report.documents.values import to_json

    return to_json(to_document(result))


def _html(result: Any, units: str) -> str:
    from analyser.report.page.pages import render_page

    return render_page(result, units=units)


def _exchange(name: str) -> Callable[[Any, str], str]:
    def make(result: Any, _: str) -> str:
        from analyser.report import files

        return str(getattr(files, name)(result))

    return make


class FileKind(NamedTuple):
    """How a download is called, what it is, and who makes its text."""

    title: str
    suffix: str
    media: str
    make: Callable[[Any, str], str]


FILES: Final = {
    "page": FileKind("Page", ".html", "text/html", _html),
    "json": FileKind("JSON", ".json", "application/json", _json),
    "gpx": FileKind("GPX", ".marks.gpx", "application/gpx+xml", _exchange("gpx_text")),
    "kml": FileKind("KML", ".kml", "application/vnd.google-earth.kml+xml", _exchange("kml_text")),
    "geojson": FileKind("GeoJSON", ".geojson", "application/geo+json", _exchange("geojson_text")),
    "winds": FileKind("Winds (CSV)", ".winds.csv", "text/csv", _exchange("winds_csv")),
    "samples": FileKind("Every fix (CSV)", ".samples.csv", "text/csv", _exchange("samples_csv")),
}


def _both(asked: Both) -> str:
    from analyser.report.page.pages import render_comparison

    a, b = (
        debrief(track, asked.settings, jump=jump or None)
        for track, jump in zip(asked.tracks, asked.jumps, strict=True)
    )
    return render_comparison(a, b, units=asked.units, assets=PurePath("."))


def _season(asked: OfLogbook) -> str:
    from analyser.report.page.season_pages import render_season
    from analyser.season.summarise import summarise

    with Logbook(Path(asked.logbook)) as book:
        return render_season(
            book,
            summarise(book),
            units=asked.units,
            link=lambda sha, jump: f"/jump/{sha}-{jump}",
            assets=PurePath("."),
        )


def _coach(asked: OfLogbook) -> str:
    from analyser.report.page.season_pages import render_coach
    from analyser.season.summarise import summarise

    with Logbook(Path(asked.logbook)) as book:
        found = summarise(book)
        names = [jumper.name or "" for jumper in found.jumpers]

        def sheet(number: int) -> str:
            return f"/talk?{urlencode({'jumper': names[number - 1]})}"

        return render_coach(found, units=asked.units, beside="/season", sheets=sheet)


def _talk(asked: OfLogbook) -> str:
    """The talk sheet of a jumper ("" = nobody named); "" where the logbook names nobody so."""
    from analyser.report.page.season_pages import render_talk
    from analyser.season.summarise import summarise

    with Logbook(Path(asked.logbook)) as book:
        found = summarise(book)
        numbers = [i for i, jumper in enumerate(found.jumpers, 1) if (jumper.name or "") == asked.jumper]
        return render_talk(book, found, numbers[0], units=asked.units) if numbers else ""


_TASKS: Final[dict[str, Callable[[Any], Any]]] = {
    "warm": _warm,
    "check": _check,
    "debrief": debrief_job,
    "file": _file,
    "both": _both,
    "picture": _picture,
    "season": _season,
    "coach": _coach,
    "talk": _talk,
    "plan": draw,
}
