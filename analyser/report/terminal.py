"""A story -> the terminal, 80 columns, readable without colour."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING

from analyser.report.plain import plain
from analyser.report.story.blocks import Aside, Block, Cell, Chapter, Code, Line, Points, Story, Sub, Table
from analyser.report.table_layout import HARD_SPACE, Column, lay_out
from analyser.sentences import Number
from analyser.units import DisplaySystem

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_story", "terminal_width"]

WIDTH = 80
NAMED = 12
MOST = 1000
ROOM = " " + "_" * 24
INDENT = "  "


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
            self.line(row, style)

    def table(self, block: Table) -> None:
        """A table, indented: the first column is a heading, numbers stand right. Where it does not fit, a row is a list of its cells."""
        rows = (*block.rows, block.total) if block.total else block.rows
        texts = zip_longest(block.head, *rows, fillvalue="")
        columns = [
            Column(head, tuple(cells), i == 0 or i in block.words)
            for i, (head, *cells) in enumerate([self.cell(cell) for cell in column] for column in texts)
        ]
        lines = lay_out(columns, self.console.width - len(INDENT), block.bars)
        if lines is None:
            for i in range(len(rows)):
                self.listed(columns, i)
            return
        for line, is_head in lines:
            self.line(f"{INDENT}{line}".rstrip(" "), "dim" if is_head else "")

    def listed(self, columns: Sequence[Column], row: int) -> None:
        """One row of a table that is wider than the terminal: a line for each cell with its heading."""
        for i, column in enumerate(columns):
            if column.cells[row]:
                name = f"{column.head}: " if column.head else ""
                self.wrapped(f"{name}{column.cells[row]}", INDENT * (1 if i == 0 else 2))

    def line(self, text: str, style: str = "") -> None:
        """One line as it stands, hard spaces as blanks."""
        self.console.print(
            text.replace(HARD_SPACE, " "),
            style=style or None,
            markup=False,
            highlight=False,
            no_wrap=True,
            crop=False,
        )
