"""Which tests come nearest to each function: those that call it, the cheapest first.

``python tests/mutants/nearest.py`` runs the tests of every part once under a profiler of calls and writes ``nearest.txt``:
the tests, one a line with their CPU seconds, then ``FILE:FUNCTION`` and the numbers of the tests that call it. ``run.py`` reads it; a test
that is no longer there is left out, a function that is not in it is tried with the cheap tests of its whole part.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
NEAREST = Path(__file__).with_name("nearest.txt")
MOST_TESTS = 16  # of one function
MOST_S = 20.0  # CPU seconds of the tests of one function


class Calls:
    """A plugin that notes the functions of the package that each test calls, and how long it takes."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.called: dict[str, set[CodeType]] = defaultdict(set)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Profile one test with its fixtures."""
        test = item.nodeid.partition("[")[0]
        seen = self.called[test]
        begin = time.process_time()

        def note(frame: FrameType, event: str, _: Any) -> None:
            if event == "call":
                seen.add(frame.f_code)

        sys.setprofile(note)
        try:
            return (yield)
        finally:
            sys.setprofile(None)
            self.seconds[test] += time.process_time() - begin


def written(calls: Calls) -> str:
    """The text of ``nearest.txt``."""
    tests = sorted(calls.seconds)
    number = {test: i for i, test in enumerate(tests)}
    by_function: dict[str, list[str]] = defaultdict(list)
    for test, codes in calls.called.items():
        for code in codes:
            path = Path(code.co_filename)
            if path.is_relative_to(ROOT / "analyser"):
                by_function[f"{path.relative_to(ROOT).as_posix()}:{code.co_qualname}"].append(test)
    rows = [f"{calls.seconds[test]:.2f} {test}" for test in tests]
    for function, found in sorted(by_function.items()):
        chosen, spent = [], 0.0
        for test in sorted(set(found), key=lambda t: calls.seconds[t])[:MOST_TESTS]:
            spent += calls.seconds[test]
            if chosen and spent > MOST_S:
                break
            chosen.append(str(number[test]))
        rows.append(f"{function} {' '.join(chosen)}")
    return "\n".join(rows) + "\n"


def read() -> dict[str, list[tuple[float, str]]]:
    """Function → its tests with their CPU seconds, cheapest first."""
    tests: list[tuple[float, str]] = []
    found: dict[str, list[tuple[float, str]]] = {}
    for row in NEAREST.read_text(encoding="utf-8").splitlines():
        first, *rest = row.split()
        if first.startswith("analyser/"):
            found[first] = [tests[int(i)] for i in rest]
        else:
            tests.append((float(first), rest[0]))
    return found


def main() -> int:
    """Run and write."""
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT)]
    from mutants.mutations import PARTS

    parts = sorted({tests for part in PARTS.values() for tests in part.split()})
    calls = Calls()
    options = ["-q", "-p", "no:cacheprovider", "-m", "not slow and not browser", "--hypothesis-seed=0"]
    result = pytest.main([*options, *(str(ROOT / part) for part in parts)], plugins=[calls])
    NEAREST.write_text(written(calls), encoding="utf-8")
    return int(result)


if __name__ == "__main__":
    raise SystemExit(main())
