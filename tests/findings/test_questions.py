"""Odd input is asked about: one question that names the slip; ordinary jumps hear none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from analyser.debrief import debrief
from analyser.errors import SettingsError
from analyser.findings import render
from analyser.jump import Debrief
from analyser.settings.toml import parse_settings, read_settings

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
    if north_m > 1000.0:
        assert (found.budget, found.advice) == ((), ())


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
    assert word in render(next(q for q in found.questions if q.code == code))


def test_the_other_hand() -> None:
    settings = read_settings([PLAN])
    plain = debrief(TRACK, settings)
    other = "left" if plain.flown.hand == "right" else "right"
    site = replace(settings.site, directions=())
    found = debrief(TRACK, replace(settings, site=site, pattern=replace(settings.pattern, hand=other)))
    assert "hand" in [q.code for q in found.questions]


@pytest.mark.parametrize("text", ["from_deg = 050", "from_deg = 007  # early"])
def test_a_leading_zero_is_named(text: str) -> None:
    with pytest.raises(SettingsError, match="leading zero") as failed:
        parse_settings(f"[[wind]]\nagl_ft = 0\nspeed_kt = 8\n{text}\n")
    assert "line 4" in str(failed.value)


@pytest.mark.parametrize("name", ["first_light", "late_final", "steady_breeze", "s_turns", "veering"])
def test_ordinary_jumps_hear_no_question(name: str) -> None:
    track = next((ROOT / "sample_tracks").glob(f"{name}.[gf]*"))
    assert debrief(track, read_settings([ROOT / "shared" / "plans" / f"{name}.toml"])).questions == ()
