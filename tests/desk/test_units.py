"""The reader's units: forms show and take what the page shows, and a plan means the same in every system."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from browser import WAIT_MS, Watched, chromium
from desk_made import TRACK, Client, opened_desk, sha_of

from analyser.desk.measures import COOKIE, measures_of
from analyser.desk.planning import PlanForm, form_of, plan_text, sheet_text
from analyser.settings.toml import parse_settings
from analyser.units import DISPLAY_SYSTEMS

JUMP = f"/jump/{sha_of(TRACK)}-1"
FOOT, KNOT = 0.3048, 1852.0 / 3600.0  # exact by definition: NIST Special Publication 811, appendix B
PLAN = """
[pattern]
downwind_ft = 985
base_ft = 600
final_ft = 300
landing_deg = 310
[[wind]]
agl_ft = 0
speed_kt = 3
from_deg = 300
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    folder = tmp_path_factory.mktemp("units")
    (folder / "logbook.toml").write_text(PLAN, encoding="utf-8")
    with opened_desk(folder) as client:
        client.drop(TRACK.read_bytes(), "first.gpx", canopy="Curlew 260", site="Quillmere Field")
        mark = client.form(JUMP)
        assert client.post(f"{JUMP}/target", mark | {"target": "49.7215,-107.9342"}).status == 200
        yield client


def in_units(desk: Client, units: str) -> Client:
    return Client(desk.host, f"{desk.cookie}; {COOKIE}={units}", desk.desk)


@pytest.mark.parametrize("units", DISPLAY_SYSTEMS)
def test_a_plan_means_the_same_in_every_system(units: str) -> None:
    measures, settings = measures_of(units), parse_settings(PLAN)
    shown = form_of(settings, measures)
    assert plan_text("", shown, shown, measures) == ""  # nothing is written of what was not touched
    heights = {**shown.heights, "base": measures.height.shown(650 * FOOT)}
    winds = ((measures.height.shown(0.0), measures.speed.shown(4 * KNOT), "290"),)
    typed = PlanForm(heights, shown.hand, shown.landing, winds)
    found = parse_settings(plan_text("", shown, typed, measures))
    assert found.pattern.base_m == pytest.approx(650 * FOOT, abs=0.01)
    assert found.pattern.downwind_m == pytest.approx(985 * FOOT, abs=0.01)
    assert found.wind[0].speed_mps == pytest.approx(4 * KNOT, abs=0.01)
    fields = {**heights, "airspeed": measures.speed.shown(10.0), "sink": measures.speed.shown(4.0)}
    sheet = parse_settings(sheet_text(fields, winds, measures))
    assert (sheet.canopy.airspeed_mps, sheet.canopy.sink_mps) == pytest.approx((10.0, 4.0), abs=0.01)
    assert sheet.pattern.base_m == pytest.approx(650 * FOOT, abs=0.01)


@pytest.mark.parametrize(
    ("units", "downwind", "height", "speed"),
    [
        ("us", "985", "ft", "mph"),
        ("uk", "985", "ft", "kt"),
        ("nordic", "985", "ft", "kt"),
        ("metric", "300.23", "m", "m/s"),
    ],
)
def test_the_form_opens_in_the_units_that_the_browser_remembers(
    desk: Client, units: str, downwind: str, height: str, speed: str
) -> None:
    for path in (JUMP, "/plan"):
        page = in_units(desk, units).get(path).text
        assert f'name="units" value="{units}"' in page
        assert re.search(rf'name="downwind" value="{downwind}"', page), path
        assert f'Base begins at [<span data-q="height">{height}</span>]' in page
        assert f'speed [<span data-q="speed">{speed}</span>]' in page


def test_units_that_are_none_are_the_usual_or_refused(desk: Client) -> None:
    assert 'name="units" value="uk"' in in_units(desk, "furlongs").get("/plan").text
    assert 'name="units" value="uk"' in desk.get("/plan?units=furlongs").text
    assert desk.post(f"{JUMP}/plan", desk.form(JUMP) | {"units": "furlongs"}).status == 400


def test_a_mistake_is_told_in_the_readers_units(desk: Client) -> None:
    fields = {
        "crosswind": "",
        "downwind": "300",
        "base": "400",
        "final": "100",
        "hand": "as flown",
        "landing": "310",
    }
    told = desk.post(f"{JUMP}/plan", desk.form(JUMP) | fields | {"units": "metric", "wind": [""] * 9})
    assert told.status == 422
    assert "pattern.downwind_m = 300 m is not above pattern.base_m = 400 m" in told.json["line"]


def test_a_page_to_pass_on_opens_in_the_readers_units(desk: Client) -> None:
    for units in ("us", "metric"):
        page = in_units(desk, units).get(f"{JUMP}/file/page").text
        assert f'<option value="{units}" selected>' in page


def numbers_of(watched: Watched) -> dict[str, str]:
    found: dict[str, str] = watched.page.evaluate(
        "() => Object.fromEntries([...document.querySelectorAll('[data-quantity]')].map((n, i) => [n.id || `wind ${i}`, n.value]))"
    )
    return found


def label_of(watched: Watched, name: str) -> str:
    text: str = watched.page.text_content(f"label[for=f-{name}]")
    return text


@pytest.mark.slow
@pytest.mark.browser
def test_forms_follow_the_units_of_the_page_and_come_back_unchanged(desk: Client) -> None:
    with chromium() as browser:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        watched = Watched(context.new_page())
        page: Any = watched.page
        page.goto(desk.address)
        page.goto(f"http://{desk.host}{JUMP}")
        watched.drawn()
        page.click("#desk-plan summary")
        before = numbers_of(watched)
        assert (before["f-downwind"], label_of(watched, "downwind")) == ("985", "Downwind begins at [ft]")
        page.select_option("select[name=units]", "metric")
        watched.drawn()
        assert (page.input_value("#f-downwind"), label_of(watched, "downwind")) == (
            "300.23",
            "Downwind begins at [m]",
        )
        assert "1.54" in numbers_of(watched).values()  # three knots
        for units in ("us", "metric", "us", "uk"):
            page.select_option("select[name=units]", units)
        watched.drawn()
        assert numbers_of(watched) == before

        page.select_option("select[name=units]", "metric")
        page.fill("#f-base", "200")
        with page.expect_navigation(timeout=WAIT_MS):
            page.click("#desk-plan button[type=submit]")
        watched.drawn()
        assert page.input_value("select[name=units]") == "metric"
        assert label_of(watched, "base") == "Base begins at [m]"
        assert page.input_value("#f-base") == "200"
        own = next(desk.desk.folder.plans.iterdir())
        written = tomllib.loads(own.read_text(encoding="utf-8"))
        assert written["pattern"]["base_m"] == 200
        assert "wind" not in written  # what was not touched is not written

        page.goto(f"http://{desk.host}/plan")
        watched.drawn()
        assert label_of(watched, "airspeed") == "Airspeed in full flight [m/s]"
        page.fill("#f-airspeed", "9")
        page.select_option("select[name=units]", "us")
        assert page.input_value("#f-airspeed") == "20.13"
        page.select_option("select[name=units]", "metric")
        assert page.input_value("#f-airspeed") == "9"
        page.fill("#f-sink", "3.5")
        with page.expect_navigation(timeout=WAIT_MS):
            page.click("form[action='/plan'] button[type=submit]")
        watched.drawn()
        assert "units=metric" in page.url
        assert page.input_value("select[name=units]") == "metric"
        assert "9 m/s forward, 3.5 m/s down" in page.inner_text("main").replace("9.0 m/s", "9 m/s")
        context.close()
