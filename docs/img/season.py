"""Draws season.png and coach.png from the invented club: ``python docs/img/season.py`` (needs playwright and a Chromium)."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from browser import chromium  # noqa: E402

from analyser.batch.run import run_season  # noqa: E402
from analyser.logbook import Logbook  # noqa: E402
from analyser.report.page.season_pages import render_coach, render_season  # noqa: E402
from analyser.synthetic.season import write_season  # noqa: E402

SEED, JUMPS = 1, 12


def main() -> None:
    """Both pictures, beside this file."""
    with tempfile.TemporaryDirectory() as place, chromium() as browser:
        folder = Path(place)
        write_season(folder / "club", SEED, JUMPS)
        result = run_season([folder / "club"], jobs=1)
        with Logbook(result.logbook) as book:
            texts = {
                "season": render_season(book, result.season, units="uk"),
                "coach": render_coach(result.season, units="uk"),
            }
        for name, text in texts.items():
            file = folder / f"{name}.html"
            file.write_text(text, encoding="utf-8")
            page = browser.new_context(viewport={"width": 1200, "height": 1000}).new_page()
            page.goto(file.as_uri())
            if "data-drawn" in text:
                page.wait_for_selector("html[data-drawn=yes]", state="attached", timeout=300_000)
            page.screenshot(path=str(Path(__file__).parent / f"{name}.png"))


if __name__ == "__main__":
    main()
