"""Draws page.png and page-phone.png from the demo track: ``python docs/img/draw.py`` (needs playwright and a Chromium)."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from browser import chromium, opened  # noqa: E402

from analyser.debrief import debrief  # noqa: E402
from analyser.report.page.pages import render_page  # noqa: E402
from analyser.settings.toml import read_settings  # noqa: E402

SAMPLE = "late_final"
MOVE = "f => { const n = document.getElementById('moment'); n.value = Math.round(n.max * f); n.dispatchEvent(new Event('input')) }"
SHOTS = (("page.png", 1440, 1150, "light", "gates"), ("page-phone.png", 390, 844, "dark", "story"))


def main() -> None:
    """Both pictures, beside this file."""
    settings = read_settings([ROOT / "shared" / "plans" / f"{SAMPLE}.toml"])
    made = render_page(debrief(ROOT / "sample_tracks" / f"{SAMPLE}.gpx", settings), units="uk")
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        file = Path(folder) / "page.html"
        file.write_text(made, encoding="utf-8")
        for name, width, height, scheme, chapter in SHOTS:
            with opened(browser, file, width=width, scheme=scheme) as seen:
                seen.page.set_viewport_size({"width": width, "height": height})
                seen.page.evaluate(MOVE, 0.93)
                target = f"#{chapter}"
                seen.page.evaluate("s => document.querySelector(s).scrollIntoView()", target)
                seen.page.screenshot(path=str(Path(__file__).parent / name))


if __name__ == "__main__":
    main()
