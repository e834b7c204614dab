"""Odd input is asked about: one question that names the slip; ordinary jumps hear none."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from ambiance import Atmosphere
from jump_made import jump_made
from pattern_cases import track_of
from rich.console import Console

from analyser.compare import GateDifference
from analyser.debrief import debrief
from analyser.errors import SettingsError
from analyser.findings import Finding, render
from analyser.findings.questions import ask
from analyser.findings.thresholds import FINDINGS
from analyser.findings.typed_speeds import typed_airspeed, typed_sink
from analyser.jump import Debrief
from analyser.report.story.brief import brief
from analyser.report.story.jump import tell_jump
from analyser.report.story.lessons import lessons
from analyser.report.terminal import print_story
from analyser.settings.toml import parse_settings, read_settings
from analyser.units import DISPLAY_SYSTEMS

ROOT = Path(__file__).resolve().parents[2]
TRACK, PLAN = ROOT / "sample_tracks" / "first_light.gpx", ROOT / "shared" / "plans" / "first_light.toml"


def jump(**site) -> Debrief:
    settings = read_settings([PLAN])
    return debrief(TRACK, replace(settings, site=replace(settings.site, **site)))


def at(north_m: float) -> tuple[float, float]:
    lat, lon = read_settings([PLAN]).site.target
    return lat + north_m / 111_200.0, lon


@pytest.mark.parametrize(
    ("north_m", "code"),
    [(250.0, "target_moved"), (5000.0, "target_far"), (40_000.0, "target_far"), (80_000.0, "target_far")],
)
def test_a_target_elsewhere(north_m: float, code: str) -> None:
    found = jump(target=at(north_m))
    assert [q.code for q in found.questions] == [code]
    assert "right target?" in render(found.questions[0])
    assert found.advice == ()  # it would lead to where nobody means to land
    assert not found.budget


def test_swapped_coordinates() -> None:
    settings = parse_settings("[site]\ntarget = [47.3, 11.9]\n")
    assert settings.site.target == (47.3, 11.9)
    from analyser.findings.questions import target_away

    asked = target_away((11.9, 47.3), (47.301, 11.902), 4.9e6)
    assert asked.code == "target_swapped"
    assert "swapped" in render(asked)


def test_knots_typed_as_metres_a_second() -> None:
    settings = read_settings([PLAN])
    plain = debrief(TRACK, settings)
    knots = plain.trim.airspeed_mps * 1.943844
    found = debrief(TRACK, replace(settings, canopy=replace(settings.canopy, airspeed_mps=knots)))
    assert [q.code for q in found.questions] == ["airspeed"]
    assert "Were knots typed as m/s?" in render(found.questions[0])
    assert found.budget


@pytest.mark.parametrize(
    ("scale", "code", "word"),
    [(0.3048, "gates_low", "typed as feet"), (3.2808, "gates_high", "Metres or feet?")],
)
def test_the_unit_of_the_gates(scale: float, code: str, word: str) -> None:
    settings = read_settings([PLAN])
    old = settings.pattern
    pattern = replace(
        old,
        given=True,
        crosswind_m=None,
        downwind_m=old.downwind_m * scale,
        base_m=old.base_m * scale,
        final_m=old.final_m * scale,
    )
    found = debrief(TRACK, replace(settings, pattern=pattern))
    assert code in [q.code for q in found.questions]
    question = render(next(q for q in found.questions if q.code == code))
    assert word in question
    assert (found.budget, found.advice) == ((), ())
    assert found.reasons["budget"] == question
    assert "unit of the gates" in found.reasons["advice"]
    assert not [f for f in found.findings if f.level == "note" and f.metres]
    lines = dict(brief(found, lessons(found.findings, found.advice, found.reasons)))
    assert list(lines) == ["Question", "Where", "Next time"]
    assert lines["Next time"].text() == found.reasons["advice"]
    assert question not in page_text(found)


def page_text(found: Debrief) -> str:
    """The whole story in feet, as the terminal has it."""
    console = Console(width=2000, file=StringIO(), highlight=False, emoji=False)
    print_story(tell_jump(found), DISPLAY_SYSTEMS["uk"], console)
    return console.file.getvalue()


def test_a_question_beside_smaller_notes_is_told_in_one_rounding() -> None:
    settings = read_settings([PLAN])
    heights = {f"{name}_m": h * 0.3048 for name, h in settings.pattern.heights_m.items()}
    found = debrief(TRACK, replace(settings, pattern=replace(settings.pattern, given=True, **heights)))
    found = replace(
        found, findings=(*found.findings, Finding("wind_check", "note", "A small note.", {}, 0.0))
    )
    question = next(q for q in found.questions if q.code == "gates_low")
    assert page_text(found).count(render(question, DISPLAY_SYSTEMS["uk"])) == 2
    assert render(question) not in page_text(found)


@pytest.mark.parametrize(("share", "asked"), [(1.1, False), (0.9, False), (1.3, True), (0.7, True)])
def test_high_gates_that_were_flown_are_not_asked_about(share: float, asked: bool) -> None:
    settings = read_settings([PLAN])
    high = replace(settings.pattern, given=True, crosswind_m=FINDINGS.high_gate_m + 1.0)
    rows = tuple(GateDifference(gate, 100.0, 100.0 * share, *[None] * 5) for gate in ("base", "final"))
    x = jump_made(settings=replace(settings, pattern=high), comparison=rows)
    assert [q.code for q in ask(x)] == ["gates_high"] * asked


def test_the_other_hand() -> None:
    settings = read_settings([PLAN])
    plain = debrief(TRACK, settings)
    other = "left" if plain.flown.hand == "right" else "right"
    site = replace(settings.site, directions=())
    found = debrief(TRACK, replace(settings, site=site, pattern=replace(settings.pattern, hand=other)))
    (asked,) = (q for q in found.questions if q.code == "hand")
    flown = plain.flown.hand
    assert f"asks for {other}-hand turns and the flight made {flown}-hand ones" in render(asked)


@pytest.mark.parametrize("text", ["from_deg = 050", "from_deg = 007  # early"])
def test_a_leading_zero_is_named(text: str) -> None:
    with pytest.raises(SettingsError, match="leading zero") as failed:
        parse_settings(f"[[wind]]\nagl_ft = 0\nspeed_kt = 8\n{text}\n")
    assert "line 4" in str(failed.value)


@pytest.mark.parametrize("name", ["first_light", "late_final", "steady_breeze", "s_turns", "veering"])
def test_ordinary_jumps_hear_no_question(name: str) -> None:
    track = next((ROOT / "sample_tracks").glob(f"{name}.[gf]*"))
    assert debrief(track, read_settings([ROOT / "shared" / "plans" / f"{name}.toml"])).questions == ()


def circling(turned_deg: float = 400.0, *, fixes: int = 400, elevation_m: float = 0.0) -> Debrief:
    """A canopy of 11 m/s at sea level that turns so far at 600 m in a wind of 5 m/s; densities of a reference library."""
    courses = np.radians(np.linspace(20.0, 20.0 + turned_deg, fixes))
    true_mps = 11.0 / np.sqrt(Atmosphere(elevation_m + 600.0).density[0] / Atmosphere(0.0).density[0])
    track = track_of([(0.0, 0.0, 0.0, 600.0), (fixes * 0.5, 0.0, 0.0, 600.0)], after_s=0.0)
    velocities = {"v_east": 3.0 + true_mps * np.sin(courses), "v_north": 4.0 + true_mps * np.cos(courses)}
    track = replace(track, **velocities, ground_elevation_m=elevation_m)
    return jump_made(track=track, canopy=(0, fixes))


def typed(x: Debrief, airspeed_mps: float) -> Debrief:
    return replace(
        x, settings=replace(x.settings, canopy=replace(x.settings.canopy, airspeed_mps=airspeed_mps))
    )


@pytest.mark.parametrize("elevation_m", [0.0, 2500.0])
@pytest.mark.parametrize(
    ("given_mps", "words"),
    [
        (11.0, None),
        (1.28 * 11.0, None),
        (0.72 * 11.0, None),
        (1.32 * 11.0, "Which is right?"),
        (0.68 * 11.0, "Which is right?"),
        (11.0 * 3600 / 1852, "Were knots typed as m/s?"),
    ],
)
def test_a_typed_airspeed_is_held_against_the_circle_of_ground_velocities(
    elevation_m: float, given_mps: float, words: str | None
) -> None:
    asked = typed_airspeed(typed(circling(elevation_m=elevation_m), given_mps))
    assert (asked is not None) == (words is not None)
    if asked is not None and words is not None:
        assert asked.evidence["seen_mps"] == pytest.approx(11.0, rel=0.002)
        assert words in render(asked)


def test_an_airspeed_that_the_track_does_not_show_is_not_doubted() -> None:
    """Half a circle, too few fixes, no canopy flight, one that stands still."""
    for turned_deg, shown in ((150.0, False), (195.0, False), (205.0, True)):
        assert (typed_airspeed(typed(circling(turned_deg), 22.0)) is not None) == shown
    assert typed_airspeed(typed(circling(fixes=19), 22.0)) is None
    assert typed_airspeed(typed(circling(fixes=20), 22.0)) is not None
    assert typed_airspeed(typed(jump_made(), 22.0)) is None
    still = circling()
    slow = replace(still.track, v_east=still.track.v_east * 0.2, v_north=still.track.v_north * 0.2)
    assert typed_airspeed(typed(replace(still, track=slow), 22.0)) is None
    gaps = still.track.v_east.copy()
    gaps[::3] = np.nan
    lossy = typed_airspeed(typed(replace(still, track=replace(still.track, v_east=gaps)), 22.0))
    assert lossy is not None
    assert lossy.evidence["seen_mps"] == pytest.approx(11.0, rel=0.002)


@pytest.mark.parametrize(
    ("name", "north_m"), [("wingsuit", 400.0), ("veering", 400.0), ("late_final", 300.0)]
)
def test_a_target_off_is_asked_about_however_the_pattern_was_joined(name: str, north_m: float) -> None:
    """The turn onto the first leg begins before the planned place; the later gates lie off together, whichever of them is late by itself."""
    settings = read_settings(ROOT / "shared" / "plans" / f"{name}.toml")
    lat, lon = settings.site.target
    away = replace(settings, site=replace(settings.site, target=(lat + north_m / 111_200.0, lon)))
    track = next((ROOT / "sample_tracks").glob(f"{name}.[fg][ip][tx]"))
    assert [q.code for q in debrief(track, away).questions] == ["target_moved"]
    assert not debrief(track, settings).questions


def sinking(x: Debrief, typed_mps: float, sink_mps: float = 4.0) -> Debrief:
    """A canopy flight at sea level with a typed sink."""
    track = replace(x.track, v_up=np.full_like(x.track.v_east, -sink_mps))
    canopy = replace(x.settings.canopy, sink_mps=typed_mps)
    return replace(x, track=track, settings=replace(x.settings, canopy=canopy))


@pytest.mark.parametrize(
    ("typed_mps", "words"),
    [
        (4.0, None),
        (2.0, None),
        (6.1, None),
        (3.9 * 3600 / 1852, "Were knots typed as m/s?"),
        (13.1, "Which is right?"),
    ],
    ids=["right", "half", "half as much again", "knots", "feet"],
)
def test_a_typed_sink_in_another_unit_is_asked_about(typed_mps: float, words: str | None) -> None:
    asked = typed_sink(sinking(circling(elevation_m=0.0), typed_mps))
    assert (asked is not None) == (words is not None)
    if asked is not None and words is not None:
        assert words in render(asked)
        assert asked.evidence["seen_mps"] == pytest.approx(
            4.0 * 0.9714, rel=0.001
        )  # the flight begins at 600 m


def test_a_sink_in_knots_is_left_out_and_the_airspeed_kept() -> None:
    settings = read_settings(PLAN)
    plain = debrief(TRACK, settings)
    assert plain.trim is not None
    knots = replace(settings.canopy, sink_mps=plain.trim.sink_mps * 3600 / 1852)
    found = debrief(TRACK, replace(settings, canopy=knots))
    assert [q.code for q in found.questions] == ["sink"]
    assert found.trim is not None
    assert found.trim.sink_mps == pytest.approx(plain.trim.sink_mps, rel=0.05)
    assert found.settings.canopy.airspeed_mps == settings.canopy.airspeed_mps
    assert typed_sink(jump_made()) is None


def test_a_landing_direction_typed_the_wrong_way_round_is_asked_about() -> None:
    """No cause gets metres and nothing is advised before it is answered: the plan is turned by half a circle."""
    settings = read_settings(PLAN)
    plain = debrief(TRACK, settings)
    assert plain.flown is not None
    assert plain.flown.landing_deg is not None

    def landing_on(deg: float) -> Debrief:
        return debrief(TRACK, replace(settings, pattern=replace(settings.pattern, landing_deg=deg % 360.0)))

    turned = landing_on(plain.flown.landing_deg + 178.0)
    assert [q.code for q in turned.questions if q.code != "hand"] == ["landing_reversed"]
    assert "wrong way round" in render(turned.questions[0])
    assert not turned.budget
    assert not turned.advice
    assert turned.plan_outcome is None
    asked = landing_on(plain.flown.landing_deg + 100.0).questions
    assert "Which is right?" in render(next(q for q in asked if q.code == "landing_reversed"))
    aside = landing_on(plain.flown.landing_deg + 50.0).questions
    assert not [q for q in aside if q.code == "landing_reversed"]


def test_a_plan_whose_gates_are_doubted_is_not_flown_again() -> None:
    """Metres typed as feet: where such a plan would have ended helps nobody."""
    settings = read_settings(PLAN)
    assert debrief(TRACK, settings).plan_outcome is not None
    heights = {f"{name}_m": h * 0.3048 for name, h in settings.pattern.heights_m.items()}
    doubted = debrief(TRACK, replace(settings, pattern=replace(settings.pattern, given=True, **heights)))
    assert [q.code for q in doubted.questions] == ["gates_low"]
    assert doubted.plan_outcome is None
    said = page_text(doubted)
    assert "the plan would have ended" not in said
    assert "Gates redrawn" not in said


def test_a_planned_wind_from_where_it_blows_to_is_asked_about() -> None:
    settings = read_settings(PLAN)
    assert settings.wind_profile is not None
    turned = tuple(w._replace(from_deg=(w.from_deg + 180.0) % 360.0) for w in settings.wind)
    found = debrief(TRACK, replace(settings, wind=turned))
    question = next(q for q in found.questions if q.code == "wind_reversed")
    assert "typed where the wind blows to" in render(question)
    assert not found.budget
    assert "planned wind first" in found.reasons["advice"]
    aside = tuple(w._replace(from_deg=(w.from_deg + 120.0) % 360.0) for w in settings.wind)
    assert not debrief(TRACK, replace(settings, wind=aside)).questions
    light = tuple(w._replace(speed_mps=1.0) for w in turned)
    assert not [
        q for q in debrief(TRACK, replace(settings, wind=light)).questions if q.code == "wind_reversed"
    ]


def test_under_a_question_about_the_target_no_place_of_a_gate_is_told() -> None:
    lat, lon = read_settings(PLAN).site.target
    found = jump(target=(lat + 0.05, lon))
    assert [q.code for q in found.questions] == ["target_far"]
    said = page_text(found)
    assert "pattern entry" not in said
    assert "out of reach" not in said
    assert "past the target" not in said
    table = said[said.index("The entry, and where each turn began") : said.index("The landing:")]
    assert "short" not in table
    assert " far " not in table


def test_a_pattern_not_flown_with_its_entry_out_of_reach_is_told_what_to_plan() -> None:
    found = debrief(
        ROOT / "sample_tracks" / "long_spot.gpx", read_settings(ROOT / "shared" / "plans" / "long_spot.toml")
    )
    assert [a.kind for a in found.advice] == ["nothing"]
    assert "choose another clear landing area early" in found.advice[0].text


def test_a_plan_for_the_other_hand_is_set_against_one_plan_on_the_whole_page() -> None:
    """Gates, budget, outcome and the redrawn pattern are those of the hand that was flown, and the page says so."""
    settings = read_settings(PLAN)
    plain = debrief(TRACK, settings)
    other = "right" if plain.flown.hand == "left" else "left"
    found = debrief(TRACK, replace(settings, pattern=replace(settings.pattern, hand=other)))
    assert [q.code for q in found.questions] == ["hand"]
    assert found.plan.pattern.hand == other
    assert found.planned.hand == found.redrawn.pattern.hand == plain.flown.hand
    wind = next(r for r in found.budget if r.cause == "wind")
    outcome = found.plan_outcome
    assert np.hypot(wind.along_m, wind.across_m) == pytest.approx(
        np.hypot(outcome.along_m, outcome.across_m), abs=8.0
    )
    assert f"{plain.flown.hand.capitalize()}-hand turns were flown" in page_text(found)
    assert "-hand turns were flown" not in page_text(plain)
