"""The talk sheet in a real browser: phone and desk, light and dark, on paper, for a keyboard and a listener; its drawings at one scale."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import Watched, axe_source, chromium, cut_off, opened

from analyser.batch.run import run_season
from analyser.logbook import Logbook
from analyser.report.page.season_pages import render_coach, render_talk

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
NAMES = ("s_turns", "steady_breeze", "strong_wind", "veering")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four sample jumps as those of one pupil, with a talk after the first; the sheet and the coach's page that leads to it."""
    top = tmp_path_factory.mktemp("talks")
    tracks = top / "tracks"
    tracks.mkdir()
    text = '[jumper]\nname = "Ilka Norn"\n[[talk]]\ndate = 2020-01-01\nagreed = "straight early"\nabout = "short finals"\n'
    for name in NAMES:
        shutil.copy(next((ROOT / "sample_tracks").glob(f"{name}.[gf]*")), tracks)
        plan = ROOT / "shared" / "plans" / f"{name}.toml"
        if plan.is_file():
            shutil.copy(plan, tracks)
            file = next(tracks.glob(f"{name}.[gf]*")).name
            text += f'[[jump]]\nfile = "{file}"\njumper = "Ilka Norn"\nplan = "{name}.toml"\n'
    (tracks / "logbook.toml").write_text(text, encoding="utf-8")
    found = run_season([tracks], jobs=1)
    with Logbook(found.logbook) as book:
        (top / "talk.html").write_text(render_talk(book, found.season, 1), encoding="utf-8")
        coach = render_coach(found.season, sheets=lambda number: "talk.html")
    (top / "coach.html").write_text(coach, encoding="utf-8")
    return top


def sound(seen: Watched, file: Path) -> None:
    """Nothing complained, nothing asked for but the file, nothing wider than the window."""
    assert seen.complaints == []
    assert {r for r in seen.requests if not r.startswith(("data:", "blob:"))} == {file.as_uri()}
    assert seen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert cut_off(seen) == []


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
@pytest.mark.parametrize("name", ["talk.html", "coach.html"])
def test_the_pages_are_whole_at_both_widths(
    browser: Any, folder: Path, name: str, width: int, scheme: str
) -> None:
    with opened(browser, folder / name, width=width, scheme=scheme) as seen:
        sound(seen, folder / name)
        seen.page.evaluate(axe_source())
        found = seen.page.evaluate("() => axe.run()")
        assert [(v["id"], v["nodes"][0]["html"]) for v in found["violations"]] == []


def test_the_flights_are_drawn_at_one_scale(browser: Any, folder: Path) -> None:
    with opened(browser, folder / "talk.html", width=1280) as seen:
        boxes = seen.page.evaluate(
            "() => [...document.querySelectorAll('.drawings svg')].map(s => [s.viewBox.baseVal.width, s.viewBox.baseVal.height, "
            "s.getBoundingClientRect().width, s.getBoundingClientRect().height])"
        )
        assert len(boxes) >= 3
        for box in boxes:
            assert box == pytest.approx(boxes[0], rel=0.01)
            assert box[2] > 100
        inside = seen.page.evaluate(
            "() => [...document.querySelectorAll('.drawings svg')].every(s => [...s.querySelectorAll('circle.landing')].length === 1 && "
            "s.getAttribute('aria-label').length > 10)"
        )
        assert inside


def test_it_prints_on_two_sheets_at_most_with_room_to_write(browser: Any, folder: Path) -> None:
    with opened(browser, folder / "talk.html") as seen:
        pdf = seen.page.pdf(format="A4", prefer_css_page_size=True, print_background=True)
        assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2
        seen.page.emulate_media(media="print")
        heights = seen.page.evaluate(
            "() => [...document.querySelectorAll('.write')].map(p => p.getBoundingClientRect().height)"
        )
        assert len(heights) == 2
        assert min(heights) > 30
        assert seen.page.locator(".drawings svg").first.is_visible()
        notes = seen.page.locator(".drawings figcaption:last-child")
        assert re.search(r"\d+ m (long|short), \d+ m (left|right)", notes.first.inner_text())


def test_the_coach_leads_to_the_sheet_by_keyboard(browser: Any, folder: Path) -> None:
    with opened(browser, folder / "coach.html", width=390) as seen:
        link = seen.page.locator("main table a").first
        link.focus()
        seen.page.keyboard.press("Enter")
        seen.page.wait_for_selector("h1:has-text('Talk with Ilka Norn')")
        assert seen.page.url.endswith("talk.html")
