"""read: a track file, told by its content and never by its suffix -> Recording."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Final

from analyser.errors import AnalyserError, FormatError
from analyser.importers.clean import clean
from analyser.importers.fit import read_fit
from analyser.importers.gpx import read_gpx
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note, Recording
from analyser.importers.source import MAX_FIT_BYTES, Source, path_text

__all__ = ["read"]

_KNOWN: Final = (
    (b"PK\x03\x04", "a ZIP archive", "unpack it and give the track inside"),
    (b"\x89PNG", "a picture", "give a GPX or FIT track"),
    (b"\xff\xd8\xff", "a picture", "give a GPX or FIT track"),
    (b"GIF8", "a picture", "give a GPX or FIT track"),
    (b"%PDF", "a PDF document", "give a GPX or FIT track"),
    (b"SQLite format 3", "a database", "give a GPX or FIT track"),
    (b"\x1f\x8b", "a gzip file within a gzip file", "unpack it once"),
    (b"BZh", "a bzip2 archive", "unpack it and give the track inside"),
    (b"\xfd7zXZ", "an xz archive", "unpack it and give the track inside"),
)


def read(path: str | os.PathLike[str]) -> Recording:
    """The recording in a track file.

    Parameters
    ----------
    path : path-like
        A GPX or FIT file, plain or gzip, told by its content and never by its suffix.

    Returns
    -------
    Recording
        ``time_s`` [s since 1970, UTC], ``lat_deg``, ``lon_deg`` [WGS 84], ``altitude_m`` …, all of shape (n,), NaN where the
        file has no value; ``notes`` say what was dropped or mended (docs/quality-notes.md).

    Raises
    ------
    UnreadableError, FormatError, NoFixesError
        Each of one line that names the file.

    Examples
    --------
    >>> recording = read("sample_tracks/steady_breeze.fit")
    >>> recording.format, recording.altitude_source, recording.time_s.shape == recording.lat_deg.shape
    ('fit', 'barometric', True)
    """
    name = path_text(os.path.basename(os.fsdecode(path)))
    try:
        source = Source(os.fsdecode(path))
        raw = _raw(source)
        if source.cut:
            raw = replace(
                raw,
                notes=(
                    Note("file-cut", "the gzip file breaks off or is damaged; what came before was kept"),
                    *raw.notes,
                ),
            )
        recording = clean(raw, file=name, sha256=source.digest())
    except AnalyserError as error:
        raise error.with_file(os.fsdecode(path)) from None
    return recording


def _raw(source: Source) -> RawFixes:
    head = source.head
    if head[8:12] == b".FIT":
        return _fit(source)
    start = head[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start[:1] == b"<" or head[:2] in (b"\xff\xfe", b"\xfe\xff", b"\0<"):
        return read_gpx(source.chunks)
    for magic, what, hint in _KNOWN:
        if head.startswith(magic):
            raise FormatError(f"it is {what}, not a track", hint)
    if not start:
        raise FormatError("the file holds only blanks", "copy it from the device again")
    raise FormatError(
        "neither a GPX nor a FIT file", "give the track as the device or its software exports it"
    )


def _fit(source: Source) -> RawFixes:
    data = bytearray()
    for chunk in source.chunks():
        data += chunk
        if len(data) > MAX_FIT_BYTES:
            raise FormatError("the FIT file is too large", "cut it into single days")
    return read_fit(bytes(data))
