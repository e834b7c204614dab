"""What a turn leaves behind in airspeed and sink: sums that fade, in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.wind.samples import Samples
from analyser.wind.turning import ECHOES, FAST, SINK_EDGES_S, TURN_EDGES_S, _fading, echoes


def test_one_second_of_turn_stands_in_the_spans_that_hold_it() -> None:
    """A turn of one second, flown fast: its share of a span is the second over the span's length, from 2 s after to 17 s before.

    One second of sink of 2 m/s beside it, from 5 s after to 12 s before.
    """
    n, at = 40, 20
    zero = np.zeros(n)
    steps = Samples(
        np.arange(n) + 0.5, np.ones(n), zero, zero, zero, zero, np.ones(n, bool), 0.0, 0.0, 0.0, 0.0
    )
    one = np.where(np.arange(n) == at, 1.0, 0.0)
    found = echoes(steps, FAST * one, 2.0 * one)
    assert found.shape == (n, ECHOES)
    # by hand: 1 s before the turn the span of 2 s ahead holds half of it and what is left lies farther ahead
    assert found[at - 1, 0] == pytest.approx(0.5)
    assert found[at - 2, 0] == pytest.approx(0.25)
    assert found[at, 0] == found[at, 1] * 0.75 == pytest.approx(0.25)
    for last, first, edges in ((17.0, 0, TURN_EDGES_S), (12.0, len(TURN_EDGES_S) - 1, SINK_EDGES_S)):
        widths = np.diff(edges)
        whole = found[:, first : first + widths.size] * widths
        assert whole.sum() == pytest.approx((1.0 if first == 0 else 2.0) * widths.sum())
        late = found[at + int(last) + 1 :, first : first + widths.size]
        assert not late.any()
        assert found[at + int(last), first + widths.size - 1] > 0.0
    assert not found[: at - 2, : len(TURN_EDGES_S) - 1].any()
    assert found[at - 5, len(TURN_EDGES_S) - 1] > 0.0


def test_a_running_sum_fades_with_the_time_since() -> None:
    """Ones every two seconds that fade over five: the geometric series of q = e^(−2/5); a gap of ten seconds takes e^−2."""
    q = np.exp(-0.4)
    t = np.append(2.0 * np.arange(12), 22.0 + 10.0)
    kept = np.exp(-np.diff(t, prepend=t[:1]) / 5.0)
    found = _fading(kept.tolist(), np.ones(13))
    assert found[:12] == pytest.approx((1.0 - q ** np.arange(1, 13)) / (1.0 - q))
    assert found[12] == pytest.approx(found[11] * np.exp(-2.0) + 1.0)
