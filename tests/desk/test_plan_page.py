"""The plan page: what the folder, a known field and a measured canopy bring, drawn as the command draws it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import aerial_made as made
import pytest
from console_blocks import run
from desk_made import TRACK, Client, opened_desk, sha_of

from analyser.plan.ahead import plan_ahead
from analyser.plan.usual import usual_speeds
from analyser.settings.toml import parse_settings

JUMP = f"/jump/{sha_of(TRACK)}-1"
TYPED = "&downwind=1000&base=600&final=300&wind=0&wind=5&wind=300"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    folder: Path = tmp_path_factory.mktemp("ahead")
    made.draw(folder / "field.jpg")
    picture = made.points((0.0, 0.0), (300.0, -200.0))
    text = '[site]\nname = "Quillmere Field"\nelevation_m = 700\n[site.picture]\nfile = "field.jpg"\n'
    (folder / "logbook.toml").write_text(
        f"{text}{picture}[pattern]\ncrosswind_ft = 1300\ndownwind_ft = 900\nbase_ft = 500\nfinal_ft = 250\n",
        encoding="utf-8",
    )
    with opened_desk(folder) as client:
        client.drop(TRACK.read_bytes(), "first.gpx", canopy="Curlew 260")
        mark = client.form(JUMP)
        assert client.post(f"{JUMP}/target", mark | {"target": "49.7215,-107.9342"}).status == 200
        for name in (
            "long_spot.gpx",
            "late_final.gpx",
        ):  # of the same field, and nobody has said their target yet
            client.drop((TRACK.parent / name).read_bytes(), name)
        yield client


def figures(page: str) -> dict[str, Any]:
    found = re.search(r'id="page-data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    data: dict[str, Any] = json.loads(found[1])["figures"]
    return data


def test_the_form_opens_with_what_holds_in_the_folder(desk: Client) -> None:
    page = desk.get("/plan").text
    for name, value in {"crosswind": "1300", "downwind": "900", "site": "Quillmere Field"}.items():
        assert f'name="{name}" value="{value}"' in page
    assert 'role="alert"' not in page


def test_a_known_field_brings_its_target_and_its_picture_lies_under_the_plan(desk: Client) -> None:
    page = desk.get(f"/plan?site=Quillmere+Field{TYPED}&airspeed=18&sink=8").text
    (image,) = figures(page)["left"]["layout"]["images"]
    assert image["source"].startswith("data:image/jpeg")
    both = figures(desk.get(f"/plan?site=Quillmere+Field{TYPED}&airspeed=18&sink=8&hand=both").text)
    sources = [both[hand]["layout"]["images"][0]["source"] for hand in ("left", "right")]
    assert sources[1] == "#left/0"
    other = desk.get(f"/plan?site=Elsewhere{TYPED}&airspeed=18&sink=8").text
    assert "images" not in figures(other)["left"]["layout"]


def test_a_leg_that_is_left_out_is_not_taken_from_the_folder(desk: Client) -> None:
    page = desk.get(f"/plan?site=Quillmere+Field{TYPED}&airspeed=18&sink=8").text
    assert "crosswind" not in page.split('id="page-data"')[0].split('id="wind"')[1]


def test_it_is_the_page_of_the_command(desk: Client, tmp_path: Path) -> None:
    """The story of the desk's page and of ``crabline plan --html`` for the same numbers, byte for byte."""
    (tmp_path / "plan.toml").write_text(
        '[site]\nname = "Elsewhere"\n[canopy]\nairspeed_kt = 18\nsink_kt = 8\n[pattern]\ndownwind_ft = 1000\nbase_ft = 600\nfinal_ft = 300\n'
        "[[wind]]\nagl_ft = 0\nspeed_kt = 5\nfrom_deg = 300\n",
        encoding="utf-8",
    )
    run(f"crabline plan --plan {tmp_path / 'plan.toml'} --units uk --html {tmp_path / 'plan.html'}")
    stories = [
        re.search(r"<main.*?</main>", text, re.DOTALL)
        for text in (
            (tmp_path / "plan.html").read_text(encoding="utf-8"),
            desk.get(f"/plan?site=Elsewhere{TYPED}&airspeed=18&sink=8").text,
        )
    ]
    assert stories[0] is not None
    assert stories[1] is not None
    assert stories[0][0] == stories[1][0]


def test_a_measured_canopy_brings_its_speeds_and_a_strange_one_the_usual(desk: Client) -> None:
    measured = desk.get(f"{JUMP}/file/json").json["canopy"]["airspeed_mps"]
    page = desk.get(f"/plan?canopy=Curlew+260{TYPED}").text
    assert "usual speeds" not in page
    forward = re.search(r'Canopy <span data-q="speed" data-v="([\d.]+)"', page)
    assert forward is not None
    assert float(forward[1]) == pytest.approx(measured, abs=0.001)
    strange = desk.get(f"/plan?canopy=Nobody{TYPED}").text
    assert "the usual speeds for a student canopy." in strange
    half = desk.get(f"/plan?canopy=Curlew+260&airspeed=20{TYPED}").text
    forward = re.search(r'Canopy <span data-q="speed" data-v="([\d.]+)"', half)
    assert forward is not None
    assert float(forward[1]) == pytest.approx(20 * 1852 / 3600, abs=0.001)


def test_no_wind_is_a_calm_day_where_the_direction_is_given(desk: Client) -> None:
    assert "no wind to plan for" in desk.get("/plan?downwind=1000&base=600&final=300").text
    calm = desk.get("/plan?downwind=1000&base=600&final=300&landing=90").text
    assert "Wind near the ground calm." in calm


def test_the_rules_of_speeds_are_one_for_command_desk_and_python() -> None:
    """Each speed: given, else measured, else usual; without usual ones both must be there."""
    from analyser.errors import SettingsError
    from analyser.settings.winds import MeasuredTrim

    settings = parse_settings("[canopy]\nairspeed_mps = 11\n[pattern]\nlanding_deg = 90\n")
    seen = MeasuredTrim(9.0, 4.5, 0.2, 0.1)
    plan = plan_ahead(settings, measured=seen)
    assert (plan.settings.canopy.airspeed_mps, plan.settings.canopy.sink_mps) == (11.0, 4.5)
    assert plan.usual is None
    usual = plan_ahead(settings)
    assert usual.settings.canopy.sink_mps == pytest.approx(usual_speeds()[1])
    assert usual.usual is not None
    with pytest.raises(SettingsError, match="trim speeds are not given"):
        plan_ahead(settings, usual=False)
    with pytest.raises(SettingsError, match="no wind to plan for"):
        plan_ahead(parse_settings("[canopy]\nairspeed_mps = 11\n"))
