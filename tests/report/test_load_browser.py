"""The page of a load in a real browser: drawn at both widths, asking nothing, readable by a machine, one slider for all, by keys."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import axe_source, chromium, cut_off, opened
from worlds.loads import make_load

from analyser.debrief import begin_every
from analyser.load.study import Load, study_load
from analyser.report.page.load_page import render_load

pytestmark = pytest.mark.browser

MARKS = "() => [...document.querySelectorAll('.follow .mark-no')].map(n => n.textContent)"
PLACES = "() => [...document.querySelectorAll('.follow .mark')].map(n => n.getAttribute('cx') + ' ' + n.getAttribute('cy'))"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def load() -> Load:
    return study_load([begin_every(jump.recording)[0] for jump in make_load(825003, 4, cut_share=0.0).jumps])


@pytest.fixture(scope="module")
def page(load: Load, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("load") / "load.html"
    file.write_text(render_load(load), encoding="utf-8")
    return file


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_drawn_accessible_and_alone(browser: Any, page: Path, width: int, scheme: str) -> None:
    axe = axe_source()
    with opened(browser, page, width=width, scheme=scheme) as seen:
        assert seen.complaints == []
        assert {r for r in seen.requests if not r.startswith(("data:", "blob:"))} == {page.as_uri()}
        assert seen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        assert cut_off(seen) == []
        assert len(seen.page.query_selector_all(".plot .main-svg")) >= 3
        seen.page.evaluate(axe)
        found = seen.page.evaluate("() => axe.run({exclude: ['.main-svg']})")
        assert len(found["passes"]) > 15
        assert [v["id"] for v in found["violations"] if v["impact"] in ("serious", "critical")] == []


def test_one_slider_moves_everybody_by_keys(browser: Any, page: Path, load: Load) -> None:
    with opened(browser, page, width=1280) as seen:
        seen.page.focus("#moment")
        flying = set(seen.page.evaluate(MARKS))
        assert flying <= {str(k + 1) for k in range(len(load.flights))}
        assert len(flying) >= 2
        before, told = seen.page.evaluate(PLACES), seen.page.inner_text("#readout")
        for _ in range(5):
            seen.page.keyboard.press("ArrowLeft")
        assert seen.page.evaluate(PLACES) != before
        assert seen.page.inner_text("#readout") != told
        seen.page.keyboard.press("End")
        assert seen.page.evaluate(
            "document.getElementById('moment').value === document.getElementById('moment').max"
        )
        seen.page.focus("#play")
        seen.page.keyboard.press("Enter")
        seen.page.wait_for_selector("#play[aria-pressed=true]")
        seen.page.keyboard.press("Enter")
        seen.page.wait_for_selector("#play[aria-pressed=false]")


def test_units_change_every_number_and_mark(browser: Any, page: Path) -> None:
    with opened(browser, page, width=1280) as seen:
        assert " ft" in seen.page.inner_text("#readout")
        seen.page.select_option("[name=units]", "metric")
        seen.drawn()
        assert " ft" not in seen.page.inner_text("#readout")
        assert "ft" not in seen.page.inner_text("#near .table")
        assert len(seen.page.evaluate(MARKS)) >= 2


def test_paper_holds_it_on_few_sheets(browser: Any, page: Path) -> None:
    with opened(browser, page, width=1280) as seen:
        sheets = seen.page.pdf(format="A4").count(b"/Type /Page\n")
    assert 1 <= sheets <= 4
