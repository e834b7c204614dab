"""GPX 1.0 and 1.1 (topografix.com): the points of ``trk`` only; routes and waypoints carry no flight."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from analyser.importers.raw import RawFixes
from analyser.importers.xml import Dialect, parse_time, read_xml

__all__ = ["GPX", "parse_time", "read_gpx"]

GPX: Final = Dialect(
    title="GPX",
    root="gpx",
    point="trkpt",
    parts=frozenset(("trk", "trkseg")),
    leaves={
        "time": ("time", True),
        "ele": ("altitude", True),
        "speed": ("speed", False),
        "course": ("course", False),
    },
    header={"name": ("name", 3), "time": ("created", 3)},
    place=("lat", "lon"),
    other_points=frozenset(("rtept", "wpt")),
)


def read_gpx(chunks: Callable[[], Iterable[bytes]]) -> RawFixes:
    """The track points of a GPX document; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where it is no GPX or unsafe, NoFixesError where it holds no track point.
    """
    return read_xml(chunks, (GPX,))
