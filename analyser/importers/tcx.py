"""TCX: the track points of every lap; elements after the published TrainingCenterDatabase schema, version 2."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from analyser.importers.raw import RawFixes
from analyser.importers.xml import Dialect, read_xml

__all__ = ["TCX", "read_tcx"]

TCX: Final = Dialect(
    title="TCX",
    root="TrainingCenterDatabase",
    point="Trackpoint",
    parts=frozenset(("Activity", "Track")),
    leaves={
        "Time": ("time", True),
        "AltitudeMeters": ("altitude", True),
        "LatitudeDegrees": ("lat", False),
        "LongitudeDegrees": ("lon", False),
        "Speed": ("speed", False),
    },
    header={"Name": ("device", 5)},
)


def read_tcx(chunks: Callable[[], Iterable[bytes]]) -> RawFixes:
    """The track points of a TCX document; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where it is no TCX or unsafe, NoFixesError where it holds no track point.
    """
    return read_xml(chunks, (TCX,))
