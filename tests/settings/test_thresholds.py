"""Every threshold that `method` promises is read by some stage, and one name means one thing."""

from __future__ import annotations

import ast
from dataclasses import fields
from pathlib import Path

from analyser.method_rows import entries
from analyser.settings import Method
from analyser.wind.priors import Priors

PACKAGE = Path(__file__).resolve().parents[2] / "analyser"
TELLING = ("report", "cli", "settings")


def read_attributes() -> set[str]:
    """The names of all attributes read anywhere that computes."""
    found: set[str] = set()
    for path in PACKAGE.rglob("*.py"):
        if path.relative_to(PACKAGE).parts[0] not in TELLING:
            tree = ast.parse(path.read_text(encoding="utf-8"))
            found |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return found


def test_every_threshold_is_read() -> None:
    assert {f.name for f in fields(Method)} - read_attributes() == set()


def test_every_entry_of_the_method_has_a_name_of_its_own_a_unit_and_a_source() -> None:
    found = list(entries(Method()))
    assert len({(e.stage, e.name) for e in found}) == len({e.name for e in found}) == len(found)
    assert all(e.unit and len(e.source) > 3 for e in found)
    assert {e.name for e in found} == {f.name for f in (*fields(Method), *fields(Priors))}


def test_every_prior_of_the_wind_is_read() -> None:
    assert {f.name for f in fields(Priors)} - read_attributes() == set()


def test_no_threshold_goes_by_the_name_of_a_prior_of_the_wind() -> None:
    assert {f.name for f in fields(Method)} & {f.name for f in fields(Priors)} == set()
