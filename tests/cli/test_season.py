"""``crabline season``: what is said on stderr, --private, --check, --forget."""

from __future__ import annotations

import csv
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from season_fakes import fake_job, write_track
from typer.testing import CliRunner

import analyser.cli.season as command
from analyser.batch.run import run_season
from analyser.cli.app import app
from analyser.errors import AnalyserError

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
    if result.exception is not None and not isinstance(result.exception, (SystemExit, AnalyserError)):
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


def test_a_talk_sheet_on_the_screen_and_as_pages(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    code, text, _ = season(
        folder,
        *("--talk", "ilka", "--html", str(out / "one.html"), "--talks", str(out / "sheets")),
        *("--coach", str(out / "coach.html"), "--progress", str(out / "progress.csv")),
    )
    assert code == 0
    assert text.startswith("crabline season Talk with Ilka")
    assert "WHAT WE AGREE ON NOW" in text
    page = (out / "one.html").read_text(encoding="utf-8")
    assert "<h1>Talk with Ilka</h1>" in page
    sheet = (out / "sheets" / "talk-ilka.html").read_text(encoding="utf-8")
    assert re.sub(r'<meta name="made-from" content="\w+">\n', "", sheet) == page
    assert 'href="sheets/talk-ilka.html"' in (out / "coach.html").read_text(encoding="utf-8")
    rows = list(csv.DictReader((out / "progress.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["jumper"] for row in rows} == {"Ilka"}
    assert {row["witness"] for row in rows} == {""}
    ring = next(row for row in rows if row["radius_m"] == "100.0")
    assert int(ring["met"]) == len(ring["days"].split()) <= int(ring["of"]) == 2


def test_a_talk_with_nobody_is_one_line(folder: Path) -> None:
    code, _, words = season(folder, "--talk", "Ilca")
    assert code == 1
    assert "Ilca: nobody of that name in the logbook; did you mean Ilka?" in words


def test_private_sheets_name_nobody(folder: Path, tmp_path: Path) -> None:
    with (folder / "logbook.toml").open("a") as file:
        file.write('[[talk]]\ndate = 2026-06-02\nagreed = "secret plan"\n')
    out = tmp_path / "out"
    _, text, words = season(
        folder,
        *("--private", "--talk", "Ilka", "--html", str(out / "t.html")),
        *(
            "--talks",
            str(out / "sheets"),
            "--coach",
            str(out / "coach.html"),
            "--progress",
            str(out / "p.csv"),
        ),
    )
    assert [p.name for p in (out / "sheets").iterdir()] == ["talk-jumper-1.html"]
    assert 'href="sheets/talk-jumper-1.html"' in (out / "coach.html").read_text(encoding="utf-8")
    made = [p for p in out.rglob("*") if p.is_file()]
    assert len(made) == 4
    told = text + words + "".join(p.read_text(encoding="utf-8") for p in made)
    assert not [w for w in (*WORDS, "2026-06-02", "2031") if w in told]


@pytest.mark.parametrize(
    "wrong",
    [
        ("--talk", "Ilca"),  # whose name is near
        ("--talk", "k"),  # two hold it
        ("--csv", "{june}/secret0.gpx"),
        ("--csv", "{june}/secret0.gpx/x.csv"),
        ("--html", "{june}/logbook.toml"),
        ("--logbook", "{june}/secret0.gpx"),
        ("--plan", "{june}/secret.toml"),
    ],
    ids=" ".join,
)
def test_private_errors_name_their_kind_alone(folder: Path, wrong: tuple[str, str]) -> None:
    with (folder / "logbook.toml").open("a") as file:
        file.write('[[jump]]\nfile = "secret1.gpx"\njumper = "Kilk"\n')
    words = [word.format(june=folder) for word in wrong]
    code, out, named = season(folder, *words)
    assert code == 1
    assert [w for w in (*WORDS, "Ilca", "k:") if w in named]
    code, out, told = season(folder, "--private", *words)
    assert code == 1
    assert "run without --private to read which and why" in told
    assert not [w for w in (*WORDS, "Ilca", "Kilk", str(folder.parent)) if w in out + told]


@pytest.mark.parametrize("text", ['[jumper\nname = "Ilka"', '[jumper]\nnmae = "Ilka"', "[site]\nname = 3"])
def test_private_tells_of_a_broken_logbook_toml_without_its_place(folder: Path, text: str) -> None:
    (folder / "logbook.toml").write_text(text)
    _, out, told = season(folder, "--private")
    assert "a plan, table or logbook.toml breaks a rule" in told
    assert not [w for w in (*WORDS, str(folder.parent)) if w in out + told]


def test_private_check_counts_and_names_nothing(folder: Path) -> None:
    season(folder)
    (folder / "secret0.gpx").unlink()
    assert "secret0.gpx: is gone" in season(folder, "--check")[1]
    code, out, told = season(folder, "--check", "--private")
    assert (code, told) == (0, "")
    assert out == "3 tracks, 2 jumps: nothing is wrong, 1 changed since (the next season looks at them)"
    with closing(sqlite3.connect(folder / "logbook.sqlite")) as db, db:
        db.execute("UPDATE jump SET along_m = 'far' WHERE rowid = 1")
    code, out, told = season(folder, "--check", "--private")
    assert code == 1
    assert out == ""
    assert not [w for w in (*WORDS, str(folder.parent)) if w in told]
    (folder / "logbook.sqlite").unlink()
    code, out, told = season(folder, "--check", "--private")
    assert code == 1
    assert not [w for w in (*WORDS, str(folder.parent)) if w in out + told]


def test_private_tables_documents_and_cards_hold_no_word_of_anybody(folder: Path, tmp_path: Path) -> None:
    """Everything at once, with a logbook in another folder, whose way to the tracks would tell names."""
    out = tmp_path / "elsewhere"
    files = {
        "--csv": "o.csv",
        "--json": "o.json",
        "--html": "o.html",
        "--parquet": "o.parquet",
        "--coach": "c.html",
    }
    files |= {
        "--canopy-cards": "cards",
        "--pages": "pages",
        "--talks": "talks",
        "--progress": "p.csv",
        "--assets": "a",
    }
    files["--logbook"] = "book.sqlite"
    words = [word for option, name in files.items() for word in (option, str(out / name))]
    code, text, told = season(folder, "--private", *words)
    assert code == 0
    made = [p for p in out.rglob("*") if p.is_file() and p.name != "book.sqlite"]
    assert {p.suffix for p in made} >= {".csv", ".json", ".html", ".parquet"}
    whole = text + told + "".join(p.read_bytes().decode("utf-8", "replace") + p.name for p in made)
    assert not [w for w in (*WORDS, str(tmp_path), "2031-") if w in whole]
