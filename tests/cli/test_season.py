"""``crabline season``: what is said on stderr, --private, --check, --forget."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from season_fakes import fake_job, write_track
from typer.testing import CliRunner

import analyser.cli.season as command
from analyser.batch.run import run_season
from analyser.cli.app import app
from analyser.errors import InputError

WORDS = ("Ilka", "secret", "Larkmoor", "june")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two tracks of a named jumper and a correction that meets none; the debrief is a stand-in in this process."""
    top = tmp_path / "june"
    for i in range(2):
        write_track(top / f"secret{i}.gpx", f"track {i}")
    write_track(top / "secret-bad.gpx", "bad")
    (top / "logbook.toml").write_text(
        '[jumper]\nname = "Ilka"\n[site]\nname = "Larkmoor"\n[[jump]]\nfile = "secret9.gpx"\nnote = "x"\n'
    )
    monkeypatch.setattr(
        command, "run_season", lambda *a, **k: run_season(*a, **(k | {"work": fake_job, "jobs": 1}))
    )
    return top


def season(folder: Path, *options: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["season", str(folder), *options])
    if result.exception is not None and not isinstance(result.exception, (SystemExit, InputError)):
        raise result.exception
    words = f"{result.stderr}{result.exception or ''}"
    return result.exit_code, " ".join(result.stdout.split()), words


def test_private_says_no_name_of_anybody_or_anything(folder: Path) -> None:
    _, out, words = season(folder)
    assert "secret9.gpx" in words
    _, out, words = season(folder, "--private", "--strict")
    assert "1 remark(s)" in words
    assert not [w for w in WORDS if w in out + words]


def test_check_says_what_is_wrong_and_nothing_else(folder: Path) -> None:
    season(folder)
    code, out, words = season(folder, "--check")
    assert (code, out, words) == (0, "3 tracks, 2 jumps: nothing is wrong", "")
    with closing(sqlite3.connect(folder / "logbook.sqlite")) as db, db:
        db.execute("UPDATE jump SET along_m = 'far' WHERE rowid = 1")
    code, out, words = season(folder, "--check")
    assert code == 1
    assert "a damaged row" in out
    assert "1 entries are wrong" in words


def test_forget_drops_what_is_gone(folder: Path) -> None:
    season(folder)
    (folder / "secret0.gpx").unlink()
    assert "no longer there" in season(folder)[1]
    assert "secret0.gpx: is gone and was forgotten" in season(folder, "--forget")[2]
    assert "3 tracks" not in season(folder, "--check")[1]
