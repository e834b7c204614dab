"""``crabline load`` and ``debrief --load`` as a user types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from command import as_text, crabline, cut
from jsonschema import Draft202012Validator
from track_writers import gpx
from worlds.loads import make_load

from analyser.report.documents.schemas import schema_text

NAMES = ("Ada", "Ben", "Cleo")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three tracks of one load, one of another day, and something that is no track."""
    top = tmp_path_factory.mktemp("tracks")
    for name, jump in zip(NAMES, make_load(825101, 3, cut_share=0.0).jumps):
        rec = jump.recording
        (top / f"{name}.gpx").write_bytes(gpx(rec.time_s, rec.lat_deg, rec.lon_deg, rec.altitude_m))
    rec = make_load(825102, 2, cut_share=0.0).jumps[0].recording
    (top / "other.gpx").write_bytes(gpx(rec.time_s, rec.lat_deg, rec.lon_deg, rec.altitude_m))
    (top / "broken.gpx").write_text("<gpx>")
    return top


def run(*words: object, code: int = 0) -> tuple[str, str]:
    done = as_text(crabline(*words, COLUMNS="100"))
    assert done.returncode == code, done.stderr
    return done.stdout, done.stderr


def test_tracks_give_text_page_and_a_document_that_keeps_to_its_schema(folder: Path, tmp_path: Path) -> None:
    tracks = [folder / f"{name}.gpx" for name in NAMES]
    out, err = run(
        "load", *tracks, folder / "other.gpx", "--html", tmp_path / "a.html", "--json", tmp_path / "a.json"
    )
    assert "A load of 3" in out
    assert all(name in out for name in NAMES)
    assert "other.gpx: is not of this load" in err
    document = json.loads((tmp_path / "a.json").read_text())
    assert list(Draft202012Validator(json.loads(schema_text("load"))).iter_errors(document)) == []
    assert sorted(f["name"] for f in document["flights"]) == list(NAMES)
    assert [len(f["winds"]) > 5 for f in document["flights"]] == [True] * 3
    assert all(a["distance_low_m"] <= a["distance_m"] <= a["distance_high_m"] for a in document["approaches"])
    assert "A load of 3" in (tmp_path / "a.html").read_text(encoding="utf-8")


def test_a_narrow_terminal_shows_every_word_and_number(folder: Path) -> None:
    assert cut("load", *(folder / f"{name}.gpx" for name in NAMES[:2]), "-q", cwd=folder) == set()


@pytest.mark.slow
def test_a_folder_and_a_time(folder: Path) -> None:
    out, err = run("load", folder, "--json", "-")
    document = json.loads(out)
    assert len(document["flights"]) == 3
    assert "broken.gpx" in err
    landed = document["flights"][0]["landed_utc"]
    again, _ = run("load", folder, "--at", landed, "--json", "-", "-q")
    assert json.loads(again) == document
    _, err = run("load", folder, "--at", "2001-01-01T10:00Z", code=1)
    assert err.splitlines()[-1].startswith("error: no load landed within an hour")


def test_what_is_no_load_is_one_line(folder: Path) -> None:
    _, err = run("load", folder / "Ada.gpx", folder / "other.gpx", code=1)
    assert err.splitlines()[-1].startswith("error: no two of these tracks are of one load")
    _, err = run("load", folder, "--at", "noon", code=2)
    assert "is no time" in err
    _, err = run("load", folder / "nothing.gpx", code=1)
    assert err.count("\n") == 1


@pytest.mark.slow
def test_a_debrief_in_the_wind_of_its_load(folder: Path, tmp_path: Path) -> None:
    track = folder / "Ada.gpx"
    alone = json.loads(run("debrief", track, "--json", "-")[0])
    together = json.loads(
        run("debrief", track, "--load", folder / "Ben.gpx", "--load", folder / "Cleo.gpx", "--json", "-")[0]
    )
    assert alone["wind_shared"] is None
    assert together["wind_shared"]["jumpers"] == 3
    first = [
        [row["sd_east_mps"] for row in one["winds"] if row["agl_m"] == 500.0] for one in (alone, together)
    ]
    assert first[1] < first[0]
    _, err = run("debrief", track, "--load", folder / "other.gpx", "--brief")
    assert "the wind is of this track alone" in err


def test_the_load_of_a_logbook(folder: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    run("season", folder, "--logbook", book, "--jobs", "1")
    out, _ = run("debrief", folder / "Ada.gpx", "--load", book, "--json", "-")
    assert json.loads(out)["wind_shared"]["jumpers"] == 3
