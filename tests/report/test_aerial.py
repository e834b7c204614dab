"""An aerial picture under the map: pixels where they belong, small enough, bombs and damage told in one line."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from aerial_made import MARKS, TARGET, bomb, draw, found_at, points, world_lines

from analyser.batch.nameless import nameless_settings
from analyser.debrief import debrief
from analyser.errors import SettingsError
from analyser.flight import Trim
from analyser.frame import LocalFrame
from analyser.load.study import study_load
from analyser.plan.report import report_plan
from analyser.report.page.load_page import render_load
from analyser.report.page.pages import render_comparison, render_page, render_plan
from analyser.report.pictures.aerial import MAX_EMBEDDED, Box, cut_out, lay_under
from analyser.report.pictures.map import map_layout, plan_view
from analyser.report.pictures.spec import displayed
from analyser.settings import Settings, Site, SitePicture
from analyser.settings.toml import parse_settings, read_settings

ROOT = Path(__file__).resolve().parents[2]


def plan(folder: Path, more: str, name: str = "field.jpg") -> SitePicture:
    file = folder / "plan.toml"
    file.write_text(
        f'[site]\ntarget = [{TARGET[0]}, {TARGET[1]}]\n[site.picture]\nfile = "{name}"\n{more}',
        encoding="utf-8",
    )
    found = read_settings([file]).site.picture
    assert found is not None
    return found


@pytest.mark.parametrize("way", ["points", "world", "world named"])
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_every_mark_lies_where_it_was_drawn(tmp_path: Path, way: str, kind: str) -> None:
    name = "field.jpg" if kind == "JPEG" else "field.png"
    draw(tmp_path / name, kind)
    more = ""
    if way == "points":
        more = points((0.0, 0.0), (300.0, -200.0))
    elif way == "world":
        (tmp_path / ("field.jgw" if kind == "JPEG" else "field.pgw")).write_text(world_lines())
    else:
        (tmp_path / "any.wld").write_text(world_lines())
        more = 'world = "any.wld"\n'
    found = cut_out(plan(tmp_path, more, name), TARGET, Box(-200.0, -200.0, 250.0, 250.0))
    assert found is not None
    for colour, place in MARKS.items():
        assert found_at(*found, colour) == pytest.approx(place, abs=1.5)


def test_the_map_of_a_debrief_lies_over_it(tmp_path: Path) -> None:
    draw(tmp_path / "field.jpg")
    plan(tmp_path, points((0.0, 0.0), (300.0, -200.0)))
    jump = debrief(ROOT / "sample_tracks" / "first_light.gpx", read_settings([tmp_path / "plan.toml"]))
    spec = plan_view(jump)
    (image,) = spec["layout"]["images"]
    box = Box(image["x"], image["y"] - image["sizey"], image["x"] + image["sizex"], image["y"])
    assert found_at(image["source"], box, "blue") == pytest.approx((100.0, 0.0), abs=1.5)
    assert image["layer"] == "below"
    feet = displayed(spec, "us")["layout"]["images"][0]
    assert feet["x"] == pytest.approx(image["x"] / 0.3048)
    assert "images" not in displayed(spec, "us", up_deg=30.0)["layout"]
    assert nameless_settings(jump.settings).site.picture is None


def images_of(page: str) -> dict[str, dict[str, object]]:
    """Every picture below a map of a page: figure -> image, as the page carries it."""
    data = re.search(r'id="page-data">(.*?)</script>', page, re.DOTALL)
    assert data is not None
    figures = json.loads(data[1])["figures"]
    return {name: f["layout"]["images"][0] for name, f in figures.items() if f["layout"].get("images")}


@pytest.mark.slow
def test_every_map_of_a_page_lies_over_it_and_it_is_carried_once(tmp_path: Path) -> None:
    draw(tmp_path / "field.jpg")
    picture = plan(tmp_path, points((0.0, 0.0), (300.0, -200.0)))
    sample = read_settings([ROOT / "shared" / "plans" / "first_light.toml"])
    settings = replace(sample, site=replace(sample.site, picture=picture))
    first = debrief(ROOT / "sample_tracks" / "first_light.gpx", settings)
    second = debrief(ROOT / "sample_tracks" / "late_final.gpx", settings)
    trim = Trim(10.0, 4.0, 30.0, 0.0)
    both = report_plan(settings, settings.wind_profile, trim, hands=("left", "right"))
    pages = {
        "jump": (render_page(first), {"small-map", "plan-view", "redrawn"}),
        "two": (render_comparison(first, second), {"both"}),
        "plan": (render_plan(both, settings, trim), {"left", "right"}),
        "load": (render_load(study_load([first, second])), {"plan-view"}),
    }
    for name, (text, maps) in pages.items():
        found = images_of(text)
        assert set(found) == maps, name
        carried = [image["source"] for image in found.values() if not str(image["source"]).startswith("#")]
        assert len(carried) == 1, name
        for image in found.values():
            assert {k: v for k, v in image.items() if k != "source"} == {
                k: v for k, v in next(iter(found.values())).items() if k != "source"
            }, name
        west, north, wide, high = (float(str(found[min(maps)][k])) for k in ("x", "y", "sizex", "sizey"))
        assert found_at(
            str(carried[0]), Box(west, north - high, west + wide, north), "blue"
        ) == pytest.approx((100.0, 0.0), abs=1.5), name


def test_jumps_at_two_fields_lie_over_no_picture(tmp_path: Path) -> None:
    draw(tmp_path / "field.jpg")
    picture = plan(tmp_path, points((0.0, 0.0), (300.0, -200.0)))
    settings = replace(Settings(), site=replace(Settings().site, target=TARGET, picture=picture))
    here = debrief(ROOT / "sample_tracks" / "first_light.gpx", settings)
    text = (ROOT / "sample_tracks" / "first_light.gpx").read_text(encoding="utf-8")
    (tmp_path / "moved.gpx").write_text(text.replace('lat="49.', 'lat="50.'), encoding="utf-8")
    there = debrief(tmp_path / "moved.gpx", replace(settings, site=Site()))
    assert images_of(render_comparison(here, here))
    assert not images_of(render_comparison(here, there))


def test_what_goes_into_a_page_is_small(tmp_path: Path) -> None:
    draw(tmp_path / "field.png", "PNG", noise=True)
    found = cut_out(
        plan(tmp_path, points((0.0, 0.0), (300.0, -200.0)), "field.png"), TARGET, Box(-500, -500, 500, 500)
    )
    assert found is not None
    assert len(found[0]) <= MAX_EMBEDDED
    assert (tmp_path / "field.png").stat().st_size > 1_000_000


def test_a_picture_of_another_field_is_left_out(tmp_path: Path) -> None:
    draw(tmp_path / "field.jpg")
    picture = plan(tmp_path, points((0.0, 0.0), (300.0, -200.0)))
    assert cut_out(picture, (47.0, 8.0), Box(-500, -500, 500, 500)) is None


def test_bombs_and_damage_are_one_line_and_cost_no_debrief(tmp_path: Path) -> None:
    where = points((0.0, 0.0), (300.0, -200.0))
    bomb(tmp_path / "bomb.png")
    whole = draw(tmp_path / "whole.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "noise.jpg").write_bytes(b"\xff\xd8\xff" + bytes(range(256)) * 20)
    for name in ("bomb.png", "cut.jpg", "noise.jpg"):
        picture = plan(tmp_path, where, name)
        with pytest.raises(SettingsError, match="the picture can not be used") as caught:
            cut_out(picture, TARGET, Box(-200, -200, 200, 200))
        assert "\n" not in str(caught.value)
        spec = {"data": [], "layout": map_layout({"pattern": [[0.0, 0.0], [100.0, 100.0]]})}
        laid = lay_under(spec, picture, LocalFrame(*TARGET))
        assert "images" not in laid["layout"]
        assert "can not be used" in laid["layout"]["annotations"][0]["text"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "site.picture has no file"),
        ('file = "none.jpg"', 'names "none.jpg", which is not there'),
        ('file = "text.jpg"', "is neither a PNG nor a JPEG picture"),
        ('file = "field.jpg"', "site.picture is not placed; put a world file beside it (field.jgw)"),
        ('file = "field.jpg"\nworld = "short.wld"', "a world file holds six numbers"),
        ('file = "field.jpg"\nworld = "metres.wld"', "is not in degrees of longitude and latitude"),
        ('file = "field.jpg"\nworld = "huge.wld"', "a pixel of the picture would be"),
        (
            'file = "field.jpg"\n[[site.picture.point]]\npixel = [1, 2]\nplace = [1, 2]',
            "needs two points, not 1",
        ),
        (
            'file = "field.jpg"\n[[site.picture.point]]\npixel = [1, 2]\nplace = [1, 2]\n[[site.picture.point]]\npixel = [3, 4]\nplace = [1, 2.001]',
            "less than 20 pixels apart",
        ),
        (
            'file = "field.jpg"\n[[site.picture.point]]\npixel = [1, 2]\nplace = [1, 2]\n[[site.picture.point]]\npixel = [300, 4]\nplace = [1, 2.9]',
            "a pixel of the picture would be",
        ),
        (
            'file = "field.jpg"\n[[site.picture.point]]\npixel = [1]\nplace = [1, 2]',
            "must be [column, row] of a pixel",
        ),
        (
            'file = "field.jpg"\n[[site.picture.point]]\npixel = [-1, 5]\nplace = [1, 2]',
            "is no pixel of a picture",
        ),
        ('file = "field.jpg"\nsize = 3', "unknown key site.picture.size"),
    ],
)
def test_a_mistake_is_told_with_its_key(tmp_path: Path, text: str, line: str) -> None:
    draw(tmp_path / "field.jpg")
    (tmp_path / "text.jpg").write_text("hello")
    (tmp_path / "short.wld").write_text("1 2 3")
    (tmp_path / "metres.wld").write_text("0.5\n0\n0\n-0.5\n448000\n5461000\n")
    (tmp_path / "huge.wld").write_text("0.01\n0\n0\n-0.01\n-107\n49\n")
    file = tmp_path / "plan.toml"
    file.write_text(f"[site.picture]\n{text}\n", encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_settings([file])
    assert line in str(caught.value)


def test_a_picture_may_not_stand_outside_its_table() -> None:
    with pytest.raises(SettingsError, match=r"site\.picture must be a table"):
        parse_settings("[site]\npicture = 3\n")
