"""Draws the desk's pictures from invented jumps: ``python docs/img/desk.py`` (needs playwright, a Chromium and Pillow)."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402
from aerial_made import pixel_of, place_of  # noqa: E402
from browser import chromium  # noqa: E402
from desk_made import TRACK, Client, opened_desk, sha_of  # noqa: E402
from PIL import Image, ImageDraw, ImageFilter  # noqa: E402

from analyser.synthetic.season import write_season  # noqa: E402

JUMP = f"/jump/{sha_of(TRACK)}-1"
PLAN = "/plan?site=Quillmere+Field&canopy=Curlew+260&airspeed=17&sink=7&downwind=1000&base=600&final=300&wind=0&wind=5&wind=300"
SHOTS = (
    ("desk-start.png", "/", 760),
    ("desk-jump.png", JUMP, 900),
    ("desk-plan.png", PLAN, 1010),
)
CORNERS = ((-420.0, 150.0), (345.0, -180.0))  # of the strip
MEADOWS = ("#8aa05c", "#a3a866", "#6f8f52", "#b9b27a", "#7d9858", "#94a564")


def aerial(path: Path) -> None:
    """An invented field from above, turned and scaled as tests/aerial_made.py says: meadows, a strip, a road, two roofs."""
    image = Image.new("RGB", (1600, 1200), MEADOWS[0])
    pen = ImageDraw.Draw(image)
    dice = np.random.default_rng(17)
    for east in range(-900, 1300, 260):
        for north in range(-1100, 900, 210):
            shift = dice.uniform(-60, 60, 2)
            corners = [
                (east, north),
                (east + 250, north + 20),
                (east + 245, north + 200),
                (east - 5, north + 185),
            ]
            colour = MEADOWS[int(dice.integers(len(MEADOWS)))]
            pen.polygon([pixel_of(e + shift[0], n + shift[1]) for e, n in corners], fill=colour)
    strip = [(-420, 150), (-405, 185), (345, -180), (330, -215)]
    pen.polygon([pixel_of(e, n) for e, n in strip], fill="#9d9a8c")
    pen.line(
        [pixel_of(e, n) for e, n in ((-900, -330), (-200, -310), (300, -420), (1100, -380))],
        fill="#cfc8b4",
        width=9,
    )
    for east, north in ((60, 110), (120, 80)):
        roof = [(east, north), (east + 38, north - 18), (east + 26, north - 42), (east - 12, north - 24)]
        pen.polygon([pixel_of(e, n) for e, n in roof], fill="#b45f4a")
    image = image.filter(ImageFilter.GaussianBlur(1.2))
    grain = dice.normal(0, 2, (1200, 1600, 1))
    Image.fromarray(np.clip(np.asarray(image) + grain, 0, 255).astype(np.uint8)).save(path, quality=88)


def main() -> None:
    """The pictures, beside this file."""
    with tempfile.TemporaryDirectory() as place, chromium() as browser:
        page = browser.new_context(viewport={"width": 1100, "height": 900}).new_page()
        with opened_desk(Path(place) / "tracks") as desk:
            evening(desk, page, Path(place))
        write_season(Path(place) / "club", 4, 12)
        with opened_desk(Path(place) / "club") as desk:
            desk.settle()
            page.goto(desk.address)
            shoot(desk, page, "desk-coach.png", "/coach", 820)


def evening(desk: Client, page: object, place: Path) -> None:
    """A jumper's pictures, and the placing of the field's."""
    for name in ("first_light.gpx", "long_spot.gpx", "late_final.gpx"):
        desk.drop(
            (TRACK.parent / name).read_bytes(),
            name,
            jumper="Ilka Norn",
            canopy="Curlew 260",
            site="Quillmere Field",
        )
    desk.post(f"{JUMP}/target", desk.form(JUMP) | {"target": "49.7215,-107.9342"})
    page.goto(desk.address)
    aerial(place / "field.jpg")
    placing = desk.post("/field/picture", (place / "field.jpg").read_bytes()).json["go"]
    shoot(desk, page, "desk-field.png", placing, 1240, places=True)
    with page.expect_navigation(timeout=300_000):
        page.click("form[data-post='/field/place'] button")
    for name, path, height in SHOTS:
        shoot(desk, page, name, path, height)


def shoot(desk: Client, page: object, name: str, path: str, height: int, *, places: bool = False) -> None:
    """One picture; with ``places`` the two of the aerial picture are clicked first."""
    page.set_viewport_size({"width": 1280 if name == "desk-plan.png" else 1100, "height": height})
    page.goto(f"http://{desk.host}{path}")
    page.wait_for_selector("html[data-drawn=yes]", state="attached")
    for number, spot in enumerate(CORNERS if places else (), 1):
        page.wait_for_function("document.getElementById('aerial').naturalWidth > 0")
        scale = page.evaluate(
            "document.getElementById('aerial').clientWidth / document.getElementById('aerial').naturalWidth"
        )
        x, y = pixel_of(*spot)
        page.click("#aerial", position={"x": (x + 0.5) * scale, "y": (y + 0.5) * scale})
        lat, lon = place_of(*spot)
        page.fill(f"#f-place{number}", f"{lat:.6f}, {lon:.6f}")
    for part in page.query_selector_all(".changed details"):
        part.evaluate("d => { d.open = false; }")
    page.evaluate("window.scrollTo(0, 0)")
    page.wait_for_timeout(300)
    page.screenshot(path=str(Path(__file__).parent / name))


if __name__ == "__main__":
    main()
