"""Pages of a large field: one for each jumper and year, none large, made again only where something changed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import chromium, opened
from season_made import HABITS, fill, season

from analyser.cli.many import write_coach, write_season
from analyser.cli.talk import write_sheets
from analyser.logbook import Logbook
from analyser.logbook.book import Found, Result
from analyser.report.page import field_pages
from analyser.season import page_names
from analyser.season.page_names import file_names, shares
from analyser.season.summarise import Season, summarise

PEOPLE = {f"{name} {i}": habit for i in range(2) for name, habit in HABITS.items()}


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Twelve pupils of twelve jumps; one has not jumped since the year before, one has jumps in both. So few are a large field here."""
    monkeypatch.setattr(page_names, "MOST_JUMPERS", 8)
    monkeypatch.setattr(field_pages, "MOST_DRAWN", 13)
    rows = season(41, 12, habits=PEOPLE)
    for row in rows["Eve Plain 0"]:
        row["landing_utc"] = row["landing_utc"].replace("2031", "2030")
    early = season(42, 12, habits={"Flo Plain 1": "none"})["Flo Plain 1"]
    for row in early:
        row |= {
            "landing_utc": row["landing_utc"].replace("2031", "2029"),
            "sha256": row["sha256"] + "-early",
            "file": "early/" + row["file"],
        }
    rows["Flo Plain 1"] = early + rows["Flo Plain 1"]
    fill(tmp_path / "logbook.sqlite", rows)
    return tmp_path / "logbook.sqlite"


def write(book: Path, out: Path, *, private: bool = False) -> Season:
    """All pages; the summary they were made from."""
    with Logbook(book) as opened_book:
        found = summarise(opened_book)
        write_sheets(opened_book, found, out / "talks", "uk", private)
        write_season(opened_book, found, out / "season.html", "uk", private, None, None, "")
        write_coach(found, out / "coach.html", "uk", private, out / "season.html", out / "talks")
    return found


def links(file: Path) -> list[Path]:
    found = re.findall(r'href="([^"#]+)(?:#[^"]*)?"', file.read_text(encoding="utf-8"))
    return [file.parent / link for link in found]


def test_every_page_is_led_to_and_stands(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    found = write(book, out)
    made = {p.resolve() for p in out.rglob("*.html")}
    led = {link.resolve() for page in made for link in links(page)}
    assert led <= made | {p.resolve() for p in out.rglob("*.js")}
    assert made - led == {(out / "season.html").resolve(), (out / "coach.html").resolve()}
    assert {p.name for p in out.glob("*.html")} == {
        "season.html",
        "season-2030.html",
        "coach.html",
        "coach-2030.html",
    }
    assert len(list((out / "talks").iterdir())) == len(found.jumpers) == 12
    jumpers = {p.name for p in (out / "season-jumpers").glob("*.html")}
    assert jumpers == {*file_names(found, "jumper", private=False), "jumper-flo-plain-1-2029.html"}
    for name in ("season", "coach"):
        here, before = ((out / f"{name}{year}.html").read_text(encoding="utf-8") for year in ("", "-2030"))
        assert here.count("Eve Plain 0") == 0
        assert before.count("Eve Plain 0") > 0
        assert "Ada Low 1" in here


def test_a_year_of_many_jumps_has_its_own_page(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(book, out)
    whole, before = (
        (out / "season-jumpers" / f"jumper-flo-plain-1{year}.html").read_text(encoding="utf-8")
        for year in ("", "-2029")
    )
    jumps = [
        set(re.findall(r">(20\d\d)-\d\d-\d\d \d\d:\d\d UTC(?: \([0-9: -]+ local time\))?<", page))
        for page in (whole, before)
    ]
    assert jumps == [{"2031"}, {"2029"}]
    assert "24 jumps" in whole  # figures are those of all jumps


def test_only_what_changed_is_made_again(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(book, out)
    before = {p: p.stat().st_mtime_ns for p in out.rglob("*.html")}
    write(book, out)
    kept = {p for p in before if p.stat().st_mtime_ns == before[p]}
    assert {p.name for p in set(before) - kept} == {
        "season.html",
        "season-2030.html",
        "coach.html",
        "coach-2030.html",
    }
    row = season(43, 1, habits={"Ben Gust 1": "none"})["Ben Gust 1"][0]
    row |= {"landing_utc": "2031-12-01T10:00:00Z"}
    with Logbook(book) as logbook:
        own = {k: v for k, v in row.items() if k not in ("file", "sha256", "jump")}
        logbook.put_results("new.gpx", "new", Found(Path("new.gpx"), 1, 1, 1), "k", [Result(1, own, "{}")])
    stamps = {p: p.stat().st_mtime_ns for p in kept}
    write(book, out)
    changed = {p.name for p in kept if p.stat().st_mtime_ns != stamps[p]}
    assert {"talk-ben-gust-1.html", "jumper-ben-gust-1.html"} <= changed
    others = {name for name in changed if "ben-gust-1" not in name}
    assert not {name for name in others if name.startswith("talk")}


def test_a_change_of_the_page_by_hand_or_of_the_units_is_noticed(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(book, out)
    page = out / "talks" / "talk-ada-low-0.html"
    page.write_text("gone", encoding="utf-8")
    write(book, out)
    assert "Talk with Ada Low 0" in page.read_text(encoding="utf-8")


def test_private_fields_name_nobody_and_no_year(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(book, out, private=True)
    made = list(out.rglob("*.html"))
    assert len(made) > 24
    for page in made:
        text = page.name + page.read_text(encoding="utf-8")
        assert not re.search(r"Ada|Flo|Plain|Larkmoor|20(29|30|31)\b", text), page.name


def test_a_crowded_year_is_cut_into_parts(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_names, "MOST_LINES", 5)
    with Logbook(book) as logbook:
        found = summarise(logbook)
    assert [(share, len(numbers)) for share, numbers in shares(found, private=False)] == [
        ("2031 part 1", 5),
        ("2031 part 2", 5),
        ("2031 part 3", 1),
        ("2030", 1),
    ]


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    with chromium() as found:
        yield found


@pytest.mark.browser
def test_a_jumpers_page_draws_from_the_shared_bundle(browser: object, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(book, out)
    with opened(browser, out / "season-jumpers" / "jumper-ada-low-0.html", width=390) as seen:
        assert seen.complaints == []
        seen.drawn()
        counts = seen.page.evaluate("() => document.querySelectorAll('.plot .main-svg').length")
        assert counts > 0
        assert seen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
