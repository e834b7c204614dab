"""A season writes over nothing that it reads, by whatever name it is reached, and refuses before any work."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from season_fakes import fake_job, write_track

from analyser.batch.nameless import nameless_settings
from analyser.batch.run import run_season
from analyser.batch.update import Pages
from analyser.errors import OutputError
from analyser.logbook import Logbook
from analyser.report.page.shell import bundle_name
from analyser.settings import STANDARDS, AccuracyStandard, Settings

CARD = '[canopy]\nname = "Wide 230"\nairspeed_mps = 10.0\n'


@pytest.fixture
def top(tmp_path: Path) -> Path:
    """Tracks, a plan and a card outside their folder, a table, a logbook elsewhere, and a folder reached by a link."""
    folder = tmp_path / "tracks"
    for i in range(3):
        write_track(folder / f"{i}.gpx", f"track {i}")
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards" / "wide.toml").write_text(CARD)
    (tmp_path / "day.toml").write_text('[pattern]\nhand = "left"\n')
    (folder / "own.toml").write_text('[pattern]\nhand = "right"\n')
    (folder / "logbook.toml").write_text(
        'plan = "../day.toml"\ncards = ["../cards/wide.toml"]\n[[jump]]\nfile = "1.gpx"\nplan = "own.toml"\n'
    )
    (folder / "logbook.csv").write_text("file,note\n2.gpx,fine\n")
    (tmp_path / "linked").symlink_to(folder)
    return tmp_path


def season(top: Path, **options: object) -> None:
    run_season([top / "tracks"], logbook=top / "book.sqlite", jobs=1, work=fake_job, **options)  # type: ignore[arg-type]


def link(to: str) -> Callable[[Path], Path]:
    def made(top: Path) -> Path:
        out = top / "o.csv"
        out.symlink_to(top / to)
        return out

    return made


def hard(to: str) -> Callable[[Path], Path]:
    def made(top: Path) -> Path:
        os.link(top / to, top / "o.csv")
        return top / "o.csv"

    return made


OUTPUTS: dict[str, Callable[[Path], Path]] = {
    "a link to a track": link("tracks/0.gpx"),
    "another name of a track": hard("tracks/0.gpx"),
    "a link to logbook.toml": link("tracks/logbook.toml"),
    "a track through a linked folder": lambda top: top / "linked" / "1.gpx",
    "the plan that logbook.toml names": lambda top: top / "day.toml",
    "the plan of a correction": lambda top: top / "tracks" / "own.toml",
    "a canopy card": lambda top: top / "cards" / "wide.toml",
    "a link to the table": link("tracks/logbook.csv"),
    "the logbook": lambda top: top / "book.sqlite",
    "the logbook's own log": lambda top: top / "book.sqlite-wal",
    "a plan of the command": lambda top: top / "given.toml",
}


@pytest.mark.parametrize("name", OUTPUTS)
def test_no_output_is_written_over_what_is_read(top: Path, name: str) -> None:
    (top / "given.toml").write_text("[site]\nelevation_m = 212\n")
    out = OUTPUTS[name](top)
    before = {p: p.read_bytes() for p in top.rglob("*") if p.is_file()}
    with pytest.raises(OutputError, match=r"over an input|logbook reads"):
        season(top, outputs=[top / "fine.json", out], plans=[top / "given.toml"])
    assert {p: p.read_bytes() for p in top.rglob("*") if p.is_file()} == before, "refused before any work"


def test_folders_for_cards_and_pages_hold_nothing_that_is_read(top: Path) -> None:
    with pytest.raises(OutputError, match=r"holds wide\.toml, which is read"):
        season(top, cards=top / "cards")
    page = "0123456789abcdef0123-1.html"
    for name in (page, f"private-{page}", bundle_name()):
        odd = write_track(top / "tracks" / name, "odd")
        with pytest.raises(OutputError, match="which is read"):
            season(top, pages=Pages(top / "linked", "uk"))
        odd.unlink()
    assert not (top / "book.sqlite").exists()


def test_other_outputs_are_no_inputs(top: Path) -> None:
    season(
        top,
        outputs=[top / "new.csv", top / "tracks" / "new.json"],
        cards=top / "new",
        pages=Pages(top / "pages", "uk"),
    )
    with Logbook(top / "book.sqlite") as logbook:
        assert logbook.count() == 3


def test_a_ring_of_the_sites_own_has_no_name_where_names_are_left_out() -> None:
    own = AccuracyStandard("Ilka's ring", 12.0, "the club")
    found = nameless_settings(Settings(standards=(own, *STANDARDS[:1])))
    assert [ring.name for ring in found.standards] == ["ring 1", STANDARDS[0].name]
    assert "Ilka" not in repr(found)
