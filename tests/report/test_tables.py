"""Each column of a report's tables shows what its head says, from the numbers of the debrief."""

from __future__ import annotations

import math
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from fake_debrief import fake_debrief

from analyser.jump import Debrief
from analyser.phases import Phase, Phases
from analyser.report.documents.season import _accuracy, _band
from analyser.report.story.blocks import Sentence, Table
from analyser.report.story.info import _piece
from analyser.report.story.jump import tell_jump
from analyser.report.story.season_tables import causes_table, conditions_table
from analyser.report.story.views import _flown
from analyser.season.figures import Accuracy, Band, Share
from analyser.season.robust import Level
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


def test_gates_redrawn(full: Debrief) -> None:
    """Places are of the new pattern, and moved from those of the plan: east and north each by itself."""
    found = table(full, "Gates redrawn for the wind that was there")
    new, old = full.redrawn.pattern, full.plan.pattern  # type: ignore[union-attr]
    assert len(found.rows) == len(new.gates) > 1
    for row, gate in zip(found.rows, new.gates, strict=True):
        before = old.gate(gate.name)
        assert before is not None
        assert si(row[1]) == gate.agl_m
        assert numbers(row[2]) == pytest.approx(polar(gate.east_m, gate.north_m))
        assert numbers(row[3]) == pytest.approx(
            polar(gate.east_m - before.east_m, gate.north_m - before.north_m)
        )
        assert si(row[4]) == gate.heading_deg


def polar(east: float, north: float) -> list[float]:
    return [math.hypot(east, north), math.degrees(math.atan2(east, north)) % 360.0]


def numbers(cell: object) -> list[float]:
    """The numbers of a sentence."""
    assert isinstance(cell, Sentence)
    return [v.value for v in cell.values.values() if isinstance(v, Number)]  # type: ignore[misc]


def level(value: float) -> Level:
    return Level(value, abs(value) / 10.0, 19.0, 20)


def test_levels_along_and_across_are_not_mixed_up() -> None:
    radius = (14.0, 10.0, 20.0)
    found = Accuracy(20, level(-12.0), level(7.0), 9.0, 5.0, 0.3, radius, radius, radius, {})
    document = _accuracy(found)
    assert document is not None
    assert (document["along"]["value_m"], document["across"]["value_m"]) == (-12.0, 7.0)
    assert (document["along_spread_m"], document["across_spread_m"]) == (9.0, 5.0)


def test_the_last_part_of_the_flight_lies_where_its_wind_line_says() -> None:
    """A wind from 70°: upwind is 70° true, right of it 160°; the landing by bearing and distance."""
    document = {
        "reach": {
            "wind_line_from_deg": 70.0,
            "samples": {
                "agl_m": [200.0, 100.0, None],
                "upwind_m": [-100.0, 50.0, 1.0],
                "right_m": [30.0, -20.0, 1.0],
            },
        },
        "landing": {"bearing_deg": 200.0, "offset_m": 15.0},
    }
    found = _flown(document)
    assert found is not None
    up, right, to = (
        np.array([math.sin(math.radians(d)), math.cos(math.radians(d))]) for d in (70.0, 160.0, 200.0)
    )
    assert found == pytest.approx(np.array([-100.0 * up + 30.0 * right, 50.0 * up - 20.0 * right, 15.0 * to]))


def test_causes_of_a_season_with_their_own_intervals() -> None:
    """Level and half interval along, then across."""
    share = Share("wind", 0.4, 0.3, 0.5, Level(-12.0, 1.0, 19.0, 20), Level(7.0, 3.0, 19.0, 20))
    found = causes_table(SimpleNamespace(name="Wide 230", group=SimpleNamespace(causes=(share,))))  # type: ignore[arg-type]
    assert found is not None
    assert found.head[2:] == ("level along", "level across")
    ((_, _, along, across),) = found.rows
    t_19 = 2.093  # Student's t, 97.5 %, 19 degrees of freedom: any printed table
    for cell, value, error in ((along, -12.0, 1.0), (across, 7.0, 3.0)):
        assert si(cell) == value
        assert cell.sd == pytest.approx(t_19 * error, rel=1e-3)  # type: ignore[union-attr]


def test_a_band_of_a_season_has_its_own_levels() -> None:
    found = _band(Band("light", 0.0, 3.0, 12, level(-12.0), level(7.0), 9.0), "light")
    assert (found["along"]["value_m"], found["across"]["value_m"]) == (-12.0, 7.0)
    assert (found["from_mps"], found["to_mps"]) == (0.0, 3.0)


def test_phases_of_a_recording() -> None:
    """The phases of a file that is only looked into: begin, time, height from and to."""
    track: Any = SimpleNamespace(start_utc_s=1_780_000_000.0)  # 28 May 2026, 20:26:40 UTC
    phases = Phases((Phase("canopy", 0, 9, 20.0, 140.0, 900.0, 12.0),), "jump", "", None, None, False)
    ((block,),) = (_piece(1, track, phases).blocks,)
    assert isinstance(block, Table)
    ((name, begins, lasts, above, below),) = block.rows
    assert (name, begins) == ("canopy", "20:27:00")
    assert [si(cell) for cell in (lasts, above, below)] == [120.0, 900.0, 12.0]


def test_levels_of_a_season_by_condition_each_with_its_own_interval() -> None:
    band = Band("left", None, None, 20, Level(-12.0, 1.0, 19.0, 20), Level(7.0, 3.0, 19.0, 20), 9.0)
    few = Band("right", None, None, 4, None, None, None)
    part: Any = SimpleNamespace(name="Wide 230", group=SimpleNamespace(conditions={"hand": (band, few)}))
    found = conditions_table(part, private=False)
    assert found is not None
    (_, n, along, across, spread), (_, few_n, *nothing) = found.rows
    assert (n, few_n, nothing) == ("20", "4", ["too few", "–", "–"])
    t_19 = 2.093  # Student's t, 97.5 %, 19 degrees of freedom: any printed table
    for cell, value, error in ((along, -12.0, 1.0), (across, 7.0, 3.0)):
        assert si(cell) == value
        assert cell.sd == pytest.approx(t_19 * error, rel=1e-3)  # type: ignore[union-attr]
    assert si(spread) == 9.0
