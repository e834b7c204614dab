"""Put single mistakes into the package, one at a time and only in memory, and see whether the tests of their part notice.

``python tests/mutants/run.py --sample 200``; ``--list`` only prints them. Each mutation has a process of its own, in which the
tests that ``nearest.txt`` names for its function run until the first fails, the cheapest first, within a limit of CPU seconds. Those that
live have to stand in ``may_live.txt``, a name and the reason a line. Exit code 1 where one does not, or where fewer than ``--least`` of a hundred die.
"""

from __future__ import annotations

import argparse
import ast
import dataclasses
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import math
import os
import re
import resource
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from types import CodeType, ModuleType

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "benchmarks")]
os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy is loaded: a process with threads is not forked

from mutants.mutations import Mutation, all_mutations, drawn  # noqa: E402
from mutants.nearest import Known, read, seen  # noqa: E402

MAY_LIVE = Path(__file__).with_name("may_live.txt")
LIMIT_S = 120.0  # CPU seconds of one mutation: several times what its tests need where that is known
WAIT_S = 600.0  # and by the clock, for one that only waits
HEAVY = ("numpy", "scipy.optimize", "scipy.stats", "scipy.interpolate", "pandas", "pytest")
BROKEN = 70
CONTROLS = 3  # tried without any mistake first
MOST = 20  # tests of one mutation
WORD = re.compile(r"\w+")


def may_live() -> dict[str, str]:
    """Name of a mutation → why no test has to notice it."""
    rows = (line.partition(" | ") for line in MAY_LIVE.read_text(encoding="utf-8").splitlines())
    return {name: reason for name, mark, reason in rows if mark}


class Mistaken(importlib.machinery.SourceFileLoader):
    """Loads one module with a mistake in it."""

    def __init__(self, name: str, path: str, mutation: Mutation) -> None:
        super().__init__(name, path)
        self._mutation = mutation

    def get_code(self, fullname: str) -> CodeType:
        """The changed text, never from or into a cache."""
        text = self._mutation.applied(Path(self.path).read_text(encoding="utf-8"))
        return compile(text, self.path, "exec", dont_inherit=True)


class Finder(importlib.abc.MetaPathFinder):
    """Finds the one module that has the mistake, and no other."""

    def __init__(self, mutation: Mutation) -> None:
        self._mutation = mutation
        parts = Path(mutation.path).with_suffix("").parts
        self._name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """The module's own spec with another loader."""
        if fullname != self._name:
            return None
        file = str(ROOT / self._mutation.path)
        return importlib.util.spec_from_file_location(
            fullname, file, loader=Mistaken(fullname, file, self._mutation)
        )


def nearest_tests(mutation: Mutation, known: Known) -> tuple[list[str], bool]:
    """Its tests: those that were seen to call its function, the cheapest first (True); else those whose text tells of it."""
    own = tuple(mutation.tests.split())
    tests = known.get(mutation.key)
    if mutation.function == "<module>" or not tests:
        tests = sorted(
            {t for name, found in known.items() if name.startswith(f"{mutation.path}:") for t in found}
        )
    mine = [t for _, t in tests if t.startswith(own) and stands(t)]
    if not mine:
        return telling_tests(mutation)[:MOST] or list(own), False
    known_by_name = mutation.function == "<module>"  # a number that a test looks at without a call
    new = [t for t in telling_tests(mutation) if t not in mine and (known_by_name or t not in seen())][:MOST]
    return [*mine[: 2 * MOST], *new], True


def stands(test: str) -> bool:
    """Whether a test that was once seen is still there under its name."""
    file = test.partition("::")[0]
    return (ROOT / file).is_file() and any(test == name for name, _, _ in written_tests(file))


@cache
def written_tests(part: str) -> tuple[tuple[str, frozenset[str], frozenset[str]], ...]:
    """Tests of a file or folder with their own words and those at the top of their file."""
    place = ROOT / part
    found = []
    for file in sorted(place.glob("**/test_*.py")) if place.is_dir() else [place]:
        text = file.read_text(encoding="utf-8")
        tree = ast.parse(text)
        top = " ".join(ast.get_source_segment(text, node) or "" for node in tree.body if not is_test(node))
        for node in tree.body:
            if is_test(node):
                body = ast.get_source_segment(text, node) or ""
                name = f"{file.relative_to(ROOT).as_posix()}::{node.name}"  # type: ignore[attr-defined]
                found.append((name, words_of(body), words_of(top)))
    return tuple(found)


def words_of(text: str) -> frozenset[str]:
    """Words without the underscore that private names begin with."""
    return frozenset(word.lstrip("_") for word in WORD.findall(text))


def is_test(node: ast.stmt) -> bool:
    return isinstance(node, ast.FunctionDef) and node.name.startswith("test_")


def telling_tests(mutation: Mutation) -> list[str]:
    """Tests of its part that name the function, then those that name the module or another function of it, the shortest first."""
    short = mutation.function.rpartition(".")[2].lstrip("_")
    tree = ast.parse((ROOT / mutation.path).read_text(encoding="utf-8"))
    public = {
        n.name for n in tree.body if isinstance(n, (ast.FunctionDef, ast.ClassDef)) and n.name[0] != "_"
    }
    public |= {Path(mutation.path).stem}

    def weight(test: tuple[str, frozenset[str], frozenset[str]]) -> tuple[int, int]:
        _, words, top = test
        score = 4 * (short in words) + 2 * bool(public & words) + bool({short, *public} & top)
        return -score, len(words)

    tests = [t for part in mutation.tests.split() for t in written_tests(part)]
    return [t[0] for t in sorted(tests, key=weight) if weight(t)[0]]


def child(mutation: Mutation, tests: list[str]) -> int:
    """Exit code of pytest with the mistake in the package, in this process."""
    import pytest

    sys.meta_path.insert(0, Finder(mutation))
    os.chdir(ROOT)
    silent = os.open(os.devnull, os.O_RDWR)
    os.dup2(silent, 0)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    resource.setrlimit(resource.RLIMIT_CPU, (int(LIMIT_S), int(LIMIT_S) + 5))
    options = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=0", "--tb=no"]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # what was loaded before the fork
    return int(pytest.main([*options, "-m", "not slow and not browser", *tests]))


def begun(mutation: Mutation, tests: list[str]) -> int:
    """The process in which the tests run with the mistake."""
    pid = os.fork()
    if pid == 0:
        code = BROKEN
        try:
            code = child(mutation, tests)
        finally:
            os._exit(code)
    return pid


def outcomes(chosen: Sequence[Mutation], known: Known, jobs: int) -> Iterator[tuple[Mutation, str]]:
    """Each with ``noticed``, ``no end`` (which a test notices too), ``LIVES`` or ``UNTRIED`` (not within the limit), as they end."""
    waiting = list(reversed(chosen))
    running: dict[int, tuple[Mutation, bool, float]] = {}
    while waiting or running:
        while waiting and len(running) < jobs:
            mutation = waiting.pop()
            tests, cheap = nearest_tests(mutation, known)
            running[begun(mutation, tests)] = mutation, cheap, time.monotonic() + WAIT_S
        for pid, (mutation, cheap, ends) in list(running.items()):
            late = time.monotonic() > ends
            if late:
                os.kill(pid, signal.SIGKILL)
            done, status = os.waitpid(pid, 0 if late else os.WNOHANG)
            if done:
                del running[pid]
                yield mutation, told(status, cheap)
        time.sleep(0.05)


def told(status: int, cheap: bool) -> str:
    """What the end of a process says; tests that are known to be cheap come to no end only because of the mistake."""
    if os.WIFSIGNALED(status):
        return "no end" if cheap else "UNTRIED"
    code = os.waitstatus_to_exitcode(status)
    if code == BROKEN:
        raise RuntimeError("pytest itself failed: nothing was tried")
    # 5: no test ran; 4: a test is gone: neither tells anything
    return "LIVES" if code == 0 else "UNTRIED" if code in (4, 5) else "noticed"


def main() -> int:
    """Draw, try, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sample", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--least", type=float, default=92.0, help="of a hundred")
    parser.add_argument("--only", default="", help="only mutations whose name holds this")
    parser.add_argument("--from", dest="begin", type=int, default=0, help="leave out so many of the sample")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--again", type=Path, help="only those that lived in this output of a run before")
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args()
    reasons, known = may_live(), read()
    chosen = drawn(all_mutations(ROOT), given.sample, given.seed)
    chosen = [m for m in chosen[given.begin :] if given.only in m.name]
    if given.again:
        before = given.again.read_text(encoding="utf-8").splitlines()
        lived = {row[9:].partition("  # ")[0] for row in before if row[:7].strip() in ("LIVES", "UNTRIED")}
        chosen = [m for m in chosen if m.name in lived]
    if given.list:
        print("\n".join(m.name for m in chosen))
        return 0
    for name in HEAVY:
        importlib.import_module(name)
    begin = time.monotonic()
    quick = sorted(chosen, key=lambda m: sum(s for s, _ in known.get(m.key, [(math.inf, "")])))[:CONTROLS]
    unchanged = [dataclasses.replace(m, new=m.old) for m in quick]
    wrong = [m.name for m, found in outcomes(unchanged, known, given.jobs) if found != "LIVES"]
    if wrong:
        print(f"tests fail without any mistake, near {wrong}")
        return 1
    died, without = 0, 0
    for mutation, found in outcomes(chosen, known, given.jobs):
        lives = found in ("LIVES", "UNTRIED")
        died += not lives
        without += lives and mutation.name not in reasons
        why = f"  # {reasons.get(mutation.name, 'no reason given')}" if lives else ""
        print(f"{found:7}  {mutation.name}{why}", flush=True)
    share = 100.0 * died / max(len(chosen), 1)
    minutes = (time.monotonic() - begin) / 60.0
    print(
        f"{died} of {len(chosen)} noticed ({share:.0f} %), {without} live without a reason; {minutes:.1f} min"
    )
    return int(share < given.least or without > 0)


if __name__ == "__main__":
    raise SystemExit(main())
