"""Every document has a schema with an $id that describes every key with unit and sign, and keeps to it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from analyser import api
from analyser.debrief import inspect
from analyser.report.documents.info import info_document
from analyser.report.documents.schemas import DOCUMENTS, schema_text
from analyser.report.documents.season import to_season_document
from analyser.report.documents.values import to_json

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted(p for p in (ROOT / "sample_tracks").iterdir() if p.suffix in (".gpx", ".fit"))
PLANS = [p for p in sorted((ROOT / "shared" / "plans").glob("*.toml")) if not p.stem.startswith("quillmere")]
UNITS = {
    "m": "[m]",
    "mps": "[m/s]",
    "deg": "[deg",
    "s": "[s]",
    "utc": "[UTC",
    "hz": "[1/s]",
    "dps": "[deg/s]",
}


def schema_of(name: str) -> dict[str, Any]:
    return json.loads(schema_text(name))


def keys(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every key that a schema knows, with what it says of it."""
    for name, inner in schema.get("properties", {}).items():
        yield name, inner
        yield from keys(inner)
    if isinstance(schema.get("items"), dict):
        yield from keys(schema["items"])


def wrong_with(name: str, document: dict[str, Any]) -> list[str]:
    read = json.loads(to_json(document))
    return [f"{e.json_path}: {e.message}" for e in Draft202012Validator(schema_of(name)).iter_errors(read)]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_key_is_described_with_its_unit(name: str) -> None:
    schema = schema_of(name)
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] == f"urn:crabline:{name}:1"
    assert schema["properties"]["schema"]["const"] == f"crabline.{name}/1"
    found = list(keys(schema))
    assert len(found) > 20
    for key, inner in found:
        assert inner.get("description"), key
        unit = UNITS.get(key.rpartition("_")[2])
        assert unit is None or unit in inner["description"], key


@pytest.mark.parametrize("name", DOCUMENTS)
def test_signs_are_told(name: str) -> None:
    for key, inner in keys(schema_of(name)):
        if key in ("along_m", "across_m", "crab_deg", "change_agl_m"):
            assert "positive" in inner["description"], key


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
@pytest.mark.parametrize("hand", ["left", "both"])
def test_plans_keep_to_theirs(path: Path, hand: str) -> None:
    assert wrong_with("plan", api.plan(path, hand=hand).document()) == []  # type: ignore[arg-type]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_inspections_keep_to_theirs(path: Path) -> None:
    assert wrong_with("info", info_document(inspect(path))) == []


def test_seasons_keep_to_theirs(tmp_path: Path) -> None:
    run = api.season(ROOT / "sample_tracks", logbook=tmp_path / "book.sqlite", jobs=1)
    assert wrong_with("season", run.document()) == []
    assert wrong_with("season", to_season_document(run.result.season, private=True)) == []


def test_what_is_no_document_is_told() -> None:
    assert wrong_with("plan", {"schema": "crabline.plan/1"})
    assert wrong_with("season", {"schema": "crabline.plan/1", "jumps": 3})
