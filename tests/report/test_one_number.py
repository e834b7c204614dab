"""One number has one value, one error, one rounding and one unit, on the terminal, on the page, alone and beside another jump."""

from __future__ import annotations

import html
import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from fake_debrief import fake_debrief
from rich.console import Console

from analyser.angles import bearing_text
from analyser.debrief import Debrief
from analyser.report.page.pages import render_comparison, render_page
from analyser.report.story.air import wind_heights
from analyser.report.story.blocks import Remark, Story
from analyser.report.story.jump import tell_jump
from analyser.report.story.two_jumps import tell_two_jumps
from analyser.report.terminal import print_story
from analyser.sentences import Number, fill
from analyser.units import DISPLAY_SYSTEMS
from analyser.wind.profile import WindProfile

WITH_ERROR = re.compile(r"[+−-]?[\d.]+ ± [\d.]+ ?(?:ft|m/s|mph|kt|m|°)")


@pytest.fixture(scope="module")
def jump() -> Debrief:
    """A landing whose errors along and across are its own, not that of the place."""
    made = fake_debrief()
    assert made.landing is not None
    return replace(made, landing=replace(made.landing, offset_sd_m=2.5, along_sd_m=4.1, across_sd_m=5.2))


def shown(story: Story, units: str) -> str:
    out = io.StringIO()
    print_story(story, DISPLAY_SYSTEMS[units], Console(file=out, width=300, highlight=False))
    return " ".join(out.getvalue().replace("-", "−").split())


def text_of(page: str) -> str:
    body = page.split("<body>")[1].split('<script type="application/json"')[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", "", body)).split())


@pytest.mark.parametrize("units", list(DISPLAY_SYSTEMS))
def test_terminal_and_page_show_the_same_numbers(jump: Debrief, units: str) -> None:
    numbers = set(WITH_ERROR.findall(shown(tell_jump(jump), units)))
    page = text_of(render_page(jump, units=units))
    assert len(numbers) > 15
    assert [n for n in numbers if n not in page] == []


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_landing_has_one_error_alone_and_beside_another(jump: Debrief, units: str) -> None:
    assert jump.landing is not None
    unit = DISPLAY_SYSTEMS[units].distance
    along = unit.text(abs(jump.landing.along_m or 0.0), 4.1)
    across = unit.text(abs(jump.landing.across_m or 0.0), 5.2)
    two = tell_two_jumps(jump, jump)
    places = [shown(tell_jump(jump), units), text_of(render_page(jump, units=units)), shown(two, units)]
    places.append(text_of(render_comparison(jump, jump, units=units)))
    for text in places:
        assert along in text
        assert across in text


@pytest.mark.parametrize("units", ["us", "uk"])
def test_rings_come_in_the_units_asked_for(jump: Debrief, units: str) -> None:
    assert jump.landing is not None
    met = [s for s in jump.landing.standards if s.met] or list(jump.landing.standards)
    ring = DISPLAY_SYSTEMS[units].distance.text(min(s.radius_m for s in met))
    sure = replace(jump.landing, standards=tuple(replace(s, met=True) for s in met))
    told = replace(jump, landing=sure)
    for text in (shown(tell_jump(told), units), text_of(render_page(told, units=units))):
        assert f"({ring})" in text
        assert units == "uk" or not re.search(r"\d m\b", text.split("Thresholds of the method")[0])


def test_directions_have_one_form() -> None:
    """A compass has 000 and no 360; north is 000 wherever it comes from."""
    assert bearing_text(360.0) == bearing_text(0.0) == bearing_text(359.6) == "000°"
    assert Number("bearing", 360.0).text() == "000°"
    assert fill("{a_deg:bearing}", {"a_deg": 359.7, "a_sd_deg": 4.0}) == "000 ± 4°"


def test_directions_are_written_in_one_place() -> None:
    """No other module puts degrees of a compass into a text by itself; the ticks of an axis have no degree sign."""
    package = Path(__file__).resolve().parents[2] / "analyser"
    own = re.compile(r"(?<!%)\{[^{}]*(?:deg|360)[^{}]*:0?3?(?:d|\.0f)\}°")
    found = [str(p.relative_to(package)) for p in package.rglob("*.py") if own.search(p.read_text("utf-8"))]
    assert [name for name in found if not name.startswith("synthetic/")] == []
    assert own.search("track {gate.track_deg:.0f}°")
    assert own.search("{round(value) % 360:03d}°")


def test_a_number_without_its_error_keeps_the_rounding() -> None:
    values = {"change_agl_m": 9.8, "change_agl_sd_m": 1.8}
    for name, with_error, bare in (("us", "32 ± 6 ft", "32 ft"), ("metric", "9.8 ± 1.8 m", "9.8 m")):
        assert fill("{change_agl_m:height}", values, DISPLAY_SYSTEMS[name]) == with_error
        assert fill("{change_agl_m:height~}", values, DISPLAY_SYSTEMS[name]) == bare


@pytest.mark.parametrize("top", [40.0, 300.0, 700.0, 1290.0, 4000.0])
def test_one_rule_for_the_heights_of_winds(top: float) -> None:
    """Round steps from the ground to the top, never more rows than a screen takes, the same for one jump and for two."""
    profile = WindProfile.from_points([(0.0, 3.0, 240.0), (top, 6.0, 250.0)], 0.5)
    heights = wind_heights(profile)
    steps = {b - a for a, b in pairwise(heights)}
    assert heights[0] == 0.0
    assert len(steps) <= 1
    assert len(heights) <= 14
    assert top - heights[-1] < (steps.pop() if steps else 50.0)
    assert wind_heights(profile, profile) == heights


def test_remarks_and_reasons_come_in_the_units_asked_for() -> None:
    said = Remark("the landing place is 51 m higher than the take-off place; known to 1.5 m/s only")
    assert said.text(DISPLAY_SYSTEMS["metric"]) == (
        "The landing place is 51 m higher than the take-off place; known to 1.5 m/s only."
    )
    assert said.text(DISPLAY_SYSTEMS["us"]) == (
        "The landing place is 170 ft higher than the take-off place; known to 3 mph only."
    )
    for text in ("A gap of 12 s.", "Area 260 m².", "File run7 m.gpx {x}.", "Over 3.5 mph."):
        assert Remark(text).text(DISPLAY_SYSTEMS["us"]) == text
