"""Names that are no UTF-8, too long or too deep: every track has a key of its own, and every limit one line."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from logbook_made import run
from season_fakes import fake_job, write_track

from analyser.batch.run import run_season
from analyser.errors import AnalyserError
from analyser.logbook import Logbook
from analyser.logbook.track_paths import key_path, key_text, shown_key

ODD = (b"a\xff.gpx", b"a\xfe.gpx", rb"a\xff.gpx", b"file:a%FF.gpx", "ü.gpx".encode())


@given(st.binary(min_size=1, max_size=30).filter(lambda b: b"\0" not in b))
def test_a_key_leads_back_to_its_path(name: bytes) -> None:
    path = os.fsdecode(name)
    key = key_text(path)
    key.encode("utf-8")
    assert key_path(key) == path


def test_names_that_are_no_utf8_are_files_of_their_own(tmp_path: Path) -> None:
    for i, name in enumerate(ODD):
        write_track(tmp_path / os.fsdecode(name), f"track {i}")
    assert run(tmp_path).debriefed == len(ODD)
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        assert logbook.count() == len(ODD)
    again = run(tmp_path)
    assert (again.unchanged, again.missing) == (len(ODD), 0)
    (tmp_path / os.fsdecode(ODD[0])).unlink()
    assert run(tmp_path).missing == 1


@pytest.fixture
def deep_tree() -> Iterator[Path]:
    """1,100 folders in each other with a track at the bottom.

    Not in pytest's own folder: its clearing of old ones can not go so deep, and what a killed run left would fail every later one.
    """
    before, top = os.getcwd(), Path(tempfile.mkdtemp())
    try:
        os.chdir(top)
        for _ in range(1100):
            os.mkdir("d")
            os.chdir("d")
        Path("deep.gpx").write_text("<gpx>deep</gpx>")
        os.chdir(before)
        yield top
        os.chdir(top)
        for _ in range(1100):
            os.chdir("d")
        Path("deep.gpx").unlink()
        for _ in range(1100):
            os.chdir("..")
            os.rmdir("d")
    finally:
        os.chdir(before)
        shutil.rmtree(top)


def test_a_tree_of_more_folders_than_python_likes(deep_tree: Path) -> None:
    """What lies at the bottom is a track like any other."""
    write_track(deep_tree / "top.gpx", "top")
    assert run(deep_tree).debriefed == 2


@pytest.mark.parametrize("name", ["x" * 300, "d/" * 2500 + "x"])
def test_names_too_long_for_the_file_system_are_one_line(tmp_path: Path, name: str) -> None:
    write_track(tmp_path / "a.gpx", "a")
    for options in ({"logbook": tmp_path / name}, {"plans": [tmp_path / name]}):
        with pytest.raises(AnalyserError) as caught:
            run_season([tmp_path], jobs=1, work=fake_job, **options)  # type: ignore[arg-type]
        assert "\n" not in str(caught.value)
    with pytest.raises(AnalyserError):
        run_season([tmp_path / name], jobs=1, work=fake_job)
    with pytest.raises(AnalyserError):
        Logbook(tmp_path / name / "logbook.sqlite")


@pytest.mark.parametrize(
    ("key", "folder", "shown"),
    [
        ("may/a.gpx", "/home/ilka/tracks", "may/a.gpx"),
        ("/home/ilka/tracks/may/a.gpx", "/home/ilka/books", "../tracks/may/a.gpx"),
        ("/media/card/may/a.gpx", "/home/ilka/books", "may/a.gpx"),
        ("/home/ilka/a.gpx", "/home/ilka/b/c/d/e", "ilka/a.gpx"),
        (key_text("/home/ilka/tracks/\udcff.gpx"), "/home/ilka/books", "../tracks/\\xff.gpx"),
    ],
)
@pytest.mark.skipif(os.name == "nt", reason="paths of POSIX")
def test_no_document_shows_the_whole_path_of_a_machine(key: str, folder: str, shown: str) -> None:
    assert shown_key(key, folder) == shown
