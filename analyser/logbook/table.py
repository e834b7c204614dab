"""read_table: ``logbook.csv``, one row per track or jump with who and what, as corrections."""

from __future__ import annotations

import csv
import difflib
from pathlib import Path
from typing import Any, Final

from analyser.errors import SettingsError
from analyser.settings.read_keys import Entry, Given, read_text
from analyser.settings.toml import parse_target

__all__ = ["MOST_CORRECTIONS", "TABLE_NAME", "read_table"]

TABLE_NAME: Final = "logbook.csv"
MOST_CORRECTIONS: Final = 20_000  # in one file: a large club's year, and a second or two to read
_COLUMNS: Final = ("file", "content", "jump", "jumper", "canopy", "site", "plan", "target", "exclude", "note")


def read_table(path: Path) -> tuple[Given, ...]:
    """The rows of a table with a header; columns other than ours are left alone, empty cells say nothing.

    Columns: file (from the folder of the table), content, jump, jumper, canopy, site, plan, target (LAT,LON), exclude
    (the reason), note. Separated by comma, semicolon or tab. Raises SettingsError naming file, line and rule.
    """
    text = read_text(path)
    if text.count("\n") > MOST_CORRECTIONS:
        raise SettingsError(
            f"more than {MOST_CORRECTIONS:,} lines",
            "put the rows of each folder into its own table",
            str(path),
        )
    head = text.split("\n", 1)[0]
    reader = csv.reader(text.splitlines(), delimiter=max(",;\t", key=head.count), strict=True)
    try:
        header = [name.strip().lower() for name in next(reader, [])]
        _check_header(path, header)
        return tuple(
            _row(path, reader.line_num, header, cells)
            for cells in reader
            if any(cell.strip() for cell in cells)
        )
    except csv.Error as error:
        raise SettingsError(f"line {reader.line_num}: not a table ({error})", "", str(path)) from None


def _check_header(path: Path, header: list[str]) -> None:
    if "file" not in header and "content" not in header:
        raise SettingsError(
            "the table has no column file", f"its columns may be {', '.join(_COLUMNS)}", str(path)
        )
    for name in header:
        near = difflib.get_close_matches(name, _COLUMNS, n=1, cutoff=0.8)
        if name not in _COLUMNS and near and near[0] not in header:
            raise SettingsError(f"line 1: unknown column {name!r}", f"did you mean {near[0]}?", str(path))


def _row(path: Path, line: int, header: list[str], cells: list[str]) -> Given:
    row: Given = {}
    for name, cell in zip(header, cells, strict=False):
        if name in _COLUMNS and cell.strip():
            raw = cell.strip()
            entry = Entry(raw, name, raw[:60], str(path), line)
            row[name] = Entry(_value(entry, raw), name, entry.shown, entry.file, line)
    if "file" not in row and "content" not in row:
        raise SettingsError(f"line {line}: names no track", "fill the column file", str(path))
    return row


def _value(entry: Entry, raw: str) -> Any:
    if not raw.isprintable() or len(raw) > 500:
        entry.fail(f"{entry.key} must be one line of at most 500 printable characters")
    if entry.key == "jump":
        if not raw.isascii() or not raw.isdigit() or int(raw[:9]) < 1:
            entry.fail(f"jump must be a whole number from 1 up, not {raw[:20]!r}")
        return int(raw[:9])
    if entry.key == "target":
        try:
            return parse_target(raw)
        except SettingsError as error:
            entry.fail(error.what, error.hint)
    return (raw,) if entry.key == "plan" else raw
