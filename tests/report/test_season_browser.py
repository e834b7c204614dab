"""The season's and the coach's page in a real browser: drawn at every width, light and dark, asking nothing; points lead on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import WAIT_MS, Watched, chromium, cut_off, opened
from season_made import fill, season

from analyser.logbook import Logbook
from analyser.report.page.season_pages import render_coach, render_season
from analyser.season.summarise import summarise

pytestmark = pytest.mark.browser

COUNTS = "() => [...document.querySelectorAll('.plot')].map(p => p.querySelectorAll('.main-svg .trace path').length)"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season's page that links to one other page, and the coach's page."""
    folder = tmp_path_factory.mktemp("season pages")
    rows = season(3, 24)
    fill(folder / "logbook.sqlite", {name: rows[name] for name in ("Ada Low", "Cy Swap")})
    (folder / "jump.html").write_text("<!DOCTYPE html><title>One jump</title>", encoding="utf-8")
    with Logbook(folder / "logbook.sqlite") as logbook:
        found = summarise(logbook)
        page = render_season(logbook, found, link=lambda sha, jump: "jump.html")
        (folder / "season.html").write_text(page, encoding="utf-8")
        (folder / "coach.html").write_text(render_coach(found), encoding="utf-8")
    return folder


def sound(seen: Watched, file: Path) -> None:
    """Nothing complained, nothing asked for but the file, every picture drawn, no sideways scrolling."""
    assert seen.complaints == []
    assert {r for r in seen.requests if not r.startswith(("data:", "blob:"))} == {file.as_uri()}
    assert all(count > 0 for count in seen.page.evaluate(COUNTS))
    assert seen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1600, "light")])
@pytest.mark.parametrize("name", ["season.html", "coach.html"])
def test_pages_draw_and_ask_for_nothing(
    browser: Any, pages: Path, name: str, width: int, scheme: str
) -> None:
    with opened(browser, pages / name, width=width, scheme=scheme) as seen:
        sound(seen, pages / name)
        if name == "season.html":
            assert len(seen.page.evaluate(COUNTS)) == 12


def test_units_change_in_words_and_pictures(browser: Any, pages: Path) -> None:
    with opened(browser, pages / "season.html") as seen:
        seen.page.select_option("select[name=units]", "us")
        seen.drawn()
        text = seen.page.inner_text("#jumper-1")
        assert " mph" in text
        assert " kt" not in text
        title = seen.page.evaluate(
            "document.querySelector('[data-figure=over-wind-1]').layout.xaxis.title.text"
        )
        assert "[mph]" in title


def test_a_point_leads_to_its_debrief(browser: Any, pages: Path) -> None:
    with opened(browser, pages / "season.html") as seen:
        picture = seen.page.locator("[data-figure=over-time-1]")
        picture.scroll_into_view_if_needed()
        point = picture.locator(".scatterlayer .points path").nth(5)
        box = point.bounding_box()
        seen.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        seen.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        seen.page.wait_for_url("**/jump.html", timeout=WAIT_MS)
        assert seen.page.title() == "One jump"


@pytest.mark.parametrize("width", [390, 1400])
@pytest.mark.parametrize("name", ["season.html", "coach.html"])
def test_no_table_is_cut_off(browser: Any, pages: Path, name: str, width: int) -> None:
    with opened(browser, pages / name, width=width) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        assert cut_off(seen) == []
        if name == "coach.html" and width == 390:
            label = "getComputedStyle(document.querySelector('.stacked td'), '::before').content"
            assert seen.page.evaluate(label) == '"jumps"'


def test_the_links_work_without_scripts_too(browser: Any, pages: Path) -> None:
    context = browser.new_context(java_script_enabled=False, offline=True)
    page = context.new_page()
    page.goto((pages / "season.html").as_uri())
    page.get_by_text("All jumps").first.click()
    page.locator("#jumper-1 details a").first.click()
    assert page.title() == "One jump"
    context.close()
