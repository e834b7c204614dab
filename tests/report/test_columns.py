"""Tables in a terminal: whatever the width, no cell is cut."""

from __future__ import annotations

import pytest

from analyser.report.table_layout import HARD_SPACE, Column, lay_out

HARD = f"24{HARD_SPACE}±{HARD_SPACE}9{HARD_SPACE}m"
TABLE = [
    Column("turn onto", ("final", "base"), True),
    Column("over ground", ("19 kt", "9 kt"), False),
    Column("along", (f"{HARD} short", "1 m far"), False),
    Column("time", ("15 s", "123 s"), False),
]


@pytest.mark.parametrize("room", range(20, 60))
def test_every_cell_is_whole_and_no_line_too_long(room: int) -> None:
    lines = lay_out(TABLE, room, (3.0, -6.0))
    assert lines is not None
    assert max(len(line) for line, _ in lines) <= room
    text = " ".join(line for line, _ in lines)
    for column in TABLE:
        for cell in (column.head, *column.cells):
            assert all(word in text for word in cell.split(" "))


def test_what_has_room_stays_in_one_line_with_its_bars() -> None:
    assert lay_out(TABLE, 60, (3.0, -6.0)) == [
        ("turn onto  over ground           along   time", True),
        (f"final            19 kt  {HARD} short   15 s        |███", False),
        ("base              9 kt         1 m far  123 s  ▒▒▒▒▒▒|", False),
    ]


def test_headings_are_wrapped_before_the_table_is_parted() -> None:
    lines = lay_out(TABLE, 41)
    assert lines is not None
    assert [line for line, head in lines if head] == [
        "              over",
        "turn onto   ground           along   time",
    ]
    parted = lay_out(TABLE, 24)
    assert parted is not None
    assert sum("onto" in line for line, head in parted if head) == 2


def test_a_word_too_long_for_two_columns_asks_for_a_list() -> None:
    assert lay_out([Column("file", ("x" * 30,), True), Column("jumps", ("2",), False)], 30) is None
