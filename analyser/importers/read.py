"""read: a track file, told by its content and never by its suffix -> Recording."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from analyser.errors import AnalyserError, FormatError
from analyser.importers.drop_unusable import clean
from analyser.importers.lines import head_text, text_encoding
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note, Recording
from analyser.importers.source import MAX_FIT_BYTES, Source, path_text

__all__ = ["read", "track_format"]

_KNOWN: Final = (
    (b"PK\x03\x04", "a ZIP archive", "unpack it and give the track inside"),
    (b"\x89PNG", "a picture", "give the recorded track"),
    (b"\xff\xd8\xff", "a picture", "give the recorded track"),
    (b"GIF8", "a picture", "give the recorded track"),
    (b"%PDF", "a PDF document", "give the recorded track"),
    (b"SQLite format 3", "a database", "give the recorded track"),
    (b"\x1f\x8b", "a gzip file within a gzip file", "unpack it once"),
    (b"BZh", "a bzip2 archive", "unpack it and give the track inside"),
    (b"\xfd7zXZ", "an xz archive", "unpack it and give the track inside"),
)


def read(
    path: str | os.PathLike[str] | bytes, *, columns: Mapping[str, str] | None = None, name: str | None = None
) -> Recording:
    """The recording in a track file.

    Parameters
    ----------
    path : path-like or bytes
        A GPX, FIT, IGC, NMEA 0183 or TCX file or a table, plain or gzip, told by its content and never by its suffix; or
        the bytes of one.
    columns : mapping, optional
        The titles of a table: key of :func:`~analyser.track_titles.column_keys` → title.
    name : str, optional
        What bytes are called.

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
    shown = name or "the given bytes" if isinstance(path, bytes) else os.fsdecode(path)
    try:
        source = Source(path if isinstance(path, bytes) else os.fsdecode(path))
        raw = _raw(source, columns)
        if source.cut:
            text = "the gzip file breaks off or is damaged; what came before was kept"
            raw = replace(raw, notes=(Note("file-cut", text), *raw.notes))
        recording = clean(raw, file=path_text(os.path.basename(shown)), sha256=source.digest())
    except AnalyserError as error:
        raise error.with_file(shown) from None
    return recording


def track_format(head: bytes, columns: Mapping[str, str] | None = None) -> str | None:
    """What the first bytes of a file (unpacked) begin: "xml", "fit", "igc", "nmea", "csv", or None where it is no track.

    XML may yet be of another kind.
    """
    if head[8:12] == b".FIT":
        return "fit"
    text = head_text(head).lstrip()
    if text[:1] == "<" or head[:2] in (b"\0<", b"<\0"):
        return "xml"
    from analyser.importers.igc import FIRST_FIX
    from analyser.importers.nmea import FIRST_SENTENCE
    from analyser.importers.table import is_table

    if FIRST_FIX.search(text):
        return "igc"
    if FIRST_SENTENCE.search(text):
        return "nmea"
    return "csv" if is_table(text, columns) else None


def _raw(source: Source, columns: Mapping[str, str] | None) -> RawFixes:
    """The fixes as the file has them; each reader loads with the first file of its kind."""
    for magic, what, hint in _KNOWN:
        if source.head.startswith(magic):
            raise FormatError(f"it is {what}, not a track", hint)
    match track_format(source.head, columns):
        case "fit":
            return _fit(source)
        case "xml":
            from analyser.importers.gpx import GPX
            from analyser.importers.tcx import TCX
            from analyser.importers.xml import read_xml

            return read_xml(source.chunks, (GPX, TCX))
        case "igc":
            from analyser.importers.igc import read_igc

            return read_igc(source.chunks)
        case "nmea":
            from analyser.importers.nmea import read_nmea

            return read_nmea(source.chunks)
        case "csv":
            from analyser.importers.table import read_table

            return read_table(source.chunks, text_encoding(source.head) or "utf-8", columns)
    if not source.head.strip(b"\xef\xbb\xbf \t\r\n"):
        raise FormatError("the file holds only blanks", "copy it from the device again")
    from analyser.importers.table import titles_in

    titles = titles_in(head_text(source.head))
    raise FormatError(
        "not a track: neither GPX, FIT, IGC, NMEA 0183 or TCX, nor a table with columns for lat and lon",
        f"if it is a table, its columns are {', '.join(titles)[:120]}: name lat and lon in [columns] of logbook.toml"
        if titles
        else "give the track as the device or its software exports it",
    )


def _fit(source: Source) -> RawFixes:
    from analyser.importers.fit import read_fit

    data = bytearray()
    for chunk in source.chunks():
        data += chunk
        if len(data) > MAX_FIT_BYTES:
            raise FormatError("the FIT file is too large", "cut it into single days")
    return read_fit(bytes(data))
