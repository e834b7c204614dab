"""The mutations themselves: each is one change that still parses, and there are enough of them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from mutants.mutations import PARTS, all_mutations, mutations_of
from mutants.run import may_live, nearest_tests

ROOT = Path(__file__).resolve().parents[2]

TEXT = '''"""A sum of - and +."""
def f(east: float = -1.0, *, north: float) -> float:
    """Not a - b."""
    return math.sin(east) - min(east, north) if east < north else row["along_m"]
'''


def test_each_kind_of_change_is_found_once_and_words_are_left_alone() -> None:
    found = {
        (m.old, m.new): m.applied(TEXT).splitlines()[3 if m.line == 4 else 1]
        for m in mutations_of(TEXT, "f.py")
    }
    assert set(found) == {
        ("-", "+"), ("sin", "cos"), ("min", "max"), ("<", ">="), ("along_m", "across_m"),
    }  # fmt: skip
    assert found["<", ">="].endswith('if east >= north else row["along_m"]')
    assert "math.cos(east) - min" in found["sin", "cos"]


@pytest.mark.slow
def test_there_are_more_than_two_hundred_and_each_is_another_program() -> None:
    found = all_mutations(ROOT)
    assert len(found) >= 200
    assert {path for m in found for path in PARTS if m.path.startswith(path)} >= set(PARTS) - {
        "analyser/units.py"
    }
    for mutation in found[:: max(1, len(found) // 100)]:
        text = (ROOT / mutation.path).read_text(encoding="utf-8")
        assert ast.dump(ast.parse(mutation.applied(text))) != ast.dump(ast.parse(text)), mutation.name
        assert all((ROOT / tests).exists() for tests in mutation.tests.split())


def test_what_may_live_has_a_reason() -> None:
    assert all(reason.strip() for reason in may_live().values())


def test_a_test_that_has_another_name_by_now_is_not_asked_for() -> None:
    """Pytest would run none at all where one of its arguments is gone."""
    text = (ROOT / "analyser/score.py").read_text(encoding="utf-8")
    found_in = mutations_of(text, "analyser/score.py", "tests/test_score.py")
    mutation = next(m for m in found_in if m.function == "judge")
    there, gone = (f"tests/test_score.py::{name}" for name in ("test_rings", "test_of_yesterday"))
    found, known = nearest_tests(mutation, {mutation.key: [(0.1, gone), (0.2, there)]})
    assert known
    assert found[0] == there
    assert gone not in found
