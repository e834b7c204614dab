"""What the fuzzers spoil is good as it stands, so that they come further than the first line of a reader."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
import given
import mutate

from analyser.errors import NoFixesError
from analyser.importers.read import read
from analyser.settings.winds import read_winds


def unspoilt(monkeypatch: pytest.MonkeyPatch, texts: list[bytes]) -> None:
    """Let the fuzzer take these, one after the other, as they are."""
    rest = iter(texts)
    monkeypatch.setattr(given, "spoilt", lambda r, those: next(rest))


@pytest.mark.parametrize("at", range(len(given.PLANS)))
def test_plans(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, at: int) -> None:
    unspoilt(monkeypatch, [given.PLANS[at]])
    assert given.plan(random.Random(1), tmp_path) in ("planned", "read, no plan")


@pytest.mark.parametrize("table", given.TABLES)
@pytest.mark.parametrize("book", given.LOGBOOKS)
def test_corrections(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, book: bytes, table: bytes) -> None:
    unspoilt(monkeypatch, [book, table])
    assert given.corrections(random.Random(1), tmp_path) == "read"


@pytest.mark.parametrize("text", given.WINDS)
def test_winds(tmp_path: Path, text: bytes) -> None:
    path = tmp_path / "winds.csv"
    path.write_bytes(text)
    read_winds(path, elevation_m=212.0)


def test_tracks(tmp_path: Path) -> None:
    formats = set()
    for data in mutate.corpus():
        path = tmp_path / "track"
        path.write_bytes(data)
        try:
            formats.add(read(path).format)
        except NoFixesError:  # an open file of a sport without places
            assert data[8:12] == b".FIT"
    assert formats >= {"gpx", "fit", "igc", "nmea", "tcx", "csv"}
