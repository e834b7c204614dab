"""What talk sheet and coach page say: one meaning of ±, one bar for what went well, what the errors leave open, no order by merit."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime
from typing import Any

import pytest
from season_made import season
from talk_club import RowsBook

from analyser.logbook.talks import Note
from analyser.report.files.progress import progress_lines
from analyser.report.story.blocks import Drawing, Drawings, Sentence, Story
from analyser.report.story.coach import tell_coach
from analyser.report.story.season import method
from analyser.report.story.season_tables import _longer
from analyser.report.story.talk import tell_talk
from analyser.report.story.views import Shown
from analyser.report.terminal import print_story
from analyser.season.figures import TurnHeight
from analyser.season.habits import carried
from analyser.season.robust import Level, Line
from analyser.season.sheet import make_sheet
from analyser.season.summarise import GroupSeason, JumperSeason, summarise
from analyser.units import DISPLAY_SYSTEMS

Rows = dict[str, list[dict[str, Any]]]


def printed(story: Story, units: str = "metric") -> str:
    """What the terminal shows, each run of blanks as one."""
    from rich.console import Console

    out = io.StringIO()
    print_story(story, DISPLAY_SYSTEMS[units], Console(file=out, width=100, color_system=None))
    return re.sub(r"\s+", " ", out.getvalue())


def sheet_of(rows: Rows, *notes: Note, units: str = "metric", private: bool = False) -> str:
    name = next(iter(rows))
    book: Any = RowsBook(rows, {name: list(notes)})
    return printed(tell_talk(make_sheet(book, summarise(book), 1), private=private), units)


def coach_of(rows: Rows, **more: Any) -> Story:
    book: Any = RowsBook(rows)
    return tell_coach(summarise(book), **more)


def cells_of(story: Story) -> str:
    """The cells of the coach's table, a line each."""
    rows = story.chapters[0].blocks[-1].rows  # type: ignore[union-attr]
    return "\n".join(c if isinstance(c, str) else c.text() for row in rows for c in row)


def calm(jumps: int, *, seed: int = 5420) -> Rows:
    """One jumper whose jumps hold neither praise nor cautions."""
    rows = season(seed, jumps, habits={"Ada Low": "none"})
    for row in rows["Ada Low"]:
        row["findings"] = None
    return rows


def test_a_single_height_has_the_error_the_footnote_speaks_of() -> None:
    rows = calm(4)
    rows["Ada Low"][-1] |= {"final_agl_error_m": -13.7, "final_turn_agl_sd_m": 3.05}
    assert "± is half of the 95 % interval" in sheet_of(rows)
    assert "Turn onto final against the plan: −14 ± 6 m".replace("−", "-") in sheet_of(rows)  # 1.96 × 3.05
    assert "-14 ± 6 m" in cells_of(coach_of(rows))


def test_the_footnote_speaks_in_the_units_of_the_reader() -> None:
    told = method().blocks[0]
    texts = {name: told.text.text(DISPLAY_SYSTEMS[name]) for name in ("us", "uk", "metric")}  # type: ignore[union-attr]
    assert "than 26 ft is not called a habit, nor a turn height nearer to the plan than 15 ft" in texts["us"]
    assert "than 8 m is not" in texts["uk"]
    assert "than 15 ft:" in texts["uk"]
    assert "than 4.6 m:" in texts["metric"]
    slope = _longer(-0.5)
    assert slope.text(DISPLAY_SYSTEMS["us"]) == "50 ft shorter"  # for 100 ft
    assert slope.text(DISPLAY_SYSTEMS["uk"]) == "15 m shorter"


@pytest.mark.parametrize(("straight", "said"), [(6, False), (7, False), (8, True), (12, True)])
def test_what_failed_in_half_of_the_jumps_did_not_go_well(straight: int, said: bool) -> None:
    rows = calm(12)
    for row in rows["Ada Low"][:straight]:
        row["findings"] = "straight_final"
    words = f"Straight to the ground in {straight} of 12 jumps."
    assert (words in sheet_of(rows)) is said
    assert (words in cells_of(coach_of(rows))) is said


def test_of_several_canopies_the_counted_one_is_named() -> None:
    rows = season(5421, 12, habits={"Cy Swap": "changes canopy in the middle"})
    for row in rows["Cy Swap"]:
        row["findings"] = "straight_final short_final"
    assert "Under Slim 170: Straight to the ground in 6 of 6 jumps." in sheet_of(rows)
    assert "Under canopy 2: Straight to the ground in 6 of 6 jumps." in sheet_of(rows, private=True)
    assert "Slim" not in sheet_of(rows, private=True)
    assert "Under Slim 170: short finals 6 of 6" in cells_of(coach_of(rows)).splitlines()
    assert "Under " not in cells_of(coach_of(calm(12)))


def test_none_is_counted_in_the_jumps_the_heading_speaks_of() -> None:
    rows = calm(12)
    assert "None in 12 jumps." in sheet_of(rows)
    note = Note("Ada Low", rows["Ada Low"][7]["landing_utc"][:10], "x")
    told = sheet_of(rows, note)
    assert "CAUTIONS COUNTED SINCE THE LAST TALK None in 4 jumps since, none in 8 before." in told
    assert "12 jumps." not in told.split("CAUTIONS COUNTED")[1]


def test_a_low_turn_within_its_error_is_counted_as_open() -> None:
    rows = calm(12)
    rows["Ada Low"][-1]["left_open"] = "final_turn_below_minimum"
    told = sheet_of(rows)
    assert "low turns 0 of 12 (1 open)" in told
    assert told.count("Open is a jump where the error leaves it open") == 1
    assert "Cautions: low turns (open)." in told
    assert "low turns 0 of 12 (1 open)" in cells_of(coach_of(rows)).splitlines()
    book: Any = RowsBook(rows)
    lines = [line.split(",") for line in "".join(progress_lines(book, summarise(book))).splitlines()]
    row = next(dict(zip(lines[0], line, strict=True)) for line in lines if "low turns" in line)
    assert (row["met"], row["of"], row["left_open"]) == ("0", "12", "1")


def test_the_coach_ranks_nobody() -> None:
    rows = season(
        5422, 12, habits={"Ada Low": "turns final 50 ft low", "Eve Plain": "none", "Flo Plain": "none"}
    )
    for name, day in (("Ada Low", 1), ("Eve Plain", 3), ("Flo Plain", 2)):
        rows[name][-1]["landing_utc"] = datetime(2032, 1, day, tzinfo=UTC).isoformat().replace("+00:00", "Z")
    story = coach_of(rows)
    names = [row[0].text() for row in story.chapters[0].blocks[-1].rows]  # type: ignore[union-attr]
    assert names == ["Eve Plain", "Flo Plain", "Ada Low"]
    told = printed(story).lower()
    assert "first talk" not in told
    assert "talk with first" not in told
    assert story.chapters[0].anchor == "talks"


def test_a_height_is_carried_to_the_target_with_its_error_and_side() -> None:
    rows = season(5423, 30, habits={"Ada Low": "turns final 50 ft low"})
    found = re.search(r"By glide and wind alone that is (\S+) ± (\S+) m short at the target", sheet_of(rows))
    assert found is not None
    assert 15.24 - 8.0 < float(found[1]) < 50.0
    assert "in an average jump" in sheet_of(rows)


def test_only_a_final_under_its_own_canopy_is_carried() -> None:
    slope = TurnHeight(25, Line(0.0, Level(1.0, 0.1, 10.0, 25)), 2.0, 0.5, 0.9)
    group = GroupSeason("Wide 230", 0, 25, 0.0, 1.0, None, {}, (), (), slope, None)
    from analyser.season.questions import Question

    asked = Question("turn height", 25, -10.0, -13.0, -7.0, 4.6, 0.0, {"gate": "final"}, canopy="Wide 230")
    jumper = JumperSeason("Ada", None, (), (group,), (asked,))
    value, half = carried(asked, jumper) or (0.0, 0.0)
    assert value == pytest.approx(-20.0)
    assert half == pytest.approx(
        ((2.0 * 3.0) ** 2 + (10.0 * 1.96 * 1.2533 * 0.5 / 5.0) ** 2) ** 0.5, rel=1e-3
    )
    other = Question("turn height", 25, -10.0, -13.0, -7.0, 4.6, 0.0, {"gate": "base"}, canopy="Wide 230")
    assert carried(other, jumper) is None
    other = Question("turn height", 25, -10.0, -13.0, -7.0, 4.6, 0.0, {"gate": "final"}, canopy="Slim 170")
    assert carried(other, jumper) is None
    assert (
        carried(Question("bias along", 25, -10.0, -13.0, -7.0, 8.0, 0.0, canopy="Wide 230"), jumper) is None
    )


def test_the_terminal_names_no_pictures_and_prints_the_lines_to_keep(monkeypatch: pytest.MonkeyPatch) -> None:
    view = Drawing(Sentence("a"), (), (), (0.0, 0.0), Sentence("b"))
    monkeypatch.setattr(
        "analyser.report.story.talk.small_views",
        lambda _: Drawings(Sentence("All at one scale."), (view,) * 6, 300.0, 100.0),
    )
    rows = calm(12)
    book: Any = RowsBook(rows)
    story = tell_talk(make_sheet(book, summarise(book), 1), [Shown(Sentence("a"), Sentence("b"), {})])
    drawn = next(b for c in story.chapters for b in c.blocks if isinstance(b, Drawings))
    assert drawn.caption.text() == "The latest 6 of 12 jumps. All at one scale."
    told = printed(story)
    assert "The latest 6 of 12" not in told
    assert '[[talk]] jumper = "Ada Low" date = 2026-01-31 agreed = "…"' in told
