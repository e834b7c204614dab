"""A table in a given width of letters: no cell is ever cut. What does not fit beside the first column is put below, else rows become lists."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, zip_longest

__all__ = ["Column", "lay_out"]

GAP = 2
LEAST_BAR = 3
BAR = 8
HARD_SPACE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Column:
    """A heading and its cells; numbers stand right, texts ``left``. Parts joined by hard spaces stay in one line."""

    head: str
    cells: tuple[str, ...]
    left: bool


def lay_out(
    columns: Sequence[Column], room: int, bars: Sequence[float] = ()
) -> list[tuple[str, bool]] | None:
    """The lines of a table, each with whether it is a heading; None where not even two columns fit beside each other.

    The first column names the rows; a table that is too wide is parted evenly, and each part begins with it. ``bars``: a signed
    length beside each row, left out where there is no room for them.
    """
    first, rest = columns[0], list(columns[1:])
    for parts in range(1, max(len(rest), 1) + 1):
        cut = [round(i * len(rest) / parts) for i in range(parts + 1)]
        groups = [[first, *rest[a:b]] for a, b in pairwise(cut)]
        sizes = [widths(group, room) for group in groups]
        if all(size is not None for size in sizes):
            break
    else:
        return None
    lines: list[tuple[str, bool]] = []
    for group, size in zip(groups, sizes, strict=True):
        assert size is not None
        left = room - sum(size) - GAP * len(size)
        beside = drawn(bars, min(BAR, (left - 1) // 2)) if parts == 1 else []
        lines += [("", False)] if lines else []
        lines += _part(group, size, beside)
    return lines


def widths(columns: Sequence[Column], room: int) -> list[int] | None:
    """As wide as their texts where there is room; else headings are wrapped, then cells, the names of the rows last. None: too narrow."""
    whole = [_widest([column.head, *column.cells]) for column in columns]
    words = [_longest_word([column.head, *column.cells]) for column in columns]
    heads = [
        max(_widest(column.cells), _longest_word([column.head]), 1 if i else whole[0])
        for i, column in enumerate(columns)
    ]
    space = room - GAP * (len(columns) - 1)
    for floor in (whole, heads, [whole[0], *words[1:]], words):
        if sum(floor) <= space:
            return _narrowed(whole, floor, space)
    return None


def _narrowed(sizes: Sequence[int], floor: Sequence[int], space: int) -> list[int]:
    """A letter less for the widest column that can give one, until all fit."""
    sizes = list(sizes)
    while sum(sizes) > space:
        sizes[max((i for i in range(len(sizes)) if sizes[i] > floor[i]), key=lambda i: sizes[i])] -= 1
    return sizes


def drawn(lengths: Sequence[float], half: int) -> list[str]:
    """Signed bars about a middle line, the longest ``half`` letters long; none below a few letters."""
    largest = max(map(abs, lengths), default=0.0) or 1.0
    if half < LEAST_BAR:
        return []
    rows = []
    for value in lengths:
        long = round(half * abs(value) / largest)
        rows.append(("▒" * long).rjust(half) + "|" if value < 0 else " " * half + "|" + "█" * long)
    return rows


def _part(columns: Sequence[Column], sizes: Sequence[int], bars: Sequence[str]) -> list[tuple[str, bool]]:
    head = [_wrapped(column.head, size) for column, size in zip(columns, sizes, strict=True)]
    tall = max(map(len, head))
    head = [[""] * (tall - len(rows)) + rows for rows in head]
    lines = [(line, True) for line in _beside(head, columns, sizes)]
    for i in range(len(columns[0].cells)):
        cells = [_wrapped(column.cells[i], size) for column, size in zip(columns, sizes, strict=True)]
        rows = _beside(cells, columns, sizes)
        if i < len(bars):
            wide = sum(sizes) + GAP * len(sizes)
            rows[0] += " " * (wide - _width(rows[0])) + bars[i]
        lines += [(row, False) for row in rows]
    return lines


def _beside(cells: Sequence[list[str]], columns: Sequence[Column], sizes: Sequence[int]) -> list[str]:
    lines = []
    for row in zip_longest(*cells, fillvalue=""):
        padded = []
        for text, column, size in zip(row, columns, sizes, strict=True):
            blank = " " * (size - _width(text))
            padded.append(text + blank if column.left else blank + text)
        lines.append((" " * GAP).join(padded).rstrip(" "))
    return lines


def _wrapped(text: str, size: int) -> list[str]:
    rows = [""]
    for word in text.split(" "):
        longer = f"{rows[-1]} {word}" if rows[-1] else word
        if _width(longer) <= size or not rows[-1]:
            rows[-1] = longer
        else:
            rows.append(word)
    return rows


def _widest(texts: Sequence[str]) -> int:
    return max(map(_width, texts), default=0)


def _longest_word(texts: Sequence[str]) -> int:
    return _widest([word for text in texts for word in text.split(" ")])


def _width(text: str) -> int:
    from rich.cells import cell_len

    return cell_len(text)
