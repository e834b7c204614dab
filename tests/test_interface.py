"""docs/interface.md names every key that the documents have, and the documents have every column that it names."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from console_blocks import run

from analyser.batch.run import run_season
from analyser.debrief import debrief
from analyser.logbook.export import EXPORTED
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.report.documents.debrief import to_document
from analyser.report.documents.season import to_season_document
from analyser.settings.read_keys import parse_given
from analyser.settings.toml import parse_settings, read_settings

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "interface.md").read_text(encoding="utf-8")
TRACK, PLAN = ROOT / "sample_tracks" / "first_light.gpx", ROOT / "shared" / "plans" / "first_light.toml"
FREE = {"evidence", "reasons", "jumps_per_month", "conditions"}  # their keys are names, not columns


def part(title: str) -> set[str]:
    """The words of a chapter of the page."""
    text = re.search(rf"^## {title}.*?(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL)
    assert text is not None
    return set(re.findall(r"\w+", text[0]))


def keys(value: Any) -> Iterator[str]:
    """Every key of a document, at any depth."""
    if isinstance(value, dict):
        for name, inside in value.items():
            yield name
            yield from keys(list(inside.values()) if name in FREE and isinstance(inside, dict) else inside)
    elif isinstance(value, list):
        for inside in value:
            yield from keys(inside)


def test_the_keys_of_a_debrief() -> None:
    document = to_document(debrief(TRACK, read_settings([PLAN])))
    assert set(keys(document)) <= part("JSON of `debrief`")


@pytest.mark.parametrize("command", [f"plan --plan {PLAN} --json -", f"info {TRACK} --json -"])
def test_the_keys_of_plan_and_info(command: str) -> None:
    document = json.loads(run(f"crabline {command}"))
    kind = command.split()[0]
    assert document["schema"] == f"crabline.{kind}/1"
    assert set(keys(document)) <= part(f"JSON of `{kind}`")


def test_the_keys_of_a_season(tmp_path: Path) -> None:
    shutil.copy(TRACK, tmp_path)
    season = run_season([tmp_path], plans=[PLAN], jobs=1).season
    assert set(keys(to_season_document(season))) <= part("JSON of `season`")


def test_the_columns_of_a_season() -> None:
    chapter = re.search(r"^## CSV of `season`.*?```\n(.*?)```", PAGE, re.MULTILINE | re.DOTALL)
    assert chapter is not None
    named = set(re.findall(r"\b[a-zA-Z0-9_]+\b", chapter[1]))
    legs = [
        n.replace("LEG", leg)
        for n in named
        if "LEG_" in n
        for leg in ("crosswind", "downwind", "base", "final")
    ]
    causes = ("wind", "entry", "downwind_leg", "base_leg", "final_leg")
    parts = [n.replace("CAUSE", cause) for n in named if "CAUSE_" in n for cause in causes]
    assert set(EXPORTED) <= named | {*legs, *parts}
    assert {*legs, *parts} <= set(EXPORTED)


def test_the_codes_of_the_findings() -> None:
    page = (ROOT / "docs" / "reading-the-page.md").read_text(encoding="utf-8")
    source = "".join(
        p.read_text(encoding="utf-8") for p in sorted((ROOT / "analyser" / "findings").glob("*.py"))
    )
    found = set(re.findall(r'"([a-z]+(?:_[a-z]+)+)", "(good|note|caution)"', source))
    assert len(found) > 15
    for code, level in found:
        assert re.search(rf"^\| .*`{code}`.* \| {level} \|", page, re.MULTILINE), f"{code} ({level})"


def test_every_option_is_named() -> None:
    for command in ("debrief", "plan", "season", "info", "load", "sample", "desk"):
        for option in re.findall(r"^\s+(--[a-z-]+)", run(f"crabline {command} --help"), re.MULTILINE):
            assert option == "--help" or option in PAGE, f"{command} {option}"


def test_the_settings_in_the_documents_are_settings() -> None:
    texts = {n: (ROOT / "docs" / n).read_text(encoding="utf-8") for n in ("first-debrief.md", "season.md")}
    found = {name: re.findall(r"```toml\n(.*?)```", text, re.DOTALL) for name, text in texts.items()}
    assert [parse_settings(text).wind for text in found["first-debrief.md"]] != [()]
    read = [parse_given(text, "docs/season.md", LOGBOOK_KEYS) for text in found["season.md"]]
    assert all(given["jump" if "jump" in given else "talk"].value for given in read)
    assert [any(key in given for given in read) for key in ("jump", "talk")] == [True, True]
