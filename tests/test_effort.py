"""The counting of work sees loops, loops in loops, and tables of everything against everything."""

from __future__ import annotations

import signal
import time

import numpy as np
import pytest
from effort import assert_linear, effort, no_hang


def once_over(n: int) -> int:
    total = 0
    for i in range(n):
        total += i
    return total


def each_with_each(n: int) -> int:
    total = 0
    for i in range(n):
        for k in range(n):
            total += i * k
    return total


def test_lines_and_bytes_are_counted() -> None:
    lines, _ = effort(lambda: once_over(1000))
    assert 2000 <= lines <= 2100
    _, peak = effort(lambda: np.zeros(1_000_000))
    assert 8_000_000 <= peak < 8_100_000


def test_what_grows_with_the_square_is_seen() -> None:
    assert_linear(lambda: once_over(20), lambda: once_over(200), 10)
    with pytest.raises(AssertionError):
        assert_linear(lambda: each_with_each(20), lambda: each_with_each(200), 10)
    row = np.arange(2000.0)
    assert_linear(lambda: row[:200] + 1.0, lambda: row + 1.0, 10)
    with pytest.raises(AssertionError):
        assert_linear(lambda: np.add.outer(row[:200], row[:200]), lambda: np.add.outer(row, row), 10)


@pytest.mark.skipif(not hasattr(signal, "SIGALRM"), reason="no alarm on this system")
def test_what_hangs_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("effort.GUARD_S", 1)
    with pytest.raises(pytest.fail.Exception, match="still running after 1 s"), no_hang():
        time.sleep(60)
    with no_hang():
        pass
    assert signal.alarm(0) == 0
