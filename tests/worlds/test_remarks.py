"""A remark that more than a third of ordinary jumps would get is not made."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from functools import partial

import pytest

from analyser.debrief import Debrief, debrief_recording
from benchmarks.agreement import of_record, planned, remarks
from benchmarks.families_causes import told
from worlds.families import make_jump

pytestmark = pytest.mark.slow

JUMPS = 24


def of_family(family: str, seed: int) -> Debrief:
    """A flight of another hand, the heights it was flown at as its plan."""
    jump = make_jump(family, seed)
    return debrief_recording(jump.recording, told(jump, (jump.truth.target_lat, jump.truth.target_lon)))


WAYS: dict[str, Callable[[int], Debrief]] = {
    "a target alone": of_record,
    "a plan": partial(planned, size=0.0),
    "kinematic canopy": partial(of_family, "kinematic"),
}


@pytest.mark.parametrize("way", WAYS)
def test_no_remark_stands_in_more_than_a_third_of_ordinary_jumps(way: str) -> None:
    counted: Counter[str] = Counter()
    for seed in range(885_000, 885_000 + JUMPS):
        counted.update(set(remarks(WAYS[way](seed))))
    assert counted, "ordinary jumps get some remarks"
    assert {code: n for code, n in counted.items() if n > JUMPS / 3} == {}
