"""The public names: each documented, with its arguments; every example in the documents and in the docstrings of the foundations runs."""

from __future__ import annotations

import dataclasses
import doctest
import inspect
import re
from pathlib import Path
from types import ModuleType

import pytest

from analyser import angles, api, atmosphere, frame, units

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
SECTIONS = {
    found[1]: found[0] for found in re.finditer(r"^### `(\w+).*?(?=^##|\Z)", PAGE, re.MULTILINE | re.DOTALL)
}
FUNCTIONS = [n for n in api.__all__ if inspect.isfunction(getattr(api, n))]
FLAGS = doctest.ELLIPSIS


def examples(page: str) -> list[str]:
    """The ``pycon`` blocks of a page."""
    return re.findall(r"```pycon\n(.*?)```", page, re.DOTALL)


def failures(text: str, name: str) -> int:
    test = doctest.DocTestParser().get_doctest(text, {}, name, None, None)
    assert test.examples
    return doctest.DocTestRunner(optionflags=FLAGS).run(test).failed


def test_the_page_documents_exactly_the_public_names() -> None:
    assert set(SECTIONS) == set(api.__all__)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_argument_is_explained(name: str) -> None:
    title, text = SECTIONS[name].split("\n", 1)
    for parameter in inspect.signature(getattr(api, name)).parameters:
        assert re.search(rf"\b{parameter}\b", title), f"{name} has an argument {parameter}"
    optional = [
        p.name for p in inspect.signature(getattr(api, name)).parameters.values() if p.default is not p.empty
    ]
    for parameter in optional:
        assert f"`{parameter}`" in text, f"{name}: {parameter} is not explained"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_defaults_in_the_titles_are_the_real_ones(name: str) -> None:
    title = SECTIONS[name].split("\n", 1)[0]
    for parameter in inspect.signature(getattr(api, name)).parameters.values():
        simple = isinstance(parameter.default, (str, int, float, bool, tuple, type(None)))
        if parameter.default is not parameter.empty and simple:
            assert f"{parameter.name}={parameter.default!r}".replace("'", '"') in title, title


@pytest.mark.parametrize(
    "kind", [api.Debrief, api.Settings, api.Site, api.Canopy, api.PatternSetup, api.WindProfile]
)
def test_every_field_is_explained(kind: type) -> None:
    for field in dataclasses.fields(kind):  # type: ignore[arg-type]
        assert f"`{field.name}`" in SECTIONS[kind.__name__], f"{kind.__name__}.{field.name}"


@pytest.mark.parametrize("name", api.__all__)
def test_every_public_name_has_a_docstring(name: str) -> None:
    assert inspect.getdoc(getattr(api, name))


def test_the_examples_of_the_page_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert failures("\n".join(examples(PAGE)), "docs/api.md") == 0


@pytest.mark.parametrize("module", [angles, atmosphere, frame, units], ids=lambda m: m.__name__)
def test_the_examples_of_the_foundations_run(module: ModuleType) -> None:
    ran = doctest.testmod(module, optionflags=FLAGS)
    assert ran.attempted > 0
    assert ran.failed == 0
