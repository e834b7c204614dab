"""A logbook damaged in single rows: they are named, set aside and made again; the rest is used. --check says what it finds."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from logbook_made import dump, run, twelve_tracks
from season_fakes import write_track

from analyser.errors import OutputError
from analyser.logbook import Logbook, schema
from analyser.logbook import open as opening
from analyser.logbook.check import check_logbook
from analyser.season.summarise import summarise

DAMAGES = {
    "a text where a time belongs": "UPDATE jump SET landing_utc = 'yesterday' WHERE rowid = :n",
    "a day that is none": "UPDATE jump SET landing_utc = '2031-02-31T10:00:00Z' WHERE rowid = :n",
    "a blob where a time belongs": "UPDATE jump SET landing_utc = x'00ff' WHERE rowid = :n",
    "a number as kind": "UPDATE jump SET kind = 5 WHERE rowid = :n",
    "no kind": "UPDATE jump SET kind = NULL WHERE rowid = :n",
    "a text as number": "UPDATE jump SET along_m = 'far' WHERE rowid = :n",
    "a number without end": "UPDATE jump SET along_m = 9e999 WHERE rowid = :n",
    "a blob as name": "UPDATE jump SET jumper = x'ff' WHERE rowid = :n",
    "a broken document": "UPDATE document SET json = substr(json, 1, 40) WHERE rowid = :n",
    "no document, a broken row": "UPDATE jump SET grade = x'00' WHERE rowid = :n",
    "a status that is none": "UPDATE content SET status = 'well' WHERE sha256 = (SELECT sha256 FROM jump WHERE rowid = :n)",
    "settings that are none": "UPDATE content SET settings = x'00' WHERE sha256 = (SELECT sha256 FROM jump WHERE rowid = :n)",
    "a row too few": "DELETE FROM jump WHERE rowid = :n",
    "a place that is none": "UPDATE track SET sha256 = x'00' WHERE sha256 = (SELECT sha256 FROM jump WHERE rowid = :n)",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    top = twelve_tracks(tmp_path / "season")
    run(top)
    return top


def change(book: Path, query: str) -> None:
    with closing(sqlite3.connect(book)) as db, db:
        if query.startswith("UPDATE jump SET grade"):
            db.execute("DELETE FROM document WHERE rowid = 4")
        n = db.execute("SELECT min(rowid) FROM jump WHERE rowid >= 4").fetchone()[0]
        assert db.execute(query, {"n": n}).rowcount >= 1


@pytest.mark.parametrize("name", DAMAGES)
def test_damaged_entries_are_named_and_made_again_and_the_rest_is_used(folder: Path, name: str) -> None:
    book = folder / "logbook.sqlite"
    before = dump(book)
    change(book, DAMAGES[name])
    checked = check_logbook(book)
    assert len(checked.wrong) == 1 or name == "a place that is none", "said, and nothing else is"
    counts = run(folder)
    assert len([w for w in counts.warnings if "logbook" in w or "looked up" in w]) == 1
    assert counts.debriefed <= 1
    assert dump(book) == before
    assert run(folder).warnings == []
    assert check_logbook(book).wrong == ()


def test_a_damaged_logbook_can_be_summarised_without_its_tracks(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    for query in DAMAGES.values():
        if "UPDATE jump" in query and "grade" not in query:
            change(book, query)
            with Logbook(book) as logbook:
                assert len(logbook.mended) == 1
                assert summarise(logbook).jumps == 13


def test_a_logbook_that_is_whole_is_not_written_when_opened(folder: Path) -> None:
    before = (folder / "logbook.sqlite").read_bytes()
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.mended == []
    assert (folder / "logbook.sqlite").read_bytes() == before


def test_check_finds_what_no_type_shows(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    assert check_logbook(book) == (12, 13, (), ())
    change(book, "UPDATE jump SET along_m = along_m + 1.0 WHERE rowid = :n")
    assert [line.partition(": ")[2] for line in check_logbook(book).wrong] == ["a row unlike its document"]
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("UPDATE jump SET along_m = along_m - 1.0 WHERE rowid = 4")
    (folder / "may" / "1.gpx").unlink()
    write_track(folder / "may" / "2.gpx", "another")
    assert check_logbook(book).changed == ("may/1.gpx: is gone", "may/2.gpx: has changed since it was read")
    with pytest.raises(OutputError, match="no such logbook"):
        check_logbook(folder / "none.sqlite")


def test_a_document_that_is_json_but_damaged_makes_no_row(folder: Path) -> None:
    """One byte of the landing time wrong in the document and in the row: only the file itself can make them again."""
    book = folder / "logbook.sqlite"
    before = dump(book)
    with closing(sqlite3.connect(book)) as db, db:
        for table, column in (("document", "json"), ("jump", "landing_utc")):
            query = f"UPDATE {table} SET {column} = replace({column}, '2031-06', '203U-06') WHERE rowid = 4"
            assert db.execute(query).rowcount == 1
    counts = run(folder)
    assert counts.debriefed == 1
    assert any("made again from its file" in line for line in counts.warnings)
    assert dump(book) == before


def test_retry_makes_again_a_document_whose_bytes_are_no_text(folder: Path) -> None:
    """One byte changed: JSON to SQLite, and no UTF-8."""
    book = folder / "logbook.sqlite"
    before = dump(book)
    with closing(sqlite3.connect(book)) as db, db:
        query = "UPDATE document SET json = CAST(replace(CAST(json AS BLOB), x'2267707822', x'2267ff7822') AS TEXT) WHERE rowid = 4"
        assert db.execute(query).rowcount == 1
    counts = run(folder, retry=True)
    assert sum("had a" in line for line in counts.warnings) == 1
    assert dump(book) == before
    assert check_logbook(book).wrong == ()


def test_retry_makes_again_what_no_type_shows(folder: Path) -> None:
    before = dump(folder / "logbook.sqlite")
    change(folder / "logbook.sqlite", "UPDATE jump SET along_m = along_m + 1.0 WHERE rowid = :n")
    assert not any("document" in line for line in run(folder).warnings), (
        "a plain run does not read every number"
    )
    counts = run(folder, retry=True)
    assert sum("had a row unlike its document" in line for line in counts.warnings) == 1
    assert dump(folder / "logbook.sqlite") == before
    assert check_logbook(folder / "logbook.sqlite").wrong == ()


def test_an_index_that_is_not_that_of_its_rows_is_made_again(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    before = dump(book)
    with closing(sqlite3.connect(book, isolation_level=None)) as db:
        db.execute("PRAGMA writable_schema = 1")
        (sql,) = db.execute("SELECT sql FROM sqlite_master WHERE name = 'jump_order'").fetchone()
        db.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'jump_order'", (sql + " WHERE jump > 1",))
    with closing(sqlite3.connect(book)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
    assert run(folder).debriefed == 0
    assert check_logbook(book).wrong == ()
    assert dump(book) == before


def test_a_schema_whose_words_are_no_text_is_a_damaged_logbook(folder: Path) -> None:
    """SQLite's own message about it is no UTF-8, which Python's module can not even raise."""
    book = folder / "logbook.sqlite"
    data = book.read_bytes()
    at = data.index(b"CREATE TABLE jump")
    book.write_bytes(data[: at + 7] + b"T\xdcBLE\x86" + data[at + 13 :])
    before = book.read_bytes()
    for work in (lambda: run(folder), lambda: check_logbook(book)):
        with pytest.raises(OutputError, match="is damaged") as caught:
            work()
        assert "\n" not in str(caught.value)
    assert book.read_bytes() == before


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"along_m REAL", b"Along_m REAL"),
        (b"along_m REAL", b"along_n REAL"),
        (b"along_m REAL", b"along_m REAM"),
        (b"jumper TEXT", b"Jumper TEXT"),
    ],
    ids=["a capital", "another name", "another type", "a name in capitals"],
)
def test_a_column_unlike_the_one_that_was_made_is_made_again(folder: Path, old: bytes, new: bytes) -> None:
    """SQLite's integrity check finds none of these; a column with a capital is still found by its name, but not called by it."""
    book = folder / "logbook.sqlite"
    before = dump(book)
    in_words_of(book, TABLE_OF_JUMPS, old, new)
    assert check_logbook(book).wrong == ("table jump: is not as it was made",)
    assert run(folder).debriefed == 0
    assert check_logbook(book).wrong == ()
    assert dump(book) == before


TABLE_OF_JUMPS = b"CREATE TABLE jump"


def in_words_of(book: Path, which: bytes, old: bytes, new: bytes) -> None:
    with closing(sqlite3.connect(book)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = book.read_bytes()
    at = data.index(old, data.index(which))
    book.write_bytes(data[:at] + new + data[at + len(new) :])


@pytest.mark.parametrize(
    ("kind", "name", "old", "new"),
    [
        ("trigger", "kept_wind_delete", b"OLD.jump", b"OLD.jumq"),
        ("table", "kept_wind", b"winds TEXT", b"winde TEXT"),
        ("table", "figures", b"made_by", b"Made_by"),
    ],
)
def test_what_is_kept_to_be_quick_is_made_again(
    folder: Path, kind: str, name: str, old: bytes, new: bytes
) -> None:
    book = folder / "logbook.sqlite"
    before = dump(book)
    in_words_of(book, f"CREATE {kind.upper()} {name}".encode(), old, new)
    assert check_logbook(book).wrong == (f"{kind} {name}: is not as it was made",)
    run(folder, retry=True)
    assert check_logbook(book).wrong == ()
    assert dump(book) == before


def test_a_jump_that_changes_still_forgets_its_figures_after_its_table_was_made_again(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    in_words_of(book, TABLE_OF_JUMPS, b"along_m REAL", b"Along_m REAL")
    run(folder)
    with closing(sqlite3.connect(book)) as db:
        assert sorted(db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")) == sorted(
            triggers
        )


def day_of_three(folder: Path) -> tuple[str, str]:
    """The place and content of the file that holds three jumps."""
    with closing(sqlite3.connect(folder / "logbook.sqlite")) as db:
        return db.execute(
            "SELECT path, sha256 FROM track JOIN content USING (sha256) WHERE jumps = 3"
        ).fetchone()


GONE_DAMAGES = {
    "a count that is none": ("UPDATE content SET jumps = 'x' WHERE sha256 = :sha", 3),
    "one document broken": ("UPDATE document SET json = '{' WHERE sha256 = :sha AND jump = 1", 2),
    "one row missing": ("DELETE FROM jump WHERE sha256 = :sha AND jump = 1", 3),
    "no time of the file": ("UPDATE track SET mtime_ns = 1.5 WHERE sha256 = :sha", 3),
    "a place in bytes": ("UPDATE track SET path = CAST(path AS BLOB) WHERE sha256 = :sha", 3),
    "another content at its place": ("UPDATE track SET sha256 = upper(sha256) WHERE sha256 = :sha", 3),
}


@pytest.mark.parametrize(("damage", "left"), GONE_DAMAGES.values(), ids=list(GONE_DAMAGES))
def test_jumps_of_a_track_that_is_gone_outlive_damage_to_one_of_them(
    folder: Path, damage: str, left: int
) -> None:
    """No file makes them again, so what is whole stays; what is not is set aside with its words."""
    book = folder / "logbook.sqlite"
    key, sha256 = day_of_three(folder)
    (folder / key).unlink()
    run(folder)
    with closing(sqlite3.connect(book)) as db, db:
        before = dict(db.execute("SELECT jump, json FROM document WHERE sha256 = ?", (sha256,)))
        assert db.execute(damage, {"sha": sha256}).rowcount == 1
    for _ in range(2):
        run(folder, retry=True)
    with closing(sqlite3.connect(book)) as db:
        assert db.execute("SELECT count(*) FROM jump WHERE sha256 = ?", (sha256,)).fetchone()[0] == left
        kept = dict(db.execute("SELECT jump, json FROM document WHERE sha256 = ?", (sha256,)))
        assert len(kept) == left
        assert kept.items() <= before.items()
        if left < 3:
            assert db.execute("SELECT json FROM set_aside WHERE sha256 = ?", (sha256,)).fetchall() == [("{",)]
    assert check_logbook(book).wrong == ()


def test_a_file_that_is_spoilt_in_its_place_keeps_its_jumps_and_is_tried_again(folder: Path) -> None:
    """As one that is gone does; what is wrong with it is said, until it is a track again."""
    book = folder / "logbook.sqlite"
    _, sha256 = day_of_three(folder)
    key = "june/day.gpx"
    before = dump(book)
    whole = (folder / key).read_bytes()
    write_track(folder / key, "bad, and by itself")
    for _ in range(2):
        assert run(folder).failed == 1
        with Logbook(book) as logbook:
            assert logbook.count() == 13
            assert any(key in str(line) for line in logbook.failures())
    (folder / key).write_bytes(whole)
    assert run(folder).failed == 0
    assert dump(book) == before
    write_track(folder / key, "jumps=2")
    run(folder)
    with closing(sqlite3.connect(book)) as db:
        assert db.execute("SELECT count(*) FROM content WHERE sha256 = ?", (sha256,)).fetchone()[0] == 0


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        ("DELETE FROM content WHERE sha256 = :sha", "has no content"),
        ("DELETE FROM track WHERE sha256 = :sha", "has no track"),
        ("PRAGMA user_version = 0", "version: none"),
        ("DROP TABLE jump", "table jump: is not as it was made"),
        ("DROP TABLE track", "table track: is not as it was made"),
    ],
)
def test_the_check_says_what_is_missing(folder: Path, damage: str, said: str) -> None:
    book = folder / "logbook.sqlite"
    _, sha256 = day_of_three(folder)
    with closing(sqlite3.connect(book)) as db, db:
        db.execute(damage, {"sha": sha256} if ":sha" in damage else {})
    assert any(said in line for line in check_logbook(book).wrong)


def test_an_older_logbook_whose_words_are_damaged_is_refused_as_the_version_it_was(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("ALTER TABLE track RENAME COLUMN size TO siz")
        db.execute(f"PRAGMA user_version = {schema.VERSION - 1}")
    with pytest.raises(OutputError, match="is damaged"):
        run(folder)
    with closing(sqlite3.connect(book)) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == schema.VERSION - 1


@pytest.mark.parametrize("row", [b"triggerKept_wind_insert", b"trigGerkept_wind_insert"])
def test_a_trigger_under_another_name_is_a_damaged_logbook_and_left_as_it_was(
    folder: Path, row: bytes
) -> None:
    """SQLite drops a trigger by the name in its words and would leave the row: after a second one of that name nothing opens any more."""
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = book.read_bytes()
    book.write_bytes(data.replace(b"triggerkept_wind_insert", row))
    before = book.read_bytes()
    assert before != data
    for _ in range(2):
        with pytest.raises(OutputError, match="is damaged"):
            run(folder)
    assert book.read_bytes() == before


def test_a_table_of_documents_unlike_the_one_that_was_made_is_a_damaged_logbook(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    in_words_of(book, b"CREATE TABLE document", b"json TEXT", b"Json TEXT")
    before = book.read_bytes()
    with pytest.raises(OutputError, match="is damaged"):
        run(folder)
    assert book.read_bytes() == before


def test_tracks_that_are_gone_stay_until_they_are_to_be_forgotten(folder: Path) -> None:
    (folder / "may" / "1.gpx").unlink()
    assert run(folder).missing == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13
    counts = run(folder, forget=True)
    assert (counts.missing, counts.warnings) == (0, ["may/1.gpx: is gone and was forgotten"])
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 12
    assert run(folder, forget=True).warnings == []


def test_a_reader_in_another_journal_mode_is_one_line_soon(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reader keeps its lock for good; what waits is counted, not timed."""
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
    write_track(folder / "may" / "new.gpx", "new")
    monkeypatch.setattr(opening, "BUSY_S", 0.1)
    monkeypatch.setattr(opening, "SWITCH_S", 0.001)
    naps: list[float] = []
    monkeypatch.setattr(opening.time, "sleep", naps.append)
    with closing(sqlite3.connect(book)) as reader:
        rows = reader.execute("SELECT * FROM jump")
        rows.fetchone()
        with pytest.raises(OutputError, match="is held by another run"):
            run(folder)
        rows.close()
    assert sum(naps) <= 5.0
    assert run(folder).debriefed == 1


def as_version_1(book: Path) -> None:
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("DROP TABLE jump")
        db.execute("PRAGMA user_version = 1")


def test_a_logbook_of_version_1_is_brought_up_whatever_index_is_in_the_way(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    before = dump(book)
    for index in ("jump", "jump_order", "jump_jumper", "old_jump"):
        as_version_1(book)
        with closing(sqlite3.connect(book)) as db, db:
            db.execute(f"CREATE INDEX {index} ON document (jump)")
        assert run(folder).debriefed == 0
        assert dump(book) == before


def test_a_broken_document_does_not_stop_a_logbook_of_version_1(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    before = dump(book)
    change(book, DAMAGES["a broken document"])
    as_version_1(book)
    assert run(folder).debriefed == 1
    assert dump(book) == before
    with closing(sqlite3.connect(book)) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == schema.VERSION
