"""Every number a result rests on and that a reader may want to dispute: thresholds of the rules, priors of the wind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import NamedTuple

from analyser.settings import Method
from analyser.wind.priors import SOURCES, Priors

__all__ = ["Entry", "entries"]

Value = float | tuple[float, ...] | tuple[tuple[float, ...], ...]


class Entry(NamedTuple):
    """One number, or the numbers of one scale: its stage, name, value, unit and where it comes from."""

    stage: str
    name: str
    value: Value
    unit: str
    source: str


def entries(method: Method) -> Iterator[Entry]:
    """The thresholds in the order of their table, then the priors of the wind fit."""
    for one in fields(method):
        threshold = getattr(method, one.name)
        yield Entry("rules", one.name, threshold.value, threshold.unit, threshold.source)
    priors = Priors()
    for prior in fields(priors):
        yield Entry("wind", prior.name, getattr(priors, prior.name), *SOURCES[prior.name])
