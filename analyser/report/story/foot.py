"""The foot of a story: what made it, from which file, and every threshold of the method with its source."""

from __future__ import annotations

from typing import Any

from analyser._version import __version__
from analyser.importers.recording import Recording
from analyser.method_rows import entries
from analyser.report.story.blocks import Aside, Block, Line, Points, Remark, Sentence, Table
from analyser.settings import Method

__all__ = ["cautions", "foot", "made_by"]


def cautions(texts: tuple[str, ...]) -> tuple[Block, ...]:
    """What stands on every report."""
    return (Points(tuple(map(Remark, texts))),)


def foot(rec: Recording, method: Method) -> tuple[Block, ...]:
    """Provenance and method."""
    sha = f", SHA-256 {rec.sha256}" if rec.sha256 else ""
    return (*made_by(f" from {rec.file or 'a recording'}{sha}"), _method(method))


def made_by(what: str = "") -> tuple[Block, ...]:
    """What made the report."""
    text = "Made by crabline {version}{what}. This page asks nothing of the network."
    return (Aside((Line(Sentence(text, {"version": __version__, "what": what})),)),)


def _method(method: Method) -> Aside:
    rows = []
    for one in entries(method):
        unit = "" if one.unit == "1" else f" {one.unit}"
        rows.append((f"{one.stage}: {one.name.replace('_', ' ')}", f"{_shown(one.value)}{unit}", one.source))
    head = ("threshold", "value", "where it comes from")
    table = Table("Thresholds of the method (SI units)", head, tuple(rows), words=frozenset({2}))
    return Aside((table,), "Thresholds of the method and their sources")


def _shown(value: float | tuple[Any, ...]) -> str:
    return ", ".join(map(_shown, value)) if isinstance(value, tuple) else f"{value:g}"
