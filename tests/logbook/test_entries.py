"""Many tracks looked up at once; and whose advice is weighed again when something changes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from season_fakes import write_track

from analyser.batch.run import run_season
from analyser.batch.work import Answer, Job, JumpAnswer
from analyser.logbook import Logbook
from analyser.logbook.book import Result
from analyser.logbook.jump_columns import WHO, Row, jump_row
from analyser.logbook.scan import Found

LANDING = "2026-06-14T10:00:00Z"
CHOICE = {"gate": "final", "change_agl_m": 10.0}


def found(name: str, changed: int = 1) -> Found:
    return Found(Path(name), 1, 1, changed)


def sha(name: str) -> str:
    return name * 32


def entered(book: Logbook, name: str, jumper: str | None, settings: str = "s", changed: int = 1) -> None:
    document = {
        "kind": "jump",
        "landing": {"utc": LANDING, "lat": 47.0, "lon": 9.0},
        "advice_choices": [CHOICE],
        "advice": [],
        "budget": [],
    }
    row: Row = dict.fromkeys(WHO) | jump_row(document) | {"jumper": jumper}
    result = Result(1, row, json.dumps(document))
    book.put_results(f"{name}.gpx", sha(name), found(f"{name}.gpx", changed), settings, [result])


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    opened = Logbook(tmp_path / "logbook.sqlite")
    for name, jumper in (("a1", "A"), ("a2", "A"), ("b1", "B"), ("n1", None)):
        entered(opened, name, jumper)
    return opened


def weighed(book: Logbook) -> set[str]:
    """The contents whose advice would be weighed, and nothing left to weigh."""
    concerned = {jump.sha256[:2] for jump in book.weighable()}
    book.all_weighed()
    return concerned


def test_what_is_known_is_that_of_single_questions(book: Logbook) -> None:
    book.put_failure("x1.gpx", sha("x1"), found("x1.gpx"), "s", "empty")
    book.put_track("copy.gpx", sha("a1"), found("copy.gpx"))
    names = ("a1.gpx", "b1.gpx", "n1.gpx", "x1.gpx", "copy.gpx", "a2.gpx", "nowhere.gpx")
    tracks = {name: found(name, 2 if name == "a2.gpx" else 1) for name in names}
    known = book.known(tracks)
    assert set(known) == set(names) - {"a2.gpx", "nowhere.gpx"}
    for name, entry in known.items():
        assert entry.sha256 == book.known_hash(name, tracks[name])
        assert entry.content == book.content(entry.sha256)
        assert entry.who == book.who(entry.sha256)
    assert known["b1.gpx"].who[1]["jumper"] == "B"
    assert known["x1.gpx"].who == {}
    book.close()


def test_only_those_whom_a_change_concerns_are_weighed_again(book: Logbook) -> None:
    assert weighed(book) == {"a1", "a2", "b1", "n1"}
    assert not book.unweighed()
    entered(book, "b2", "B")
    assert weighed(book) == {"b1", "b2"}
    entered(book, "n2", None)
    assert weighed(book) == {"n1", "n2"}
    book.put_who(sha("a2"), 1, book.who(sha("a2"))[1] | {"jumper": "B"})
    assert weighed(book) == {"a1", "a2", "b1", "b2"}  # from A to B: both have other jumps before theirs
    entered(book, "b2", "A", changed=2)  # a plan gave it to A
    assert weighed(book) == {"a1", "a2", "b1", "b2"}
    book.put_failure("a1.gpx", sha("a1"), found("a1.gpx", 3), "s", "broken")
    assert weighed(book) == {"b2"}  # what is left of A
    book.close()


@pytest.mark.parametrize("text", ["7", '{"canopy": 7}', '{"canopy": {}}'])
def test_a_document_that_is_none_does_not_stop_a_new_name(book: Logbook, text: str) -> None:
    """Damaged by hand (found by fuzzing): the row is changed; where there is a canopy to name, the document as well."""
    with book._writing() as db:
        db.execute("UPDATE document SET json = ? WHERE sha256 = ?", (text, sha("a2")))
    book.put_who(sha("a2"), 1, book.who(sha("a2"))[1] | {"jumper": "B", "canopy": "Heron 210"})
    assert book.who(sha("a2"))[1]["jumper"] == "B"
    kept = json.loads(book.document(sha("a2"), 1))
    assert kept == ({"canopy": {"name": "Heron 210"}} if text.endswith("}}") else json.loads(text))
    book.close()


def test_a_jump_that_is_gone_is_no_longer_weighed_with(book: Logbook, tmp_path: Path) -> None:
    weighed(book)
    book.begin()
    for name in ("a1", "b1", "n1"):
        book.see(f"{name}.gpx", sha(name))
    book.finish([tmp_path], forget=True)
    assert weighed(book) == {"a1"}
    book.close()


def test_a_hash_met_twice_is_a_copy_and_a_new_run_forgets(book: Logbook) -> None:
    book.begin()
    assert [book.see(k, s) for k, s in (("a", "1"), ("b", "2"), ("c", "1"), ("d", None), ("e", None))] == [
        False,
        False,
        True,
        False,
        False,
    ]
    book.begin()
    assert not book.see("a", "1")
    book.close()


def test_one_more_jump_debriefs_and_reads_that_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of sixty jumps of six jumpers no document is read again when one more comes."""

    for who in range(6):
        folder = tmp_path / f"p{who}"
        for k in range(10):
            write_track(folder / f"{k}.gpx", f"{who} {k}")
        (folder / "logbook.toml").write_text(f'[jumper]\nname = "P{who}"\n')
    run_season([tmp_path], jobs=1, work=_alike)
    read: list[tuple[str, int]] = []
    whole = Logbook.document
    monkeypatch.setattr(Logbook, "document", lambda self, s, j: read.append((s, j)) or whole(self, s, j))
    assert run_season([tmp_path], jobs=1, work=_alike).counts.unchanged == 60
    assert read == []
    write_track(tmp_path / "p3" / "new.gpx", "one more")
    counts = run_season([tmp_path], jobs=1, work=_alike).counts
    assert (counts.debriefed, counts.unchanged) == (1, 60)
    assert len(set(read)) == 1


def _alike(job: Job) -> Answer:
    document = {
        "kind": "jump",
        "landing": {"utc": LANDING, "lat": 47.0, "lon": 9.0},
        "phases": [],
        "winds": [],
    }
    return Answer((JumpAnswer(1, jump_row(document), json.dumps(document)),))
