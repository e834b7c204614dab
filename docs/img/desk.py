"""Draws the desk's pictures from invented jumps: ``python docs/img/desk.py`` (needs playwright and a Chromium)."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from browser import chromium  # noqa: E402
from desk_made import TRACK, opened_desk, sha_of  # noqa: E402

JUMP = f"/jump/{sha_of(TRACK)}-1"
PLAN = "/plan?site=Quillmere+Field&canopy=Curlew+260&airspeed=17&sink=7&downwind=1000&base=600&final=300&wind=0&wind=5&wind=300"
SHOTS = (("desk-start.png", "/", 760), ("desk-jump.png", JUMP, 900), ("desk-plan.png", PLAN, 900))


def main() -> None:
    """The pictures, beside this file."""
    with tempfile.TemporaryDirectory() as place, opened_desk(Path(place) / "tracks") as desk:
        for name in ("first_light.gpx", "long_spot.gpx", "late_final.gpx"):
            desk.drop((TRACK.parent / name).read_bytes(), name, jumper="Ilka Norn", canopy="Curlew 260", site="Quillmere Field")
        desk.post(f"{JUMP}/target", desk.form(JUMP) | {"target": "49.7215,-107.9342"})
        with chromium() as browser:
            page = browser.new_context(viewport={"width": 1100, "height": 900}).new_page()
            page.goto(desk.address)
            for name, path, height in SHOTS:
                page.set_viewport_size({"width": 1100, "height": height})
                page.goto(f"http://{desk.host}{path}")
                page.wait_for_selector("html[data-drawn=yes]", state="attached")
                for part in page.query_selector_all(".changed details"):
                    part.evaluate("d => { d.open = false; }")
                page.wait_for_timeout(300)
                page.screenshot(path=str(Path(__file__).parent / name))


if __name__ == "__main__":
    main()
