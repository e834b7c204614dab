"""Numbers a stage decides by stand in its table, with unit, meaning and source; what still stands elsewhere is listed and may only shrink."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any

import pytest

from analyser.findings.thresholds import FINDINGS
from analyser.legs.thresholds import LEGS
from analyser.load.thresholds import LOAD
from analyser.phases.thresholds import PHASES
from analyser.plan.thresholds import PLAN
from analyser.replay.thresholds import REPLAY
from analyser.thresholds import rows

PACKAGE = Path(__file__).resolve().parent.parent / "analyser"
TABLES = {"phases": PHASES, "legs": LEGS, "plan": PLAN, "replay": REPLAY, "findings": FINDINGS, "load": LOAD}
WORDS = re.compile(r"^[A-Z_][A-Z0-9_]*$")

ELSEWHERE = {
    # how finely something is computed, not what is decided
    "phases.air._FIRST",
    "phases.air._DRAWS",
    "phases.air._STEPS",
    "phases.air._WIDER",
    "phases.air._RING_MPS",
    # places of the names in a tuple
    "legs.scores.OUTSIDE",
    "legs.scores.CROSSWIND",
    "legs.scores.FINAL",
    "legs.scores.DETOUR",
    # nothing at all
    "replay.budget.NOWHERE",
    "replay.stations.NOWHERE",
    # by the kind of altitude, from the table
    "legs.turns._SCALE_SD",
}
"""Numbers named at the top of a module of these stages that its table does not hold."""

PLAIN = {0.05, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 90.0, 180.0, 270.0, 360.0}
"""Numbers that need no name in a comparison: what 95 % leave, halves, right angles; and counts up to ten."""


def modules(stage: str) -> list[tuple[str, ast.Module]]:
    found = sorted((PACKAGE / stage).rglob("*.py"))
    return [
        (f"{stage}.{path.stem}", ast.parse(path.read_text(encoding="utf-8")))
        for path in found
        if path.stem != "thresholds"
    ]


def is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def names_of(node: ast.stmt) -> list[str]:
    targets = (
        node.targets
        if isinstance(node, ast.Assign)
        else [node.target]
        if isinstance(node, ast.AnnAssign)
        else []
    )
    parts = [
        part for target in targets for part in (target.elts if isinstance(target, ast.Tuple) else [target])
    ]
    return [part.id for part in parts if isinstance(part, ast.Name) and WORDS.match(part.id)]


def named_numbers(stage: str) -> set[str]:
    """Upper-case names at the top of a module that are given numbers, plain or in a tuple, a dict or a sum."""
    found = set()
    for name, tree in modules(stage):
        for node in tree.body:
            if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
                inside = list(ast.walk(node.value))
                if any(map(is_number, inside)) and not any(
                    isinstance(n, ast.Subscript | ast.JoinedStr) for n in inside
                ):
                    found |= {f"{name}.{one}" for one in names_of(node)}
    return found


def compared_numbers(stage: str) -> list[str]:
    found = []
    for name, tree in modules(stage):
        for node in ast.walk(tree):
            if isinstance(node, ast.Compare):
                for side in (node.left, *node.comparators):
                    value = side.operand if isinstance(side, ast.UnaryOp) else side
                    if isinstance(value, ast.Constant) and is_number(value):
                        number: Any = value.value
                        count = isinstance(number, int) and number <= 10
                        if 1e-3 <= abs(number) and float(abs(number)) not in PLAIN and not count:
                            found.append(f"{name}:{node.lineno} {ast.unparse(node)}")
    return found


@pytest.mark.parametrize("stage", TABLES)
def test_every_number_says_its_unit_what_it_means_and_where_it_comes_from(stage: str) -> None:
    for row in rows(TABLES[stage]):
        assert row.unit, row.name
        assert len(row.meaning.split()) > 1, row.name
        assert row.source, row.name


@pytest.mark.parametrize("stage", TABLES)
def test_every_number_of_a_table_is_read(stage: str) -> None:
    text = "\n".join(p.read_text(encoding="utf-8") for p in PACKAGE.rglob("*.py") if p.stem != "thresholds")
    table = stage.upper()
    assert not {row.name for row in rows(TABLES[stage]) if not re.search(rf"\b{table}\.{row.name}\b", text)}


def test_numbers_named_elsewhere_are_listed_and_become_fewer() -> None:
    found = set().union(*map(named_numbers, TABLES))
    assert not found - ELSEWHERE, "put them into the stage's table, with unit, meaning and source"
    assert not ELSEWHERE - found, "no longer there: take them off the list"


@pytest.mark.parametrize("stage", TABLES)
def test_nothing_is_compared_with_a_bare_number(stage: str) -> None:
    assert not compared_numbers(stage), "name it in the stage's table"
