"""No contradiction: every rule of the pass leaves out what it names, and the checker finds none in the samples."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from contradictions import contradictions
from jump_made import jump_made

from analyser.debrief import debrief
from analyser.findings.consistent import RULES, consistent
from analyser.findings.model import Finding
from analyser.jump import Question
from analyser.replay import Advice
from analyser.report.documents.debrief import to_document
from analyser.settings import Settings, Site
from analyser.settings.toml import read_settings

ROOT = Path(__file__).resolve().parents[2]
BLAMED = {
    "heights_kept": "base_turn_low",
    "plan_fitted": "wind_misread",
    "entry_in_reach": "entry_place",
    "into_wind": "final_direction",
    "straight_final": "final_direction",
    "past_target": "final_turn_high",
    "landed_long": "base_direction",
    "landed_short": "base_direction",
    "off_wind_line": "base_direction",
}
TRACKS = sorted(p for p in (ROOT / "sample_tracks").iterdir() if p.suffix in (".gpx", ".fit"))


@pytest.mark.parametrize("code", sorted({r.code for r in RULES}))
def test_every_rule_leaves_out_what_it_names(code) -> None:
    rule = next(r for r in RULES if r.code == code)
    praise, other = Finding(rule.code, "good", ""), Finding("on_target", "good", "")
    cause = Finding(BLAMED.get(rule.code, "base_direction"), "note", "", metres=50.0)
    x = jump_made(Settings(), questions=(Question("hand", ""),))
    assert consistent(x, [praise, other], [cause]) == (other,)
    if rule.code in BLAMED:
        assert consistent(x, [praise, other], []) == (praise, other)


@pytest.mark.parametrize("code", ["full_turn_low", "low_turn", "large_last_turn", "final_turn_below_minimum"])
def test_turns_are_not_praised_beside_a_caution_about_one(code: str) -> None:
    praise, caution = Finding("heights_kept", "good", ""), Finding(code, "caution", "")
    assert consistent(jump_made(Settings()), [praise, caution], []) == (caution,)


@pytest.mark.parametrize(
    ("code", "kind"), [("heights_kept", "turn height"), ("plan_fitted", "plan the wind")]
)
def test_what_is_advised_to_change_is_not_praised(code: str, kind: str) -> None:
    praise = Finding(code, "good", "")
    advice = Advice(None, None, None, None, "", kind=kind)
    assert consistent(jump_made(Settings(), advice=(advice,)), [praise], []) == ()
    assert consistent(
        jump_made(Settings(), advice=(replace(advice, blocked_by="a rule"),)), [praise], []
    ) == (praise,)
    other = replace(advice, kind="crab")
    assert consistent(jump_made(Settings(), advice=(other,)), [praise], []) == (praise,)


@pytest.mark.parametrize("track", TRACKS, ids=lambda p: p.stem)
@pytest.mark.parametrize("planned", [True, False])
def test_no_sample_contradicts_itself(track: Path, planned: bool) -> None:
    settings = read_settings([ROOT / "shared" / "plans" / f"{track.stem}.toml"])
    settings = settings if planned else Settings(site=Site(target=settings.site.target))
    assert contradictions(to_document(debrief(track, settings))) == []


def cause(code: str, along: float, part: str, row: str) -> dict:
    evidence = {"signed_along_m": along, "signed_across_m": 0.0, "part": part, "row": row}
    return {"code": code, "level": "note", "text": "", "evidence": evidence}


def row(part: str, along: float) -> dict:
    return {"part": part, "along_m": along, "across_m": 0.0, "along_sd_m": 1.0, "across_sd_m": 1.0}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"findings": [{"code": "heights_kept", "level": "good"}, cause("base_turn_low", -40.0, "height", "downwind leg")]}, "praised"),
        ({"findings": [cause("base_turn_low", 40.0, "height", "downwind leg")]}, "another sign or size"),
        ({"budget": [{"cause": "downwind leg", "along_m": -60.0, "across_m": 0.0, "parts": [row("height", -40.0)]}]}, "do not add up"),
        ({"advice": [{"kind": "turn height", "gate": "base", "change_agl_m": -20.0, "blocked_by": None}]}, "against the cause"),
        ({"advice": [{"kind": "turn height", "gate": "base", "change_agl_m": 20.0, "blocked_by": None}]}, "two numbers"),
        ({"advice": [{"kind": "turn place", "gate": "downwind", "change_along_m": 38.0, "change_across_m": 2.0, "blocked_by": None}]}, "turned round"),
        ({"findings": [{"code": "plan_fitted", "level": "good"}], "advice": [{"kind": "plan the wind", "blocked_by": None}]}, "plan the wind advised"),
    ],
)  # fmt: skip
def test_the_checker_finds_what_is_planted(changes: dict, said: str) -> None:
    document = {
        "landing": {"along_m": -40.0, "across_m": 0.0, "offset_m": 40.0},
        "budget": [
            {"cause": "downwind leg", "along_m": -40.0, "across_m": 0.0, "parts": [row("height", -40.0)]}
        ],
        "comparison": [{"gate": "base", "agl_m": -18.0, "agl_sd_m": 2.0}],
        "findings": [cause("base_turn_low", -40.0, "height", "downwind leg")],
        "advice": [],
        "questions": [],
    }
    assert contradictions(document) == []
    found = contradictions({**document, **changes})
    assert any(said in line for line in found), found


def test_an_entry_that_was_out_of_reach_and_never_flown_is_told() -> None:
    """Flown straight in from where the planned entry could not be reached: no row of the budget tells it."""
    settings = read_settings(ROOT / "shared" / "plans" / "long_spot.toml")
    told = debrief(ROOT / "sample_tracks" / "long_spot.gpx", settings)
    assert not next(row.parts for row in told.budget if row.cause == "entry")
    assert "entry_out_of_reach" in {f.code for f in told.findings}
