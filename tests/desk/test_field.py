"""The field's picture on the desk: two clicks in a real browser place it; what is no picture is refused."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import aerial_made as made
import pytest
from browser import WAIT_MS, chromium
from desk_made import TRACK, Client, opened_desk, sha_of

from analyser.report.pictures.aerial import Box, cut_out
from analyser.settings.toml import read_settings

JUMP = f"/jump/{sha_of(TRACK)}-1"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with opened_desk(tmp_path_factory.mktemp("field")) as client:
        client.drop(TRACK.read_bytes(), "first.gpx")
        mark = client.form(JUMP)
        assert client.post(f"{JUMP}/target", mark | {"target": "49.7215,-107.9342"}).status == 200
        yield client


@pytest.mark.slow
@pytest.mark.browser
def test_two_clicks_place_the_picture(desk: Client, tmp_path: Path) -> None:
    made.draw(tmp_path / "field.jpg")
    with chromium() as browser:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        page = context.new_page()
        trouble: list[str] = []
        page.on("console", lambda m: trouble.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: trouble.append(str(e)))
        page.goto(desk.address)
        page.click(".desk-nav a[href='/field']")
        page.wait_for_url("**/field", wait_until="load")
        page.set_input_files("#picture-file", str(tmp_path / "field.jpg"))
        page.wait_for_selector("#aerial")
        page.wait_for_function(
            "() => { const a = document.getElementById('aerial'); return a.complete && a.naturalWidth > 0; }"
        )
        box = page.evaluate(
            "() => { const a = document.getElementById('aerial'), b = a.getBoundingClientRect(); return [b.width / a.naturalWidth, b.height / a.naturalHeight]; }"
        )
        for number, place in ((1, (0.0, 0.0)), (2, (300.0, -200.0))):
            x, y = made.pixel_of(*place)
            page.click("#aerial", position={"x": (x + 0.5) * box[0], "y": (y + 0.5) * box[1]})
            lat, lon = made.place_of(*place)
            page.fill(f"#f-place{number}", f"{lat:.7f}, {lon:.7f}")
        with page.expect_navigation(timeout=WAIT_MS):
            page.click("form[data-post='/field/place'] button")
        assert "A picture lies under the maps" in page.inner_text("main")
        page.goto(f"http://{desk.host}{JUMP}")
        page.wait_for_selector("html[data-drawn=yes]", state="attached", timeout=WAIT_MS)
        images = page.evaluate("() => document.querySelector('[data-figure=plan-view]').layout.images.length")
        assert images == 1
        under = "() => Object.fromEntries([...document.querySelectorAll('.plot[data-figure]')].filter(p => p.layout?.images?.length).map(p => [p.dataset.figure, p.layout.images[0].source]))"
        maps = page.evaluate(under)
        assert {"small-map", "plan-view"} <= set(maps)
        assert len(set(maps.values())) == 1
        shown = "[data-figure=small-map] .layer-below image, [data-figure=small-map] image"
        assert page.locator(shown).first.get_attribute("href").startswith("data:image/")
        page.check("input[name=up][value=wind]")
        turned = "() => document.querySelector('[data-figure=plan-view]').layout.images?.[0]?.source.startsWith('data:image/png')"
        page.wait_for_function(turned)
        assert trouble == []
        context.close()
    folder: Path = desk.desk.folder.path
    written = tomllib.loads((folder / "logbook.toml").read_text(encoding="utf-8"))["site"]["picture"]
    assert len(written["point"]) == 2
    site = f'[site]\n[site.picture]\nfile = "{written["file"]}"\n'
    for point in written["point"]:
        site += f"[[site.picture.point]]\npixel = {point['pixel']}\nplace = {point['place']}\n"
    (folder / "try.toml").write_text(site, encoding="utf-8")
    placed = read_settings([folder / "try.toml"]).site.picture
    assert placed is not None
    cut = cut_out(placed, made.TARGET, Box(-200.0, -200.0, 250.0, 250.0))
    assert cut is not None
    for colour, place in made.MARKS.items():
        assert made.found_at(*cut, colour) == pytest.approx(place, abs=2.5)


def test_what_is_no_picture_is_refused(desk: Client, tmp_path: Path) -> None:
    made.bomb(tmp_path / "bomb.png")
    before = set(desk.desk.folder.path.glob("picture-*"))
    for data, line in (
        (b"hello", "is neither a PNG nor a JPEG picture"),
        (b"\xff\xd8\xff" + b"0" * 500, "the picture can not be used"),
        ((tmp_path / "bomb.png").read_bytes(), "the picture can not be used"),
        (b"", "the file is empty"),
    ):
        answer = desk.post("/field/picture", data)
        assert answer.status == 422
        assert line in answer.json["line"]
        assert ".part" not in answer.json["line"]
    assert set(desk.desk.folder.path.glob("picture-*")) == before
    assert not [p for p in desk.desk.folder.hidden.iterdir() if p.name.endswith(".part")]


def test_no_other_file_is_shown_or_placed(desk: Client) -> None:
    for name in ("first.gpx", "logbook.toml", "..%2fx", "picture-" + "0" * 16 + ".png"):
        assert desk.get(f"/field/picture/{name}").status == 404
        assert desk.get(f"/field?picture={name}").status == 404
    for name in ("first.gpx", "../x.png", ""):
        assert desk.post("/field/place", {"name": name, "pixel1": "1,1"}).status == 400


def test_a_picture_that_is_not_there_is_told(desk: Client) -> None:
    fields = {
        "name": "picture-" + "0" * 16 + ".png",
        "pixel1": "1,1",
        "place1": "1,1",
        "pixel2": "900,1",
        "place2": "1,1.001",
    }
    assert "which is not there" in desk.post("/field/place", fields).json["line"]
    assert "is not clicked yet" in desk.post("/field/place", fields | {"pixel2": ""}).json["line"]
    assert "has no latitude" in desk.post("/field/place", fields | {"place2": ""}).json["line"]
