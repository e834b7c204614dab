"""The seconds about a turn in which airspeed echoes it."""

from __future__ import annotations

import numpy as np

from analyser.wind.turning import TURN_ECHOES, TURN_EDGES_S


def test_the_spans_about_a_turn_follow_one_another_and_begin_before_it() -> None:
    assert TURN_EDGES_S[0] < 0.0
    assert np.all(np.diff(TURN_EDGES_S) > 0.0)
    assert TURN_ECHOES == len(TURN_EDGES_S) - 1
