"""Talks in logbook.toml: read with names and lines, kept in the logbook, changed and gone with their file."""

from __future__ import annotations

from pathlib import Path

import pytest
from season_fakes import fake_job, write_track

from analyser.batch.run import run_season
from analyser.errors import SettingsError
from analyser.logbook import Logbook
from analyser.logbook.plans import Plans
from analyser.logbook.talks import Note

TALK = '[jumper]\nname = "Ilka Norn"\n\n[[talk]]\ndate = 2026-06-14\nagreed = "final at 300 ft"\nabout = "final turn"\n'


def noted(folder: Path, text: str) -> list[Note]:
    (folder / "logbook.toml").write_text(text, encoding="utf-8")
    plans = Plans()
    plans.check([folder])
    return [note for _, notes in plans.talks() for note in notes]


def test_a_talk_is_read(tmp_path: Path) -> None:
    assert noted(tmp_path, TALK) == [Note("Ilka Norn", "2026-06-14", "final at 300 ft", "final turn", None)]
    other = '[[talk]]\njumper = "Tobin Reyle"\ndate = "2026-07-01"\ndone = "partly"\n'
    assert noted(tmp_path, other) == [Note("Tobin Reyle", "2026-07-01", None, None, "partly")]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[[talk]]\ndate = 2026-06-14\n", "with nobody"),
        ('[[talk]]\njumper = "A"\n', "has no date"),
        ('[[talk]]\njumper = "A"\ndate = "soon"\n', "must be a day"),
        ('[[talk]]\njumper = "A"\ndate = 2026-06-14T10:00:00\n', "must be a day"),
        ('[[talk]]\njumper = "A"\ndate = "2026-02-30"\n', "must be a day"),
        ('[[talk]]\njumper = "A"\ndate = 2026-06-14\nabout = "turns"\n', "must be one of"),
        ('[[talk]]\njumper = "A"\ndate = 2026-06-14\ndone = true\n', "must be one of"),
        ('[[talk]]\njumper = "A"\ndate = 2026-06-14\nagred = "x"\n', "did you mean agreed"),
    ],
)
def test_mistakes_are_told_in_one_line(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(SettingsError) as caught:
        noted(tmp_path, text)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_talks_are_kept_changed_and_gone(tmp_path: Path) -> None:
    one, two = tmp_path / "ilka", tmp_path / "tobin"
    for folder in (one, two):
        write_track(folder / "a.gpx", f"jumps=1 {folder.name}")
    (one / "logbook.toml").write_text(TALK, encoding="utf-8")
    (two / "logbook.toml").write_text('[[talk]]\njumper = "Tobin"\ndate = 2026-05-01\n', encoding="utf-8")
    book = tmp_path / "book.sqlite"

    def kept(*folders: Path) -> dict[str, list[str]]:
        run_season(folders, logbook=book, jobs=1, work=fake_job)
        with Logbook(book) as logbook:
            return {name: [note.day for note in notes] for name, notes in logbook.talks().items()}

    assert kept(one, two) == {"Ilka Norn": ["2026-06-14"], "Tobin": ["2026-05-01"]}
    more = TALK + "\n[[talk]]\ndate = 2026-03-01\n"
    (one / "logbook.toml").write_text(more, encoding="utf-8")
    assert kept(one) == {"Ilka Norn": ["2026-03-01", "2026-06-14"], "Tobin": ["2026-05-01"]}
    (two / "logbook.toml").unlink()
    assert kept(one) == {"Ilka Norn": ["2026-03-01", "2026-06-14"]}


def test_kept_figures_go_with_every_change_of_a_jump(tmp_path: Path) -> None:
    write_track(tmp_path / "a.gpx", "jumps=1 one")
    write_track(tmp_path / "b.gpx", "jumps=1 two")
    (tmp_path / "logbook.toml").write_text(
        '[jumper]\nname = "A"\n[[jump]]\nfile = "b.gpx"\njumper = "B"\n', encoding="utf-8"
    )
    run_season([tmp_path], jobs=1, work=fake_job)
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        logbook.keep({"A": "a", "B": "b", None: "n"}, "x")
        assert [logbook.figures(name, "x") for name in ("A", "B", None)] == ["a", "b", "n"]
        assert logbook.figures("A", "another program") is None
        sha = next(row["sha256"] for row in logbook.rows("B", one_jumper=True))
        logbook.put_who(sha, 1, logbook.who(sha)[1] | {"jumper": "C"})
        assert [logbook.figures(name, "x") for name in ("A", "B", None)] == ["a", None, "n"]
        logbook.keep({"B": "b", "C": "c"}, "x")
        logbook.put_failure("b.gpx", sha, _found(tmp_path), "k", "gone")
        assert [logbook.figures(name, "x") for name in ("A", "B", "C")] == ["a", "b", None]


def _found(folder: Path):  # type: ignore[no-untyped-def]
    from analyser.logbook.scan import Found

    return Found(folder / "b.gpx", 1, 1, 1)
