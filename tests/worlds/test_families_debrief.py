"""Whole debriefs of jumps of every family: found at all, on the right side, and better than a circle for each layer."""

from __future__ import annotations

import math

import pytest
from families_jump import one

from worlds.families import FAMILIES

SEEDS = (41, 42, 44)


@pytest.mark.slow
@pytest.mark.parametrize("family", FAMILIES)
def test_a_debrief_of_every_family(family: str) -> None:
    found = [one(seed, family) for seed in SEEDS]
    assert all(f["hand"] for f in found)
    assert all(f["phases"][3] < 8.0 and f["phases"][4] < 8.0 for f in found)
    assert all(math.hypot(f["along"][0], f["across"][0]) < 30.0 for f in found)
    for f in found:
        errors = [r.size for r in f["rows"] if r.measured]
        assert math.sqrt(sum(e * e for e in errors) / len(errors)) < f["circle"]
