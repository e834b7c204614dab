"""The JSON: valid against the schema that the package prints, complete, and adding up."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from analyser.debrief import Debrief, debrief_all
from analyser.report.documents.debrief import to_document
from analyser.report.documents.schemas import schema_text
from analyser.report.documents.values import to_json
from analyser.settings import Settings
from analyser.settings.toml import read_settings

ROOT = Path(__file__).resolve().parents[2]
TRACKS = sorted(p for p in (ROOT / "sample_tracks").iterdir() if p.suffix in {".gpx", ".fit"})
VALIDATOR = Draft202012Validator(json.loads(schema_text()))


def settings_for(track: Path) -> Settings:
    plan = ROOT / "shared" / "plans" / f"{track.stem}.toml"
    return read_settings([plan]) if plan.exists() else Settings()


@pytest.fixture(scope="module", params=TRACKS, ids=lambda p: p.name)
def jumps(request: pytest.FixtureRequest) -> tuple[Debrief, ...]:
    return debrief_all(request.param, settings_for(request.param))


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(json.loads(schema_text()))


def test_every_sample_is_valid_with_and_without_a_plan(jumps: tuple[Debrief, ...]) -> None:
    for jump in jumps:
        document = json.loads(to_json(to_document(jump)))
        assert not [e.message for e in VALIDATOR.iter_errors(document)]


def test_phases_tile_the_track(jumps: tuple[Debrief, ...]) -> None:
    for jump in jumps:
        rows = to_document(jump)["phases"]
        assert all(a["end_utc"] == b["start_utc"] for a, b in itertools.pairwise(rows))


def test_the_budget_adds_up_to_the_landing(jumps: tuple[Debrief, ...]) -> None:
    for jump in jumps:
        document = to_document(jump)
        if not document["budget"]:
            assert document["reasons"]["budget"]
            continue
        for axis in ("along_m", "across_m"):
            total = sum(row[axis] for row in document["budget"])
            assert total == pytest.approx(document["landing"][axis], abs=0.1)


def test_offset_is_the_length_of_along_and_across(jumps: tuple[Debrief, ...]) -> None:
    for jump in jumps:
        landing = to_document(jump)["landing"]
        if landing["offset_m"] is not None and landing["along_m"] is not None:
            assert math.hypot(landing["along_m"], landing["across_m"]) == pytest.approx(
                landing["offset_m"], abs=0.02
            )


def test_what_is_missing_has_a_reason(jumps: tuple[Debrief, ...]) -> None:
    for jump in jumps:
        for row in to_document(jump)["winds"]:
            if row["status"] == "undetermined":
                assert row["speed_mps"] is None
                assert row["reason"]


def test_a_broken_document_is_caught() -> None:
    assert list(VALIDATOR.iter_errors({"schema": "crabline.debrief/1"}))
