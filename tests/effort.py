"""What work costs, counted and not timed: no clock of a busy machine decides whether a test passes."""

from __future__ import annotations

import signal
import sys
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

import pytest

GUARD_S = 300


@contextmanager
def no_hang() -> Iterator[None]:
    """Ends what is still running after five minutes. Nothing is said of how long work that ends may take."""
    if not hasattr(signal, "SIGALRM"):
        yield
        return

    def give_up(number: int, frame: FrameType | None) -> None:
        pytest.fail(f"still running after {GUARD_S} s")

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(GUARD_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def effort(work: Callable[[], object]) -> tuple[int, int]:
    """How many lines of Python ``work`` runs, and the most memory it holds [bytes], both in a warmed-up process."""
    work()
    tracemalloc.start()
    try:
        work()
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    lines = 0

    def count(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal lines
        lines += event == "line"
        return count

    before = sys.gettrace()
    sys.settrace(count)
    try:
        work()
    finally:
        sys.settrace(before)
    return lines, peak


def assert_linear(small: Callable[[], object], large: Callable[[], object], times: float) -> None:
    """``large``, with ``times`` the input of ``small``, costs at most twice ``times`` its lines and its memory."""
    few, little = effort(small)
    many, much = effort(large)
    assert many <= 2.0 * times * few
    assert much <= 2.0 * times * little + 100_000


def few_or(many: int, few: int) -> list[Any]:
    """How many drawings a test of chance looks at: a few always, all of them with the long tests."""
    return [few, pytest.param(many, marks=pytest.mark.slow)]
