"""A story -> the terminal, 80 columns, readable without colour."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable
from itertools import zip_longest
from typing import TYPE_CHECKING

from analyser.report.plain import plain
from analyser.report.story.blocks import Aside, Block, Cell, Chapter, Code, Line, Points, Story, Sub, Table
from analyser.sentences import Number
from analyser.units import DisplaySystem

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_story", "terminal_width"]

WIDTH = 80
BAR = 8
NAMED = 12
MOST = 1000
ROOM = " " + "_" * 24
HARD_SPACE = "\N{NO-BREAK SPACE}"


def print_story(story: Story, display: DisplaySystem, console: Console, *, brief: bool = False) -> None:
    """Lay the story out. ``brief``: the head and the few lines that say it all, nothing else."""
    _Writer(display, console).story(story, brief)


def terminal_width() -> int:
    """Columns to use: what the terminal has, never more than 100, 80 where it is unknown."""
    return max(60, min(shutil.get_terminal_size((WIDTH, 24)).columns, 100))


class _Writer:
    """Puts blocks on a console, in a display system."""

    def __init__(self, display: DisplaySystem, console: Console) -> None:
        self.display, self.console = display, console

    def story(self, story: Story, brief: bool) -> None:
        """Head, the brief lines, every chapter."""
        self.wrapped(f"{story.command}  {plain(story.heading)}", style="bold")
        facts = [f"{name} {self.cell(value)}" for name, value in story.facts]
        if facts:
            self.wrapped(" · ".join(facts))
        if story.brief:
            self.console.print()
        for name, text in story.brief:
            self.wrapped(self.cell(text), f"  {name:{NAMED - 2}}", NAMED)
        if brief:
            return
        for chapter in story.chapters:
            self.chapter(chapter)
        self.blocks(story.foot)

    def chapter(self, chapter: Chapter) -> None:
        """A heading and its blocks; nothing where all of them need more room."""
        if all(isinstance(block, Aside) and not block.kept for block in chapter.blocks):
            return
        self.console.print()
        self.wrapped(plain(chapter.title).upper(), style="bold")
        self.blocks(chapter.blocks)

    def blocks(self, blocks: Iterable[Block]) -> None:
        """Blocks in order; what needs room is left out, and of several tables each gets its name."""
        blocks = tuple(blocks)
        named = sum(isinstance(block, Table) for block in blocks) > 1
        for block in blocks:
            if isinstance(block, Line):
                self.wrapped(self.cell(block.text) + (ROOM if block.look == "write" else ""), "  ")
            elif isinstance(block, Points):
                for item in block.items:
                    self.wrapped(self.cell(item), "  · ")
            elif isinstance(block, Code):
                for row in block.text.splitlines():
                    self.wrapped(plain(row, MOST), "    ")
            elif isinstance(block, Sub):
                self.wrapped(f"{plain(block.title)}:", "  ", style="bold")
            elif isinstance(block, Table):
                if named:
                    self.wrapped(f"{plain(block.caption)}:", "  ", style="bold")
                self.table(block)
            elif isinstance(block, Aside) and block.kept:
                self.wrapped(f"{plain(block.title)}:", "  ", style="bold")
                self.blocks(block.blocks)

    def cell(self, cell: Cell) -> str:
        """A cell or sentence as harmless text, with numbers that no line break parts."""
        if isinstance(cell, str):
            return plain(cell, MOST)
        parts = [cell] if isinstance(cell, Number) else cell.pieces()
        shown = (p if isinstance(p, str) else p.text(self.display).replace(" ", HARD_SPACE) for p in parts)
        return plain("".join(shown), MOST)

    def wrapped(self, text: str, lead: str = "", hang: int | None = None, style: str = "") -> None:
        """Text in lines no longer than the terminal, every line after the first set in."""
        rest = " " * (len(lead) if hang is None else hang)
        rows = textwrap.wrap(text, self.console.width, initial_indent=lead, subsequent_indent=rest)
        for row in rows:
            self.console.print(
                row.replace(HARD_SPACE, " "),
                style=style or None,
                markup=False,
                highlight=False,
                no_wrap=True,
                crop=False,
            )

    def table(self, block: Table) -> None:
        """A table, indented, without blanks at the ends of its lines: the first column is a heading, numbers stand right."""
        from rich.padding import Padding
        from rich.table import Table as Grid

        grid = Grid(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
        rows = (*block.rows, block.total) if block.total else block.rows
        columns = [
            [self.plain_cell(cell) for cell in column]
            for column in zip_longest(block.head, *rows, fillvalue="")
        ]
        words = [max(len(word) for text in column for word in text.split() or [""]) for column in columns]
        # the headings of the rows stay in one line where the longest words of all others have room beside them
        whole = 2 + max(map(len, columns[0])) + sum(width + 2 for width in words[1:]) <= self.console.width
        for i, name in enumerate(block.head):
            left = i == 0 or i in block.words
            grid.add_column(
                self.plain_cell(name),
                justify="left" if left else "right",
                no_wrap=i == 0 and whole,
                min_width=words[i] or None,
            )
        bars = _bars(block.bars)
        if bars:
            grid.add_column("")
        for i, row in enumerate(rows):
            grid.add_row(*map(self.plain_cell, row), *(bars[i : i + 1] if bars else ()))
        with self.console.capture() as capture:
            self.console.print(Padding(grid, (0, 0, 0, 2), expand=False), highlight=False, markup=False)
        text = "\n".join(part.rstrip() for part in capture.get().rstrip("\n").split("\n"))
        self.console.file.write(text + "\n")

    def plain_cell(self, cell: Cell) -> str:
        """A cell with square brackets that mean themselves."""
        from rich.markup import escape

        return escape(self.cell(cell).replace(HARD_SPACE, " "))


def _bars(lengths: tuple[float, ...]) -> list[str]:
    """Signed bars about a middle line, the longest as long as there is room."""
    largest = max(map(abs, lengths), default=0.0) or 1.0
    rows = []
    for value in lengths:
        half = round(BAR * abs(value) / largest)
        rows.append(("▒" * half).rjust(BAR) + "|" if value < 0 else " " * BAR + "|" + "█" * half)
    return rows
