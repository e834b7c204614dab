"""The logbook: nothing lost, nothing double, nothing done twice."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from logbook_made import dump, rows_by_file, run, serial, twelve_tracks
from season_fakes import write_track

from analyser.batch.processes import Failed
from analyser.batch.update import update
from analyser.batch.work import Answer, Job
from analyser.errors import UnreadableError
from analyser.logbook import Logbook
from analyser.logbook.jump_columns import COLUMNS, WHO
from analyser.logbook.plans import Plans
from analyser.logbook.scan import scan

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return twelve_tracks(tmp_path / "season")


def test_first_run_then_an_unchanged_one(folder: Path) -> None:
    first = run(folder)
    assert (first.tracks, first.debriefed, first.failed, first.unchanged) == (12, 11, 1, 0)
    before = dump(folder / "logbook.sqlite")
    again = run(folder)
    assert (again.tracks, again.debriefed, again.failed, again.unchanged) == (12, 0, 0, 11)
    assert again.failed_before == 1
    assert dump(folder / "logbook.sqlite") == before
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13
        assert [f.path for f in logbook.failures()] == ["june/bad.gpx"]
        dates = [row["landing_utc"] for row in logbook.rows()]
        assert dates == sorted(dates)


def test_only_new_and_changed_tracks_are_debriefed(folder: Path) -> None:
    run(folder)
    write_track(folder / "june" / "1.gpx", "june 1 again")
    write_track(folder / "june" / "new.gpx", "new")
    counts = run(folder)
    assert (counts.debriefed, counts.unchanged, counts.failed_before) == (2, 10, 1)
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 14  # the jump of the old content of 1.gpx is gone, not kept beside
        assert sum(row["file"] == "june/1.gpx" for row in logbook.rows()) == 1


def test_a_track_of_other_content_and_the_same_size_is_debriefed(folder: Path) -> None:
    run(folder)
    write_track(folder / "may" / "1.gpx", "may 9")
    assert run(folder).debriefed == 1


def test_tracks_come_in_one_order_whatever_the_disk_says(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two copies the first by name keeps its place in the logbook, on every system."""
    usual = [found.path for found in scan([folder])]
    walk = os.walk

    def backwards(top: str, **options: Any) -> Iterator[tuple[str, list[str], list[str]]]:
        for root, names, files in walk(top, **options):
            names.sort(reverse=True)
            yield root, names, files

    monkeypatch.setattr("analyser.logbook.scan.os.walk", backwards)
    assert [found.path for found in scan([folder])] == usual == sorted(usual)


def test_a_touched_track_is_hashed_but_not_debriefed(folder: Path) -> None:
    run(folder)
    os.utime(folder / "may" / "1.gpx", (1, 1))
    assert run(folder).debriefed == 0


def test_moved_and_renamed_tracks_are_recognised(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    (folder / "july").mkdir()
    (folder / "june" / "1.gpx").rename(folder / "july" / "renamed.gpx")
    (folder / "june" / "2.gpx").rename(folder / "june" / "swap.gpx")
    (folder / "june" / "3.gpx").rename(folder / "june" / "2.gpx")
    (folder / "june" / "swap.gpx").rename(folder / "june" / "3.gpx")
    counts = run(folder)
    assert (counts.debriefed, counts.missing) == (0, 0)
    with Logbook(folder / "logbook.sqlite") as logbook:
        files = {row["file"] for row in logbook.rows()}
    assert "july/renamed.gpx" in files
    assert "june/1.gpx" not in files
    assert len(dump(folder / "logbook.sqlite")) == len(before)


def test_the_whole_folder_may_move(folder: Path, tmp_path: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    shutil.move(folder, tmp_path / "elsewhere")
    assert run(tmp_path / "elsewhere").debriefed == 0
    assert dump(tmp_path / "elsewhere" / "logbook.sqlite") == before


def test_a_copy_is_no_second_jump(folder: Path) -> None:
    shutil.copy(folder / "may" / "1.gpx", folder / "may" / "copy of 1.gpx")
    counts = run(folder)
    assert counts.copies == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13


def test_jumps_of_a_vanished_track_are_kept_and_said(folder: Path) -> None:
    run(folder)
    (folder / "may" / "1.gpx").unlink()
    assert run(folder).missing == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13


def test_a_failure_that_may_not_be_the_files_own_is_tried_again_in_the_next_run(folder: Path) -> None:
    def killed(jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
        for job in jobs:
            yield job, Failed("the process that read it crashed", again=True)

    with Logbook(folder / "logbook.sqlite") as logbook:
        assert update(logbook, [folder], Plans(), killed).failed == 12
    again = run(folder)
    assert (again.debriefed, again.failed, again.failed_before) == (11, 1, 0)
    assert run(folder).failed_before == 1, "what is the file's own stays"


def test_a_failed_track_is_tried_again_only_when_changed_or_asked(folder: Path) -> None:
    run(folder)
    before = run(folder)
    assert (before.failed, before.failed_before, before.unchanged) == (0, 1, 11)
    assert run(folder, retry=True).failed == 1
    write_track(folder / "june" / "bad.gpx", "good now")
    assert run(folder).debriefed == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert list(logbook.failures()) == []


def test_an_unreadable_track_is_listed_and_recovers(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> str:
        raise UnreadableError("can not be read: Permission denied", "", str(path))

    with monkeypatch.context() as patch:
        patch.setattr("analyser.batch.update.content_hash", refuse)
        assert run(folder).unreadable == 12
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert len(list(logbook.failures())) == 12
    run(folder)
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert len(list(logbook.failures())) == 1


def test_a_folder_that_can_not_be_listed_is_told_and_costs_no_other(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scandir = os.scandir

    def refuse(path: str | Path) -> Iterator[os.DirEntry[str]]:
        if Path(path) == folder / "may":
            raise PermissionError(13, "Permission denied", os.fspath(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)  # even where the tests run as root
    counts = run(folder)
    assert (counts.tracks, counts.debriefed) == (7, 6)
    assert counts.warnings == [
        f"{folder / 'may'}: can not be read: Permission denied; its tracks were left out"
    ]


def test_only_plain_files_are_opened(folder: Path) -> None:
    os.mkfifo(folder / "may" / "pipe.gpx")
    (folder / "may" / "link.gpx").symlink_to(folder / "june" / "1.gpx")
    (folder / "may" / "loop").symlink_to(folder)
    odd = write_track(folder / "may" / "a\nb\x1b[31m.gpx", "odd name")
    nameless = write_track(folder / "may" / "no suffix", "by content")
    (folder / "may" / os.fsdecode(b"latin\xe9.gpx")).write_text("<gpx>latin</gpx>")
    counts = run(folder)
    assert counts.tracks == 15
    again = run(folder)
    assert (again.unchanged, again.failed_before) == (14, 1)
    assert odd.exists()
    assert nameless.exists()


def test_folders_that_overlap_count_once(folder: Path) -> None:
    with Logbook(folder / "logbook.sqlite") as logbook:
        counts = update(logbook, [folder / "june", folder, folder], Plans(), serial)
    assert counts.tracks == 12
    with (
        pytest.raises(UnreadableError, match="no such folder"),
        Logbook(folder / "logbook.sqlite") as logbook,
    ):
        update(logbook, [folder / "none"], Plans(), serial)


def test_an_open_logbook_may_be_brought_up_to_date_twice(folder: Path) -> None:
    with Logbook(folder / "logbook.sqlite") as logbook:
        update(logbook, [folder], Plans(), serial)
        again = update(logbook, [folder], Plans(), serial)
    assert (again.unchanged, again.failed_before, again.copies) == (11, 1, 0)


def test_a_logbook_elsewhere(folder: Path, tmp_path: Path) -> None:
    book = tmp_path / "elsewhere.sqlite"
    assert run(folder, book).debriefed == 11
    assert run(folder, book).unchanged == 11
    assert not (folder / "logbook.sqlite").exists()


def test_a_logbook_of_the_first_version_is_brought_up_to_date(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(folder)
    now = dump(folder / "logbook.sqlite")
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("PRAGMA user_version = 1")
        db.execute("ALTER TABLE jump RENAME TO newer")
        db.execute("CREATE TABLE jump AS SELECT sha256, jump, jumper, note FROM newer")
        db.execute("DROP TABLE newer")
    assert dump(book) == now
    assert run(folder).debriefed == 0


def test_rows_have_the_columns_of_the_season(folder: Path) -> None:
    run(folder)
    row = next(iter(rows_by_file(folder).values()))
    assert list(row) == ["file", "sha256", "jump", *WHO, *COLUMNS]
