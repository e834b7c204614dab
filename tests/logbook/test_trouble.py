"""Damage, a full disk, a folder that may not be written: one clear line, the logbook untouched."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from logbook_made import dump, rows_by_file, run, serial, twelve_tracks
from season_fakes import write_track

from analyser.batch.update import update
from analyser.errors import AnalyserError, OutputError
from analyser.logbook import Logbook, schema
from analyser.logbook.plans import Plans

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return twelve_tracks(tmp_path / "season")


def one_line(error: AnalyserError) -> str:
    assert "\n" not in str(error)
    return str(error)


def test_a_file_that_is_no_logbook_is_left_alone(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    book.write_bytes(b"my notes " * 100)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "is no logbook, or is damaged" in one_line(caught.value)
    assert book.read_bytes() == b"my notes " * 100


def test_a_database_of_something_else_is_left_alone(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    before = book.read_bytes()
    with pytest.raises(OutputError, match="a database of another kind"):
        run(folder)
    assert book.read_bytes() == before


def test_a_damaged_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    book = folder / "logbook.sqlite"
    data = bytearray(book.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    book.write_bytes(data)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "damaged" in one_line(caught.value)
    assert book.read_bytes() == bytes(data)


def test_a_cut_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    book = folder / "logbook.sqlite"
    data = book.read_bytes()[:9000]
    book.write_bytes(data)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "damaged" in one_line(caught.value)
    assert book.read_bytes() == data


def test_a_newer_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    with closing(sqlite3.connect(folder / "logbook.sqlite")) as db, db:
        db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    with pytest.raises(OutputError, match="newer version"):
        run(folder)


def test_a_missing_folder_and_a_folder_in_place_of_the_logbook(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="its folder does not exist"):
        run(folder, tmp_path / "none" / "logbook.sqlite")
    with pytest.raises(OutputError, match="not a plain file"):
        run(folder, tmp_path)


def test_a_folder_that_may_not_be_written(folder: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    mode = folder.stat().st_mode
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(OutputError) as caught:
            run(folder)
        assert "no permission" in one_line(caught.value)
    finally:
        folder.chmod(mode)


def test_a_logbook_that_may_not_be_written(folder: Path) -> None:
    run(folder)
    write_track(folder / "may" / "new.gpx", "new")
    with Logbook(folder / "logbook.sqlite") as logbook:
        logbook._db.execute("PRAGMA query_only = 1")  # what a read-only disk does to every write
        with pytest.raises(OutputError) as caught:
            update(logbook, [folder], Plans(), serial)
    assert "no permission" in one_line(caught.value)
    assert run(folder).debriefed == 1


def test_a_full_disk_keeps_what_was_done(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    for i in range(40):
        write_track(folder / "july" / f"{i}.gpx", f"july {i} jumps=9")
    with Logbook(folder / "logbook.sqlite") as logbook:
        pages = logbook._db.execute("PRAGMA page_count").fetchone()[0]
        logbook._db.execute(f"PRAGMA max_page_count = {pages + 12}")
        with pytest.raises(OutputError) as caught:
            update(logbook, [folder], Plans(), serial)
    assert "disk is full" in one_line(caught.value)
    after = dump(folder / "logbook.sqlite")
    assert set(before) <= set(after)
    run(folder)
    assert len(rows_by_file(folder)) == 13 + 360


LIMITED = """
import resource, sys
from pathlib import Path
sys.path[:0] = [{tests!r}]
from season_fakes import fake_job
from analyser.errors import OutputError
from analyser.logbook import Logbook
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.logbook.plans import Plans
from analyser.batch.update import update
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    with Logbook({book!r}) as logbook:
        update(logbook, [Path({folder!r})], Plans(), lambda jobs: ((job, fake_job(job)) for job in jobs))
except OutputError as error:
    print(error)
"""


def test_files_that_may_not_grow_are_one_clear_line(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    for i in range(40):
        write_track(folder / "july" / f"{i}.gpx", f"july {i} jumps=9")
    book = folder / "logbook.sqlite"
    script = LIMITED.format(
        tests=str(ROOT / "tests"), book=str(book), folder=str(folder), limit=book.stat().st_size + 30_000
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env=environment)
    assert done.stderr == ""
    assert "disk is full or fails; what was done before is kept" in done.stdout
    assert set(before) <= set(dump(book))
    run(folder)
    assert len(rows_by_file(folder)) == 13 + 360
