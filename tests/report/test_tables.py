"""Each column of a report's tables shows what its head says, from the numbers of the debrief."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fake_debrief import fake_debrief

from analyser.jump import Debrief
from analyser.report.story.blocks import Table
from analyser.report.story.jump import tell_jump
from analyser.sentences import Number


@pytest.fixture(scope="module")
def full() -> Debrief:
    return fake_debrief()


def tables(debrief: Debrief) -> Iterator[Table]:
    for chapter in tell_jump(debrief).chapters:
        yield from (block for block in flat(chapter.blocks) if isinstance(block, Table))


def flat(blocks: object) -> Iterator[object]:
    for block in blocks:  # type: ignore[attr-defined]
        yield block
        inner = getattr(block, "blocks", None)
        if inner is not None:
            yield from flat(inner)


def table(debrief: Debrief, caption: str) -> Table:
    return next(t for t in tables(debrief) if t.caption == caption)


def si(cell: object) -> float | None:
    assert isinstance(cell, Number)
    return cell.value


def test_phases(full: Debrief) -> None:
    found = table(full, "Phases of the recording")
    assert found.head == ("phase", "lasts", "from height", "to height")
    intervals = full.phases.intervals
    assert len(found.rows) == len(intervals) > 1
    assert any(p.start_agl_m != p.end_agl_m for p in intervals)
    for row, p in zip(found.rows, intervals, strict=True):
        assert row[0] == p.name
        assert [si(cell) for cell in row[1:]] == [p.end_s - p.start_s, p.start_agl_m, p.end_agl_m]
