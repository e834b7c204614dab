"""What a story is made of: sentences over numbers, tables, pictures, chapters; data in SI units that know of no medium."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal

from analyser.sentences import METRIC, Number, pieces
from analyser.units import DisplaySystem

__all__ = [
    "Aside",
    "Asked",
    "Block",
    "Blocks",
    "Cell",
    "Chapter",
    "Code",
    "Drawing",
    "Drawings",
    "Line",
    "Picture",
    "Points",
    "Remark",
    "Sentence",
    "Story",
    "Sub",
    "Table",
    "angle",
    "bearing",
    "distance",
    "height",
    "joined",
    "lines_of",
    "seconds",
    "speed",
]

METRIC_NUMBER = re.compile(r"((?<![\w.])\d+(?:\.\d+)? (?:m/s|m)(?![\w/²]))")
OF_HEIGHTS = re.compile(r"high|height|\blower\b|above|below|elevation|level|falls")
Look = Literal["plain", "lead", "quiet", "missing", "change", "write"]


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words with numbers in them: a template (see :func:`analyser.sentences.pieces`), its values, and where it leads to ("" = nowhere)."""

    template: str
    values: Mapping[str, Number | float | str | None] = field(default_factory=dict)
    link: str = ""

    def pieces(self) -> Iterator[str | Number]:
        """Words and numbers in order."""
        return pieces(self.template, self.values)

    def text(self, display: DisplaySystem = METRIC) -> str:
        """The sentence in a display system."""
        return "".join(p if isinstance(p, str) else p.text(display) for p in self.pieces())


@dataclass(frozen=True, slots=True)
class Remark(Sentence):
    """A ready metric text as a sentence: a capital at its beginning, a stop at its end, its metres and m/s as numbers.

    Reasons and remarks come as texts in SI units; their metres are heights where the text speaks of heights, else distances.
    """

    def pieces(self) -> Iterator[str | Number]:
        """Words and numbers in order."""
        text = self.template
        ends = "" if text.endswith((".", "!", "?")) else "."
        whole = text[:1].upper() + text[1:] + ends if text else ""
        length = "height" if OF_HEIGHTS.search(text) else "distance"
        for part in METRIC_NUMBER.split(whole):
            if METRIC_NUMBER.fullmatch(part):
                value, unit = part.split(" ")
                yield Number("speed" if unit == "m/s" else length, float(value))
            else:
                yield part


Cell = Number | Sentence | str


@dataclass(frozen=True, slots=True)
class Line:
    """One paragraph; ``write``: with room to write behind it."""

    text: Sentence
    look: Look = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """A list; ``ranked`` where the order is by weight."""

    items: tuple[Sentence, ...]
    ranked: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head, the first cell of each naming it. ``words``: columns of text; ``stacked``: long rows, to be put below one
    another where there is little room; ``bars``: a signed length beside each row."""

    caption: str
    head: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] = ()
    words: frozenset[int] = frozenset()
    stacked: bool = False
    bars: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: ``title`` and ``text`` its caption, ``alternative`` what a listener is told, ``draw`` makes it (None: nothing to see)."""

    name: str
    title: str
    text: str
    alternative: str
    draw: Callable[[], dict[str, Any] | None]


@dataclass(frozen=True, slots=True)
class Sub:
    """A heading inside a chapter."""

    title: str


@dataclass(frozen=True, slots=True)
class Aside:
    """Blocks for a medium with room; folded away under ``title`` where there is one. ``kept``: where nothing folds they stand there."""

    blocks: tuple[Block, ...]
    title: str = ""
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A small plan view: ``lines`` and ``dots`` by role, in metres right and up; ``middle`` of what is shown; the words above and below it."""

    title: Sentence
    lines: tuple[tuple[str, tuple[tuple[float, float], ...]], ...]
    dots: tuple[tuple[str, float, float], ...]
    middle: tuple[float, float]
    note: Sentence


@dataclass(frozen=True, slots=True)
class Drawings:
    """Small plan views side by side, all ``side_m`` wide and high, each with a bar of ``bar_m``; for a medium that draws."""

    caption: Sentence
    items: tuple[Drawing, ...]
    side_m: float
    bar_m: float


@dataclass(frozen=True, slots=True)
class Code:
    """Lines to copy as they stand."""

    text: str


Block = Line | Points | Table | Sub | Aside | Drawings | Code
Blocks = tuple[Block | None, ...]  # what a chapter may tell: None where there is nothing


@dataclass(frozen=True, slots=True)
class Chapter:
    """Blocks under a heading, with their pictures; ``anchor`` is its short name."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to the jumper under its ``key``, and what was ``measured``; the answer is one of the ``choices``, a height, or words."""

    key: str
    question: str
    measured: Cell = "see below"
    choices: tuple[str, ...] = ()
    height: bool = False


@dataclass(frozen=True, slots=True)
class Story:
    """A whole report. ``kicker`` stands above the ``heading``, ``facts`` (name, value) below it; ``brief`` are the few lines that
    say it all, ``map`` the picture beside them; ``foot`` closes it. What is ``asked`` comes first, on a page."""

    title: str
    kicker: str
    heading: str
    facts: tuple[tuple[str, Cell], ...] = ()
    brief: tuple[tuple[str, Sentence], ...] = ()
    map: Picture | None = None
    chapters: tuple[Chapter, ...] = ()
    foot: tuple[Block, ...] = ()
    command: str = ""
    asked: tuple[Asked, ...] = ()


def joined(sentences: Iterable[Sentence]) -> Sentence:
    """Several sentences as one."""
    values: dict[str, Number | float | str | None] = {}
    template = []
    for i, one in enumerate(sentences):
        said = {f"s{i}_{j}": piece for j, piece in enumerate(one.pieces())}
        template.append("".join(f"{{{key}}}" for key in said))
        values |= said
    return Sentence(" ".join(template), values)


def lines_of(*parts: Block | None) -> tuple[Block, ...]:
    """The blocks there are."""
    return tuple(p for p in parts if p is not None)


height = partial(Number, "height")  # a height or a difference of heights [m]
distance = partial(Number, "distance")  # a horizontal distance [m]
speed = partial(Number, "speed")  # a speed [m/s]
bearing = partial(Number, "bearing")  # a direction [deg true]
angle = partial(Number, "angle")  # an angle between two directions [deg]
seconds = partial(Number, "seconds")  # a duration [s]
