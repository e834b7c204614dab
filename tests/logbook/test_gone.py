"""Jumps whose tracks are gone: corrections by hand reach them, and landings against another target leave the levels."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from logbook_made import rows_by_file, run
from season_fakes import write_track

from analyser.logbook import Logbook
from analyser.logbook.jump_columns import TARGET_MOVED
from analyser.logbook.scan import content_hash
from analyser.season.jumps import read_jumps

HEAD = '[jumper]\nname = "Ana Quill"\n[site]\ntarget = [50.0, 1.0]\n'
MOVED = HEAD.replace("50.0", "50.001")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two tracks in a folder of their own, one of them debriefed and then deleted; returns the folder above."""
    top = tmp_path / "season"
    for name in ("kept", "gone"):
        write_track(top / "may" / f"{name}.gpx", f"{name} track")
    (top / "logbook.toml").write_text(HEAD)
    run(top)
    return top


def lose(folder: Path, *, whole: bool = False) -> str:
    """Delete the track, or its whole folder; the begin of its hash."""
    sha256 = content_hash(folder / "may" / "gone.gpx")
    if whole:
        shutil.rmtree(folder / "may")
        write_track(folder / "june" / "other.gpx", "other")
    else:
        (folder / "may" / "gone.gpx").unlink()
    return sha256[:12]


@pytest.mark.parametrize("whole", [False, True])
def test_corrections_by_content_reach_a_jump_whose_file_is_gone(folder: Path, whole: bool) -> None:
    begin = lose(folder, whole=whole)
    toml = folder / "logbook.toml"
    more = f'[[jump]]\ncontent = "{begin}"\nexclude = "gone one"\ncanopy = "Wide 230"\nnote = "a word"\njumper = "Bo Reed"\n'
    toml.write_text(HEAD + more)
    counts = run(folder)
    assert not [w for w in counts.warnings if "no track" in w]
    assert counts.debriefed == whole  # the other track alone
    row = rows_by_file(folder)["may/gone.gpx#1"]
    assert (row["excluded"], row["canopy"], row["note"], row["jumper"]) == (
        "gone one",
        "Wide 230",
        "a word",
        "Bo Reed",
    )
    with Logbook(folder / "logbook.sqlite") as book:
        assert '"name":"Wide 230"' in (book.document(str(row["sha256"]), 1) or "")
    toml.write_text(HEAD + more.replace('exclude = "gone one"', "include = true"))
    run(folder)
    assert rows_by_file(folder)["may/gone.gpx#1"]["excluded"] is None


def test_a_jump_keeps_the_names_of_a_folder_that_is_gone(folder: Path) -> None:
    (folder / "may" / "logbook.toml").write_text('[jumper]\nname = "Cy Swap"\n')
    run(folder)
    lose(folder, whole=True)
    (folder / "logbook.toml").write_text(MOVED)
    run(folder)
    row = rows_by_file(folder)["may/gone.gpx#1"]
    assert (row["jumper"], row["excluded"]) == ("Cy Swap", None)


def test_a_landing_against_another_target_leaves_the_levels_and_comes_back(folder: Path) -> None:
    lose(folder)
    toml = folder / "logbook.toml"
    toml.write_text(MOVED)
    assert run(folder).debriefed == 1
    rows = rows_by_file(folder)
    assert rows["may/gone.gpx#1"]["excluded"] == TARGET_MOVED
    assert rows["may/kept.gpx#1"]["excluded"] is None
    with Logbook(folder / "logbook.sqlite") as book:
        jumps, left_out = read_jumps(book.rows())
    assert [(one.count, one.reason) for one in left_out] == [
        (1, "landings measured from another target, whose files are gone")
    ]
    known = dict(
        zip(jumps.text["file"], zip(jumps["along_m"], jumps["airspeed_mps"], strict=True), strict=True)
    )
    assert len(jumps) == 2
    assert known["may/gone.gpx"][0] != known["may/gone.gpx"][0]  # not a number
    assert known["may/gone.gpx"][1] > 0.0
    assert known["may/kept.gpx"][0] == known["may/kept.gpx"][0]
    toml.write_text(HEAD.replace("50.0", "50.000001"))  # the same target, written with other digits
    run(folder)
    assert rows_by_file(folder)["may/gone.gpx#1"]["excluded"] is None
    toml.write_text(HEAD)
    run(folder)
    assert rows_by_file(folder)["may/gone.gpx#1"]["excluded"] is None


def test_a_plan_at_fault_is_told_and_stops_nothing(folder: Path) -> None:
    begin = lose(folder)
    (folder / "logbook.toml").write_text(HEAD + f'[[jump]]\ncontent = "{begin}"\nplan = "none.toml"\n')
    warnings = run(folder).warnings
    assert [w for w in warnings if w.startswith("may/gone.gpx: is gone, and its plan can not be used")]
