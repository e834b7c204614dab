"""A sentence of a report stands in one file: equal string literals of four words and more are found in no two."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2] / "analyser"
TELLERS = ("report", "findings", "season", "replay", "score.py", "plan")
LEAST_WORDS = 4


def files() -> list[Path]:
    paths = [PACKAGE / name for name in TELLERS]
    found = sorted(p for path in paths for p in ([path] if path.suffix else path.rglob("*.py")))
    return [
        p for p in found if p.stem != "thresholds"
    ]  # tables of numbers are for developers, no report shows them


def literals(path: Path) -> Iterator[str]:
    """Text literals of a module, pieces of f-strings too, but no docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield " ".join(node.value.split()).strip(" .,:;")


def test_no_sentence_stands_in_two_files() -> None:
    found: dict[str, set[str]] = defaultdict(set)
    for path in files():
        for text in literals(path):
            words = [w for w in text.split() if any(c.isalpha() for c in w)]
            if (
                len(words) >= LEAST_WORDS and "<extra>" not in text
            ):  # what a picture shows of a point is no sentence
                found[text.lower()].add(str(path.relative_to(PACKAGE)))
    twice = {text: sorted(where) for text, where in found.items() if len(where) > 1}
    assert twice == {}


def test_the_search_finds_what_it_should(tmp_path: Path) -> None:
    one = tmp_path / "one.py"
    one.write_text(
        '"""A docstring of five words."""\nx = f"The {1} turn began too low."\ny = "few"\n', encoding="utf-8"
    )
    assert set(literals(one)) == {"The", "turn began too low", "few"}
