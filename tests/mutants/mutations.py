"""Every single mutation of a source text: a sign, an operator, a comparison, an axis or a trigonometric name turned round."""

from __future__ import annotations

import ast
import hashlib
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

__all__ = ["PARTS", "Mutation", "all_mutations", "drawn", "mutations_of"]

PARTS = {
    "analyser/angles.py": "tests/test_foundations.py",
    "analyser/units.py": "tests/test_foundations.py",
    "analyser/atmosphere.py": "tests/test_foundations.py",
    "analyser/frame.py": "tests/test_foundations.py",
    "analyser/flight": "tests/test_flight.py tests/replay/test_budget.py",
    "analyser/compare.py": "tests/test_compare.py",
    "analyser/score.py": "tests/test_score.py",
    "analyser/reach.py": "tests/test_reach.py",
    "analyser/wind": "tests/wind",
    "analyser/legs": "tests/legs",
    "analyser/phases": "tests/phases",
    "analyser/track": "tests/track",
    "analyser/plan": "tests/plan",
    "analyser/replay": "tests/replay",
    "analyser/findings": "tests/findings",
    "analyser/season": "tests/season",
    "analyser/logbook/jump_columns.py": "tests/logbook tests/batch/test_run.py",
    "analyser/report/documents": "tests/report tests/batch/test_run.py",
    "analyser/report/story": "tests/report",
}
"""Where mutations are made → the tests that have to notice."""

_OPERATORS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.Lt: ("<", ">="),
    ast.Gt: (">", "<="),
    ast.LtE: ("<=", ">"),
    ast.GtE: (">=", "<"),
}
_NAMES = {"sin": "cos", "cos": "sin", "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum"}
_AXES = {
    "east": "north",
    "north": "east",
    "along": "across",
    "across": "along",
    "long": "short",
    "left": "right",
}
_AXES |= {"east_m": "north_m", "north_m": "east_m", "along_m": "across_m", "across_m": "along_m"}
_AXES |= {"sd_east_mps": "sd_north_mps", "east_mps": "north_mps", "short": "long", "right": "left"}
_AXES |= {"along_sd_m": "across_sd_m", "across_sd_m": "along_sd_m", "lat": "lon", "lon": "lat"}
_AXES |= {"start_agl_m": "end_agl_m", "end_agl_m": "start_agl_m", "planned": "flown", "flown": "planned"}
_AXES |= {"low": "high", "high": "low", "start": "end", "end": "start"}


@dataclass(frozen=True, slots=True)
class Mutation:
    """``old`` at an offset of a file becomes ``new`` in a function; ``tests`` are those of its own part."""

    path: str
    line: int
    at: int
    old: str
    new: str
    function: str
    source: str
    tests: str

    @property
    def name(self) -> str:
        """How it is called where it may live: it stays the same where other lines of the file change."""
        return f"{self.path}:{self.function}: {self.source}"

    @property
    def key(self) -> str:
        """Function as ``nearest.py`` names it."""
        return f"{self.path}:{self.function}"

    def applied(self, text: str) -> str:
        """The text with the mistake in it."""
        assert text[self.at : self.at + len(self.old)] == self.old
        return text[: self.at] + self.new + text[self.at + len(self.old) :]


def all_mutations(root: Path) -> list[Mutation]:
    """Those of every part, in a fixed order."""
    found: list[Mutation] = []
    for part, tests in PARTS.items():
        files = sorted((root / part).rglob("*.py")) if (root / part).is_dir() else [root / part]
        for file in files:
            text = file.read_text(encoding="utf-8")
            found += mutations_of(text, file.relative_to(root).as_posix(), tests)
    return found


def mutations_of(text: str, path: str, tests: str = "") -> Iterator[Mutation]:
    """Every mutation of one module; annotations and docstrings are left alone."""
    starts = [0]
    for row in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(row))
    rows = text.splitlines()

    def offset(line: int, column: int) -> int:  # columns of ast count bytes
        return starts[line - 1] + len(rows[line - 1].encode()[:column].decode())

    tree = ast.parse(text)
    spans = sorted(_functions(tree), key=lambda span: span[1] - span[0])
    for node in _code(tree):
        for begin, end, old, new in _changes(node, offset):
            at = text.find(old, begin, end)
            if at >= 0:
                line = text.count("\n", 0, at) + 1
                function = next((name for first, last, name in spans if first <= line <= last), "<module>")
                row, column = rows[line - 1], at - starts[line - 1]
                source = f"{row[:column]}[{old} -> {new}]{row[column + len(old) :]}".strip()
                yield Mutation(path, line, at, old, new, function, source, tests)


def drawn(found: Iterable[Mutation], number: int, seed: int) -> list[Mutation]:
    """So many of them, the parts by the roots of their sizes, in an order that hardly changes where the code does."""

    def lot(mutation: Mutation) -> str:
        return hashlib.sha256(f"{seed} {mutation.name}".encode()).hexdigest()

    by_part: dict[str, list[Mutation]] = {}
    for mutation in sorted(found, key=lot):
        part = next(part for part in PARTS if mutation.path.startswith(part))
        by_part.setdefault(part, []).append(mutation)
    turns = [
        ((i + 0.5) / math.sqrt(len(those)), part, i)
        for part, those in by_part.items()
        for i in range(len(those))
    ]
    return [by_part[part][i] for _, part, i in sorted(turns)[:number]]


def _functions(tree: ast.AST, above: str = "") -> Iterator[tuple[int, int, str]]:
    """First line, last line and qualified name of every function."""
    for node in ast.iter_child_nodes(tree):
        name = above
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield node.lineno, node.end_lineno or node.lineno, above + node.name
            name = f"{above}{node.name}.<locals>."
        elif isinstance(node, ast.ClassDef):
            name = f"{above}{node.name}."
        yield from _functions(node, name)


def _code(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.AnnAssign):
            if node.value is not None:
                yield node.value
                yield from _code(node.value)
            continue
        if isinstance(node, (ast.arg, ast.ImportFrom, ast.Import)):
            continue
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            for part in (*node.args.defaults, *node.body):
                yield part
                yield from _code(part)
            continue
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        yield node
        yield from _code(node)


def _changes(node: ast.AST, offset: object) -> Iterator[tuple[int, int, str, str]]:
    place = offset
    assert callable(place)

    def begin(part: ast.expr) -> int:
        return int(place(part.lineno, part.col_offset))

    def end(part: ast.expr) -> int:
        return int(place(part.end_lineno, part.end_col_offset))

    if (
        isinstance(node, ast.BinOp)
        and type(node.op) in _OPERATORS
        and not isinstance(node.left, ast.JoinedStr)
    ):
        yield end(node.left), begin(node.right), *_OPERATORS[type(node.op)]
    elif isinstance(node, ast.Compare) and type(node.ops[0]) in _OPERATORS:
        yield end(node.left), begin(node.comparators[0]), *_OPERATORS[type(node.ops[0])]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield begin(node), begin(node.operand), "-", "+"
    elif isinstance(node, ast.Attribute):
        changed = _NAMES.get(node.attr) or _AXES.get(node.attr)
        if changed:
            yield end(node) - len(node.attr), end(node), node.attr, changed
    elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id in _NAMES:
        yield begin(node), end(node), node.id, _NAMES[node.id]
    elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in _AXES:
        yield begin(node), end(node), node.value, _AXES[node.value]
