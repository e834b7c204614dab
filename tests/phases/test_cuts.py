"""Where phases part at the take-off and in holes of a recording, on signals made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.phases.cuts import _exit_in_a_hole
from analyser.phases.events import Fall
from analyser.phases.find import _impossible
from analyser.phases.ground_events import find_takeoff
from analyser.phases.signals import make_signals


def test_a_take_off_between_two_fixes() -> None:
    """A fix every 2 s; rolling faster and faster, off the ground at 100 s with h = 0.15 t²: half of the square root takes half of the time."""
    t = np.arange(0.0, 200.0, 2.0)
    h = np.where(t < 120.0, 0.15 * np.maximum(t - 100.0, 0.0) ** 2, 60.0 + 6.0 * (t - 120.0))
    speed = np.interp(t, [0.0, 60.0, 90.0], [0.0, 5.0, 40.0])
    s = make_signals(t, np.cumsum(2.0 * speed), np.zeros_like(t), h)
    assert t[find_takeoff(s, t.size - 1)] == 100.0


@pytest.mark.parametrize(("first_m", "seen"), [(150.0, False), (180.0, True)])
def test_a_canopy_after_a_hole_has_to_be_well_above_the_ground(first_m: float, seen: bool) -> None:
    """Half an hour at rest at 100 m, a minute without fixes, then down by 5 m/s into a valley at 80 m: 150 m is no height to come from."""
    down = np.arange(first_m, 79.0, -5.0)
    h = np.concatenate([np.full(1800, 100.0), down])
    t = np.concatenate([np.arange(1800.0), 1860.0 + np.arange(down.size)])
    east = np.concatenate([np.zeros(1800), 10.0 * np.arange(down.size)])
    s = make_signals(t, east, np.zeros_like(t), h)
    found = _exit_in_a_hole(s, t.size - 1)
    assert (found is not None) is seen
    if found is not None:
        assert [cut.t_s for cut in found[0]] == [0.0, 1799.0, 1860.0]
        assert [note.code for note in found[1]][-1] == "exit-not-seen"


@pytest.mark.parametrize(("under_canopy_m", "told"), [(30.0, True), (50.0, False)])
def test_a_fall_that_hardly_leaves_a_canopy_flight_is_none(under_canopy_m: float, told: bool) -> None:
    """On a field at 200 m: two falls, the second of which ends 30 or 50 m above it; no canopy is steady below 40 m (_impossible)."""
    ends = [4000.0, 2000.0, 1500.0, 200.0 + under_canopy_m, 200.0]
    t = np.arange(0.0, 300.0)
    h = np.interp(t, [0.0, 40.0, 140.0, 166.0, 180.0], ends)
    s = make_signals(t, np.zeros_like(t), np.zeros_like(t), h)
    falls = (Fall(0, 38, 42), Fall(140, 164, 166))
    assert bool(_impossible(s, falls, 0, 180)) is told
