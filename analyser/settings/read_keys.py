"""What a TOML file gives: every key checked against a schema, in SI units, with its place in the file."""

from __future__ import annotations

import contextlib
import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, NoReturn

from analyser.errors import SettingsError
from analyser.settings.nearest_key import meant
from analyser.settings.position import check_position, other_way_round, parse_position
from analyser.settings.schema import (
    UNITS,
    Choice,
    Day,
    Flag,
    Keys,
    Lines,
    Pixel,
    Position,
    Positions,
    Quantity,
    Rows,
    Spec,
    Table,
    Text,
    Texts,
    Whole,
)
from analyser.settings.toml_lines import key_lines, line_of, names_in_key

__all__ = ["MAX_BYTES", "Entry", "Given", "as_text", "parse_given", "read_text"]

MAX_BYTES = 4_000_000
LEADING_ZERO = re.compile(r"([\w.-]+)\s*=\s*([+-]?0\d[\d.]*)\s*(?=[,}\]]|$)")
MOST_POINTS = 2_000  # of one polygon
MOST_NAMES = 20  # of one dotted key or table header; ours have three


@dataclass(frozen=True, slots=True)
class Entry:
    """One value as given: in SI, with the key as written, its text, file and line."""

    value: Any
    key: str
    shown: str
    file: str
    line: int | None

    def fail(self, what: str, hint: str = "") -> NoReturn:
        """Raise a SettingsError about this entry."""
        where = f"line {self.line}: " if self.line else ""
        raise SettingsError(f"{where}{what}", hint, self.file)


Given = dict[str, Entry]


@dataclass(frozen=True, slots=True)
class _Source:
    file: str
    lines: dict[str, int]

    def entry(self, path: str, raw: object, value: object = None, unit: str = "") -> Entry:
        shown = f"{_short(raw)} {unit}".strip()
        return Entry(value, path, shown, self.file, line_of(self.lines, path))

    def fail(self, path: str, what: str, hint: str = "") -> NoReturn:
        self.entry(path, None).fail(what, hint)


def read_text(path: str | Path) -> str:
    """The text of a settings file (UTF-8, with or without byte order mark, at most 4 MB).

    Raises SettingsError where the file is missing, no plain file, unreadable, too large or not UTF-8.
    """
    file = Path(path)
    try:
        if not file.is_file():
            missing = not file.exists()
            raise SettingsError(
                "no such file" if missing else "not a plain file", "check the path", str(path)
            )
        if file.stat().st_size > MAX_BYTES:
            raise SettingsError("too large for a settings file (over 4 MB)", "check the path", str(path))
        return as_text(file.read_bytes(), str(path))
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise SettingsError(f"can not be read: {reason}", "", str(path)) from None


def as_text(data: bytes, file: str) -> str:
    """Bytes of a settings file as text. Raises SettingsError where they are not UTF-8 or too many."""
    if len(data) > MAX_BYTES:
        raise SettingsError("too large for a settings file (over 4 MB)", "check the path", file)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SettingsError(f"not UTF-8 text (byte {error.start})", "save it as UTF-8", file) from None


def _explain_zero(text: str, file: str) -> None:
    """A number with a leading zero (050) is the likeliest slip of all: said as such, with its line."""
    for number, line in enumerate(text.splitlines(), 1):
        found = LEADING_ZERO.search(line.split("#")[0])
        if found is not None:
            plain = found[2].lstrip("0") or "0"
            raise SettingsError(
                f"line {number}: {found[1]} = {found[2]} has a leading zero, which TOML does not allow",
                f"write {plain}",
                file,
            ) from None


def parse_given(text: str, file: str, keys: Keys) -> Given:
    """Check a TOML text against ``keys``: ``table.key`` without its unit → Entry in SI units.

    Raises SettingsError naming file, line, key and rule.
    """
    import tomllib

    text = text.replace("\r\n", "\n")
    _check_depth(text, file)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        _explain_zero(text, file)
        last = max(key_lines(text).values(), default=1)
        reason = str(error).replace("at end of document", f"at the end, after the key of line {last}")
        raise SettingsError(f"not valid TOML: {reason}", "", file) from None
    except (RecursionError, ValueError):
        raise SettingsError("not valid TOML: nested too deeply or a number too long", "", file) from None
    source = _Source(file, key_lines(text))
    given: Given = {}
    for path, value in document.items():
        spec = keys.get(path)
        if isinstance(spec, Mapping):
            if not isinstance(value, dict):
                source.fail(path, f"{path} must be a table", f"write [{path}] above its keys")
            given |= {
                f"{path}.{name}": entry for name, entry in _table(source, path, value, spec, keys).items()
            }
        else:
            given |= _table(source, "", {path: value}, keys, keys)
    return given


def _check_depth(text: str, file: str) -> None:
    """A key of thousands of names would take gigabytes before it is refused as unknown."""
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") > MOST_NAMES and names_in_key(line) > MOST_NAMES:
            raise SettingsError(f"line {number}: a key of more than {MOST_NAMES} names", "", file)


def _table(source: _Source, prefix: str, table: dict[str, Any], keys: Keys, top: Keys) -> Given:
    given: Given = {}
    for key, raw in table.items():
        path = f"{prefix}.{key}" if prefix else key
        name, unit, spec = _known(source, path, key, keys, top)
        if name in given:
            given[name].fail(
                f"{given[name].key} and {path} give the same quantity twice", "keep the one that is meant"
            )
        given[name] = source.entry(path, raw, _value(source, path, raw, unit, spec, top), unit)
    return given


def _known(source: _Source, path: str, key: str, keys: Keys, top: Keys) -> tuple[str, str, Spec]:
    spec = keys.get(key)
    if spec is not None and not isinstance(spec, Quantity):
        return key, "", spec
    name, _, unit = key.rpartition("_")
    full = keys.get(name)
    if isinstance(full, Quantity):
        units = UNITS[full.kind]
        if unit in units:
            return name, unit, full
    if isinstance(spec, Quantity) or isinstance(full, Quantity):
        base, quantity = (key, spec) if isinstance(spec, Quantity) else (name, full)
        assert isinstance(quantity, Quantity)
        options = " or ".join(f"{base}_{u}" for u in UNITS[quantity.kind])
        wrong = "has no unit" if base == key else f"has no known unit for a {quantity.kind}"
        source.fail(path, f"{path} {wrong}", f"write {options}")
    source.fail(path, f"unknown key {path}", meant(key, keys, top))


def _value(source: _Source, path: str, raw: Any, unit: str, spec: Spec, top: Keys) -> Any:
    match spec:
        case Quantity():
            return _quantity(source, path, raw, unit, spec)
        case Text():
            return _text(source, path, raw)
        case Lines():
            return _lines(source, path, raw)
        case Texts():
            rows = raw if isinstance(raw, list) else [raw]
            return tuple(_text(source, path, row) for row in rows)
        case Whole():
            if isinstance(raw, bool) or not isinstance(raw, int) or not spec.low <= raw <= spec.high:
                source.fail(path, f"{path} must be a whole number from {spec.low} up, not {_short(raw)}")
            return raw
        case Flag():
            if not isinstance(raw, bool):
                source.fail(path, f"{path} must be true or false, not {_short(raw)}")
            return raw
        case Day():
            return _day(source, path, raw)
        case Choice():
            if raw not in spec.options:
                options = ", ".join(f'"{o}"' for o in spec.options)
                source.fail(path, f"{path} must be one of {options}, not {_short(raw)}")
            return raw
        case Pixel():
            return _pixel(source, path, raw)
        case Table():
            if not isinstance(raw, dict):
                source.fail(path, f"{path} must be a table", f"write [{path}] above its keys")
            return _table(source, path, raw, spec.keys, top)
        case Position():
            return _position(source, path, raw, copied=True)
        case Positions():
            if not isinstance(raw, list) or len(raw) < 3:
                source.fail(path, f"{path} must be a list of at least three [latitude, longitude]")
            if len(raw) > MOST_POINTS:
                source.fail(path, f"{path} has more than {MOST_POINTS:,} points", "leave out some")
            return tuple(_position(source, path, row) for row in raw)
        case Rows():
            return _rows(source, path, raw, spec, top)
        case _:
            source.fail(path, f"{path} must not be a table here")


def _rows(source: _Source, path: str, raw: Any, spec: Rows, top: Keys) -> tuple[Given, ...]:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        source.fail(path, f"{path} must be a list of tables", f"write [[{path}]] above each")
    if len(raw) > spec.most:
        source.fail(f"{path}[{spec.most}]", f"there are more than {spec.most:,} [[{path}]]", "leave out some")
    rows = []
    for i, row in enumerate(raw):
        place = f"{path}[{i}]"
        given = _table(source, place, row, spec.keys, top)
        for name in spec.required:
            if name not in given:
                full = spec.keys[name]
                units = (
                    "".join(f"_{u}" for u in list(UNITS[full.kind])[:1]) if isinstance(full, Quantity) else ""
                )
                source.fail(place, f"{place} has no {name}{units}", "every such table needs one")
        rows.append(given)
    return tuple(rows)


def _quantity(source: _Source, path: str, raw: Any, unit: str, spec: Quantity) -> float:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        source.fail(path, f"{path} must be a number, not {_short(raw)}")
    try:
        number = float(raw)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        source.fail(path, f"{path} must be a finite number, not {_short(raw)}")
    factor = UNITS[spec.kind][unit]
    if not spec.low - 1e-9 <= number * factor <= spec.high + 1e-9:
        low, high = spec.low / factor, spec.high / factor
        source.fail(
            path,
            f"{path} = {_short(raw)} is out of range ({low:.4g} to {high:.4g} {unit})",
            "check number and unit",
        )
    return number * factor


def _text(source: _Source, path: str, raw: Any) -> str:
    if not isinstance(raw, str):
        source.fail(path, f"{path} must be a text in quotes, not {_short(raw)}")
    if any(unicodedata.category(c) == "Cc" for c in raw) or len(raw) > 500:
        source.fail(path, f"{path} must be one line of at most 500 printable characters")
    return raw


def _day(source: _Source, path: str, raw: Any) -> str:
    """A day as ISO 8601."""
    with contextlib.suppress(ValueError):
        if isinstance(raw, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", raw):
            return date.fromisoformat(raw).isoformat()
    if isinstance(raw, date) and not isinstance(raw, datetime):
        return raw.isoformat()
    source.fail(path, f"{path} must be a day, not {_short(raw)}", "write 2026-06-14")


def _pixel(source: _Source, path: str, raw: Any) -> tuple[float, float]:
    numbers = isinstance(raw, list) and len(raw) == 2
    if not numbers or not all(isinstance(x, (int, float)) and not isinstance(x, bool) for x in raw):
        source.fail(path, f"{path} must be [column, row] of a pixel, not {_short(raw)}")
    if not all(0 <= x <= 100_000 for x in raw):
        source.fail(path, f"{path} is no pixel of a picture", "write [column, row] from the top left corner")
    return float(raw[0]), float(raw[1])


def _lines(source: _Source, path: str, raw: Any) -> str:
    if not isinstance(raw, str) or len(raw) > 100_000:
        source.fail(
            path, f"{path} must be a text in quotes, not {_short(raw)}", 'three quotes """ hold several lines'
        )
    if any(unicodedata.category(c) == "Cc" and c not in "\n\r\t" for c in raw):
        source.fail(path, f"{path} must hold printable characters only")
    return raw


def _position(source: _Source, path: str, raw: Any, *, copied: bool = False) -> tuple[float, float]:
    """Two numbers, or (``copied``) a text as people copy places."""
    if copied and isinstance(raw, str):
        try:
            return parse_position(raw)
        except SettingsError as error:
            source.fail(path, f"{path}: {error.what}", error.hint)
    numbers = isinstance(raw, list) and len(raw) == 2
    if not numbers or not all(
        isinstance(x, (int, float)) and not isinstance(x, bool) and abs(x) < 1e9 for x in raw
    ):
        hint = 'write [49.7215, -107.9342], or a place as it was copied in quotes: "49.7215N 107.9342W"'
        source.fail(
            path,
            f"{path} must be [latitude, longitude] in degrees, not {_short(raw)}",
            hint if copied else "north and east are positive",
        )
    what = check_position(raw[0], raw[1])
    if what:
        turned = other_way_round(raw[0], raw[1]).replace(",", ", ")
        usual = "write [latitude, longitude] in degrees, north and east positive"
        source.fail(path, f"{path}: {what}", f"did you mean [{turned}]?" if turned else usual)
    return float(raw[0]), float(raw[1])


def _short(raw: object) -> str:
    try:
        text = repr(raw)
    except (ValueError, RecursionError):
        text = "something too long to print"
    return text if len(text) <= 40 else f"{text[:37]}…"
