"""Nothing lost, nothing let in, same input same bytes: over made-up folders, settings, names and moments of a kill."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from logbook_made import dump, serial
from season_fakes import write_track

from analyser import writing
from analyser.batch.update import update
from analyser.logbook import Logbook
from analyser.logbook.export import write_csv
from analyser.logbook.plans import Plans
from analyser.report.documents.season import to_season_document
from analyser.report.documents.values import to_json
from analyser.report.page.season_pages import render_season
from analyser.season.summarise import summarise
from analyser.writing import sweep_parts, write_text

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a run is killed in a fork")

NAMES = (
    st.binary(min_size=1, max_size=12)
    .filter(lambda name: not set(name) & {0, 47} and not name.startswith(b"."))
    .map(os.fsdecode)
)
WORDS = st.one_of(
    st.integers(0, 10**6).map("track {}".format),
    st.integers(1, 3).map("day jumps={}".format),
    st.just("bad"),
)
FOLDERS = st.dictionaries(
    st.tuples(st.sampled_from(("", "may", "may/late", "j\u00fcne")), NAMES), WORDS, min_size=1, max_size=8
)
GIVEN = st.fixed_dictionaries(
    {},
    optional={
        "canopy": st.sampled_from(("Wide 230", "Long 190", "<b>Old</b>")),
        "jumper": st.sampled_from(("Ines Marrow", 'O\'Dell "&" <i>', "\u202eolleh")),
        "target": st.tuples(st.floats(-60, 60), st.floats(-170, 170)),
        "note": st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=20),
    },
)
HOSTILE = st.text(
    st.characters(codec="utf-8", exclude_characters="\0", exclude_categories=("Cc",)), min_size=1, max_size=30
)


def lay(top: Path, tracks: dict[tuple[str, str], str], given: dict[str, Any], *, backwards: bool) -> Path:
    """The same folder, its files made in one or the other order."""
    top.mkdir()
    for (folder, name), words in sorted(tracks.items(), reverse=backwards):
        write_track(top / folder / f"{name}.gpx", words)
    rows = [f"note = {json.dumps(given['note'], ensure_ascii=False)}"] if "note" in given else []
    rows += [f"[canopy]\nname = {json.dumps(given['canopy'])}"] if "canopy" in given else []
    rows += (
        [f"[jumper]\nname = {json.dumps(given['jumper'], ensure_ascii=False)}"] if "jumper" in given else []
    )
    rows += [f"[site]\ntarget = {list(given['target'])}"] if "target" in given else []
    (top / "logbook.toml").write_text("\n".join(rows), encoding="utf-8")
    return top


def season(top: Path, out: Path) -> None:
    """A season as the command makes it, with its table and summary, in this process."""
    out.mkdir(exist_ok=True)
    sweep_parts(out)
    with Logbook(top / "logbook.sqlite") as book:
        update(book, [top], Plans(), serial)
        write_csv(book, out / "season.csv")
        write_text(out / "season.json", to_json(to_season_document(summarise(book))))


def inputs(top: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(top)): path.read_bytes()
        for path in top.rglob("*")
        if path.is_file() and not path.name.startswith("logbook.sqlite")
    }


def events(work: Callable[[], None], last: int = -1) -> int:
    """Calls and returns of ``work``; at number ``last`` the process ends as by ``kill -9``."""
    seen = 0

    def count(frame: FrameType, event: str, argument: object) -> None:
        nonlocal seen
        seen += 1
        if seen == last:
            os.kill(os.getpid(), signal.SIGKILL)

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(before)
    return seen


def killed(work: Callable[[], None], moment: int) -> bool:
    """Whether a process of its own was killed at that moment of the work (else it had come to its end before)."""
    pid = os.fork()
    if pid == 0:
        try:
            events(work, moment)
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(pid, 0)[1])


@contextmanager
def bench() -> Iterator[Path]:
    """A folder of one example; what was left is swept however young it is."""
    top = Path(tempfile.mkdtemp())
    young, writing._YOUNG_S = writing._YOUNG_S, -1.0
    try:
        yield top
    finally:
        writing._YOUNG_S = young
        shutil.rmtree(top)


@settings(max_examples=8)
@given(FOLDERS, GIVEN, st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4))
def test_whatever_the_folder_and_the_moments_of_kills_nothing_is_lost_and_the_bytes_are_the_same(
    tracks: dict[tuple[str, str], str], given: dict[str, Any], moments: list[float]
) -> None:
    with bench() as top:
        calm = lay(top / "calm", tracks, given, backwards=False)
        whole = events(lambda: season(calm, top / "calm out"))
        wanted = {path.name: path.read_bytes() for path in (top / "calm out").iterdir()}
        wild = lay(top / "another name", tracks, given, backwards=True)
        before, out = inputs(wild), top / "wild out"
        for moment in moments:
            killed(lambda: season(wild, out), 1 + int(moment * whole))
            assert inputs(wild) == before, "a killed run changed what it reads"
            there = {p.name: p.read_bytes() for p in out.glob("season.*")} if out.is_dir() else {}
            assert there.items() <= wanted.items(), "a file is whole or not there"
        season(wild, out)
        assert inputs(wild) == before
        assert {path.name: path.read_bytes() for path in out.iterdir()} == wanted
        assert dump(wild / "logbook.sqlite") == dump(calm / "logbook.sqlite")
        with Logbook(wild / "logbook.sqlite") as book:
            assert book.count() + len(list(book.failures())) >= len({*tracks.values()})


def test_a_kill_in_the_middle_is_one() -> None:
    """The kills above come while the work is under way, and late ones leave something to lose."""
    tracks = {("may", f"{i}"): f"track {i}" for i in range(6)}
    with bench() as top:
        folder = lay(top / "a", tracks, {}, backwards=False)
        whole = events(lambda: season(folder, top / "out"))
        found = []
        for tenth in range(1, 10):
            again = lay(top / f"b{tenth}", tracks, {}, backwards=False)
            assert killed(lambda again=again: season(again, top / "none"), whole * tenth // 10)  # type: ignore[misc]
            with Logbook(again / "logbook.sqlite") as book:
                found.append(book.count())
        assert set(found) > {0, 6}
        assert not killed(lambda: season(folder, top / "out"), 50 * whole)


class Shape(HTMLParser):
    """Tags with the names of their attributes, and the texts of scripts: what a name could have changed."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[object] = []
        self._in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._in_script = tag == "script" and ("type", "application/json") not in attrs
        self.found.append((tag, [name for name, _ in attrs]))

    def handle_endtag(self, tag: str) -> None:
        self._in_script = False
        self.found.append(f"/{tag}")

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.found.append(data)


def shape(page: str) -> list[object]:
    parser = Shape()
    parser.feed(page)
    parser.close()
    return parser.found


def page_with(name: str, folder: Path) -> str:
    """The season page of two jumps, every name in it the given one."""
    words = json.dumps(name, ensure_ascii=False)
    for i in range(2):
        write_track(folder / f"{i}.gpx", f"track {i}")
    (folder / "logbook.toml").write_text(
        f"note = {words}\n[canopy]\nname = {words}\n[jumper]\nname = {words}\n[site]\nname = {words}\n",
        encoding="utf-8",
    )
    with Logbook(folder / "logbook.sqlite") as book:
        update(book, [folder], Plans(), serial)
        return render_season(book, summarise(book), units="uk", private=False, link=None, assets=None)


@settings(max_examples=12)
@given(HOSTILE)
@example("</script><script>alert(1)</script>")
@example('"><img src=x onerror=alert(1)>')
@example("<!--")
@example("]]>&lt;b&gt;")
@example("\u2028\u2029\u202e")
def test_no_name_becomes_markup_or_script(name: str) -> None:
    with bench() as top:
        (top / "a").mkdir()
        (top / "b").mkdir()
        assert shape(page_with(name, top / "a")) == shape(page_with("Wren", top / "b"))
