"""Figures of a jumper as text and back, exactly: dataclasses of numbers, texts, tuples and tables, nothing else."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import types
import typing
from collections.abc import Callable
from functools import cache
from typing import Any, Final, TypeVar

from analyser._version import __version__

__all__ = ["as_text", "from_text", "made_by"]

T = TypeVar("T")
Read = Callable[[Any], Any]


def as_text(value: Any) -> str:
    """A dataclass as one line of JSON: fields in order, without their names; floats round trip, NaN too."""
    return json.dumps(_plain(value), separators=(",", ":"), ensure_ascii=False)


def from_text(kind: type[T], text: str) -> T:
    """What :func:`as_text` was given. Raises ValueError, TypeError or LookupError where the text is another kind's."""
    read: Read = _reader(kind)  # type: ignore[arg-type]
    return typing.cast(T, read(json.loads(text)))


@cache
def made_by(kind: type[Any]) -> str:
    """The program's version and the shape of a kind: figures kept under another are counted anew."""
    shapes: dict[str, str] = {}
    _shape(kind, shapes)
    text = json.dumps([__version__, shapes], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


_AS_THEY_ARE: Final = frozenset((float, int, str, bool, type(None)))


def _plain(value: Any) -> Any:
    kind: Any = type(value)
    if kind in _AS_THEY_ARE:
        return value
    names = _names(kind)
    if names is not None:
        value = [getattr(value, name) for name in names]
    if isinstance(value, dict):
        return [[_plain(k), _plain(v)] for k, v in value.items()]
    if isinstance(value, (tuple, list)):
        return [v if type(v) in _AS_THEY_ARE else _plain(v) for v in value]
    return value


@cache
def _names(kind: Any) -> tuple[str, ...] | None:
    """The fields of a dataclass; None for another kind."""
    return tuple(f.name for f in dataclasses.fields(kind)) if dataclasses.is_dataclass(kind) else None


def _same(value: Any) -> Any:
    return value


@cache
def _reader(kind: Any) -> Read:
    """The function that makes a ``kind`` out of plain lists; :func:`_same` where there is nothing to make."""
    if dataclasses.is_dataclass(kind):
        return _dataclass_reader(kind)
    origin, parts = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return _union_reader(parts)
    if origin is tuple:
        return _tuple_reader([_reader(p) for p in parts if p is not Ellipsis], Ellipsis in parts)
    if origin is dict:
        key, value = map(_reader, parts)
        return lambda rows: {key(k): value(v) for k, v in _listed(rows)}
    if kind in (str, int, float, bool):
        return _same
    raise TypeError(f"{kind} is not kept")


def _listed(rows: Any) -> list[Any]:
    if type(rows) is not list:
        raise TypeError("a list was kept here")
    return rows


def _tuple_reader(inner: list[Read], many: bool) -> Read:
    if many:
        first = inner[0]
        if first is _same:
            return lambda rows: tuple(_listed(rows))
        return lambda rows: tuple([first(v) for v in _listed(rows)])
    return lambda rows: tuple([read(v) for read, v in zip(inner, _listed(rows), strict=True)])


def _union_reader(parts: tuple[Any, ...]) -> Read:
    """None, or the one part that is made of others; plain values stay as they are."""
    made = [p for p in parts if p is not type(None) and p not in (str, int, float, bool)]
    if not made:
        return _same
    read = _reader(made[0])
    return lambda value: None if value is None else read(value)


def _dataclass_reader(kind: Any) -> Read:
    hints = typing.get_type_hints(kind)
    readers = [_reader(hints[f.name]) for f in dataclasses.fields(kind)]
    made = [(i, read) for i, read in enumerate(readers) if read is not _same]
    count = len(readers)

    def read_all(rows: Any) -> Any:
        values = list(_listed(rows))
        if len(values) != count:
            raise ValueError(f"{kind.__name__} has {count} fields")
        for i, read in made:
            values[i] = read(values[i])
        return kind(*values)

    return read_all


def _shape(kind: Any, shapes: dict[str, str]) -> None:
    if isinstance(kind, type) and dataclasses.is_dataclass(kind) and kind.__qualname__ not in shapes:
        hints = typing.get_type_hints(kind)
        shapes[kind.__qualname__] = repr({f.name: str(hints[f.name]) for f in dataclasses.fields(kind)})
        for hint in hints.values():
            _shape(hint, shapes)
    for part in typing.get_args(kind):
        _shape(part, shapes)
