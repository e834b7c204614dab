"""Which tests come nearest to each function: those of its own part that call it, the cheapest first.

``python tests/mutants/nearest.py [TESTS …]`` runs the tests of every part (or those named) once, each under a profiler of calls, and brings
``nearest.txt`` up to date: the tests, one a line with their CPU seconds, then ``FILE:FUNCTION`` and the numbers of the tests that call it.
``run.py`` reads it; tests and functions that are gone are left out, a function that is not in it is tried with cheap tests of its module.
"""

from __future__ import annotations

import cProfile
import re
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import CodeType, FrameType

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT)]

from mutants.mutations import PARTS  # noqa: E402

NEAREST = Path(__file__).with_name("nearest.txt")
PACKAGE = str(ROOT / "analyser")
MOST_TESTS = 24  # of one function
LONGEST_S = 8.0  # CPU seconds of one test
MOST_S = 30.0  # CPU seconds of the tests of one function
Tests = list[tuple[float, str]]
Known = dict[str, Tests]


class TooLong(Exception):
    """A test that is no cheap one."""


class Calls:
    """A plugin that notes the functions of the package that each test calls, and how long it takes; one that takes long is ended."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.called: dict[str, set[str]] = defaultdict(set)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Profile one test with its fixtures."""
        test = item.nodeid.partition("[")[0]
        profile = cProfile.Profile()
        begin = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
        profile.enable()
        try:
            return (yield)
        finally:
            profile.disable()
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            self.seconds[test] += time.process_time() - begin
            self.called[test] |= {name for entry in profile.getstats() if (name := function(entry.code))}


def function(code: CodeType | str) -> str | None:
    """``FILE:FUNCTION`` of the package, None for any other."""
    if isinstance(code, str) or not code.co_filename.startswith(PACKAGE):
        return None
    return f"{Path(code.co_filename).relative_to(ROOT).as_posix()}:{code.co_qualname}"


def own_tests(name: str) -> tuple[str, ...]:
    """Files and folders of the tests that have to notice a mistake in ``FILE:FUNCTION``; none where no mutation is made."""
    return tuple(tests for part, named in PARTS.items() if name.startswith(part) for tests in named.split())


@cache
def _text(file: str) -> str:
    return (ROOT / file).read_text(encoding="utf-8") if (ROOT / file).is_file() else ""


def is_there(name: str) -> bool:
    """Whether ``FILE::TEST`` or ``FILE:FUNCTION`` still is in its file."""
    file, _, function = name.partition("::" if "::" in name else ":")
    outermost = function.partition(".")[0]
    return outermost == "<module>" or bool(re.search(rf"\b(def|class) {re.escape(outermost)}\b", _text(file)))


def merged(calls: Calls) -> Known:
    """What was known of other tests and what these showed, of each function only what its own tests did."""
    known = read()
    for name, tests in known.items():
        known[name] = [(s, test) for s, test in tests if test not in calls.seconds]
    for test, names in calls.called.items():
        for name in names:
            known.setdefault(name, []).append((calls.seconds[test], test))
    mine = {
        name: [(s, test) for s, test in tests if test.startswith(own_tests(name)) and is_there(test)]
        for name, tests in sorted(known.items())
        if own_tests(name) and is_there(name)
    }
    return {name: cheapest(tests) for name, tests in mine.items() if tests}


def cheapest(tests: Tests) -> Tests:
    """The first of these that take no longer than MOST_S together."""
    chosen: Tests = []
    for seconds, test in sorted(tests)[:MOST_TESTS]:
        if chosen and sum(s for s, _ in chosen) + seconds > MOST_S:
            break
        chosen.append((seconds, test))
    return chosen


def write(known: Known, seconds: dict[str, float]) -> None:
    """Write ``nearest.txt``: what calls what, and the seconds of every test that was run."""
    number = {test: i for i, test in enumerate(sorted(filter(is_there, seconds)))}
    rows = [f"{seconds[test]:.2f} {test}" for test in number]
    rows += [f"{name} {' '.join(str(number[test]) for _, test in tests)}" for name, tests in known.items()]
    NEAREST.write_text("\n".join(rows) + "\n", encoding="utf-8")


def seen() -> dict[str, float]:
    """CPU seconds of every test that was run."""
    if not NEAREST.is_file():
        return {}
    rows = (row.split() for row in NEAREST.read_text(encoding="utf-8").splitlines())
    return {row[1]: float(row[0]) for row in rows if not row[0].startswith("analyser/")}


def read() -> Known:
    """Function → its tests with their CPU seconds, cheapest first."""
    tests: Tests = []
    found: Known = {}
    if not NEAREST.is_file():
        return found
    for row in NEAREST.read_text(encoding="utf-8").splitlines():
        first, *rest = row.split()
        if first.startswith("analyser/"):
            found[first] = [tests[int(i)] for i in rest]
        else:
            tests.append((float(first), rest[0]))
    return found


def main() -> int:
    """Run and write."""
    parts = sys.argv[1:] or sorted({tests for part in PARTS.values() for tests in part.split()})

    def too_long(number: int, frame: FrameType | None) -> None:
        raise TooLong

    signal.signal(signal.SIGPROF, too_long)
    calls = Calls()
    options = [
        "-q",
        "-p",
        "no:cacheprovider",
        "-m",
        "not slow and not browser",
        "--hypothesis-seed=0",
        "--tb=no",
    ]
    result = pytest.main([*options, *(str(ROOT / part) for part in parts)], plugins=[calls])
    write(merged(calls), seen() | calls.seconds)
    return int(result)


if __name__ == "__main__":
    raise SystemExit(main())
