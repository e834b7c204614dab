"""The talk sheet: the right habit, cautions counted, what was agreed; facts for few jumps, no wings put together."""

from __future__ import annotations

from collections import Counter
from itertools import permutations
from typing import Any

import numpy as np
import pytest
from season_made import FT, season
from sentence_lengths import lines_of_story
from talk_club import RowsBook, club

from analyser.findings import find
from analyser.logbook.talks import ABOUT, Note
from analyser.report.story.coach import tell_coach
from analyser.report.story.talk import tell_talk
from analyser.season.facts import CAUTION_KINDS, facts, heights_kept, ring_met
from analyser.season.figures_text import as_text, from_text
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.progress import card
from analyser.season.sheet import Sheet, _agreed, make_sheet
from analyser.season.summarise import JumperSeason, summarise

SEEDS = range(5400, 5406)
HABIT = {"Ada Low": "final turn", "Bo High": "base turn", "Ben Gust": "long or short"}


def sheet(rows: dict[str, list[dict[str, Any]]], name: str, *notes: Note) -> Sheet:
    book: Any = RowsBook(rows, {name: list(notes)})
    return make_sheet(book, summarise(book), sorted(rows).index(name) + 1)


def text_of(one: Sheet, **more: Any) -> str:
    story = tell_talk(one, **more)
    cells = [
        str(c) for chapter in story.chapters for block in chapter.blocks for c in getattr(block, "rows", ())
    ]
    return "\n".join([*lines_of_story(story), *cells])


@pytest.mark.slow
def test_the_right_habit_is_named_and_cautions_are_counted() -> None:
    hits, wrong = Counter[str](), []
    for seed in SEEDS:
        rows, planted = club(seed)
        book: Any = RowsBook(rows)
        found = summarise(book)
        for number, jumper in enumerate(found.jumpers, 1):
            one = make_sheet(book, found, number)
            name = str(jumper.name)
            counted = {c.name: c.hits for c in one.cautions}
            expected = {kind: planted[name][code] for code, kind in CAUTION_KINDS.items()}
            assert counted == expected
            assert all(len(c.days_s) == c.hits and c.of == 30 for c in one.cautions)
            if name in HABIT:
                hits[name] += one.habit is not None and one.habit.about == HABIT[name]
            elif one.habit is not None and one.habit.clear:
                wrong.append((seed, name, one.habit.question.code))
            assert all(q.jumper == "Dee Better" for q in one.better if q.claimed)
    assert wrong == []
    assert sum(hits.values()) >= 0.9 * len(HABIT) * len(SEEDS)


def test_what_was_agreed_is_measured_before_and_since() -> None:
    rows = season(5410, 40, habits={"Ada Low": "none"})
    mine = rows["Ada Low"]
    for row in mine[:20]:
        row["final_agl_error_m"] -= 60.0 * FT
    day = mine[19]["landing_utc"][:10]
    assert mine[20]["landing_utc"][:10] > day
    note = Note("Ada Low", day, "final at 300 ft", "final turn", "partly")
    one = sheet(rows, "Ada Low", Note("Ada Low", "2030-01-01", "be there early"), note)
    assert one.last == note
    assert (one.n, one.since_n) == (40, 20)
    found = one.agreed
    assert found is not None
    assert found.before is not None
    assert found.since is not None
    assert found.step is not None
    assert found.before.value == pytest.approx(-60.0 * FT, abs=8.0)
    assert found.since.value == pytest.approx(0.0, abs=8.0)
    low, high = found.step.interval()
    assert low < 60.0 * FT < high
    told = text_of(one)
    assert "“final at 300 ft” Partly done." in told
    assert "before the talk (20 jumps)" in told
    assert "be there early" in told
    hidden = text_of(one, private=True)
    assert "300 ft”" not in hidden
    assert "Ada" not in hidden
    assert "2031" not in hidden


def test_a_caution_that_was_talked_about_is_counted_before_and_since() -> None:
    rows = season(5411, 12, habits={"Ada Low": "none"})
    mine = rows["Ada Low"]
    for i, row in enumerate(mine):
        row["findings"] = "short_final" if i in (0, 2, 3, 9) else None
    one = sheet(
        rows, "Ada Low", Note("Ada Low", mine[5]["landing_utc"][:10], "straight early", "short finals")
    )
    assert one.agreed is not None
    before, since = one.agreed.count_before, one.agreed.count_since
    assert before is not None
    assert since is not None
    assert (before.hits, before.of, since.hits, since.of) == (3, 6, 1, 6)
    assert "Short finals: in 3 of 6 jumps before the talk, in 1 of 6 since." in text_of(one)
    one = sheet(rows, "Ada Low", Note("Ada Low", "2020-01-01", "straight early", "short finals"))
    assert "Short finals: no jump before the talk, in 4 of 12 since." in text_of(one)
    one = sheet(rows, "Ada Low", Note("Ada Low", "2050-01-01", "straight early", "short finals"))
    assert "Short finals: in 4 of 12 jumps before the talk, none since." in text_of(one)
    assert "Was it done?" in text_of(one)


@pytest.mark.parametrize("jumps", [1, 4])
def test_few_jumps_still_give_facts_without_statistics(jumps: int) -> None:
    rows = season(5412, jumps, habits={"Ada Low": "turns final 50 ft low"})
    one = sheet(rows, "Ada Low")
    last = rows["Ada Low"][-1]
    assert one.habit is None
    assert one.better == ()
    assert one.latest is not None
    assert one.latest.along_m == pytest.approx(last["along_m"])
    assert [turn[0] for turn in one.latest.turns] == ["downwind", "base", "final"]
    told = text_of(one)
    assert "±" in told  # of the single height, not of a level
    assert "chance" not in told.replace("pure luck", "").split("± is half")[0].replace("tell from chance", "")
    book: Any = RowsBook(rows)
    coach = "\n".join(str(b) for c in tell_coach(summarise(book)).chapters for b in c.blocks)
    assert "It ended" in coach


def test_nobody_and_nothing() -> None:
    rows = season(5413, 2, habits={"Ada Low": "none"})
    for row in rows["Ada Low"]:
        row["excluded"] = "demo"
    one = sheet(rows, "Ada Low")
    assert (one.n, one.habit, one.latest) == (0, None, None)
    assert "none of the jumps counts" in text_of(one).lower()


def test_wings_are_never_put_together() -> None:
    rows = season(5414, 30, habits={"Cy Swap": "changes canopy in the middle"})
    mine = rows["Cy Swap"]
    one = sheet(rows, "Cy Swap", Note("Cy Swap", mine[20]["landing_utc"][:10], "x", "long or short"))
    assert [(c.canopy, c.before.n if c.before else 0, c.since.n) for c in one.canopies] == [
        ("Wide 230", 15, 0),
        ("Slim 170", 6, 9),
    ]
    assert one.agreed is not None
    assert one.agreed.canopy == "Slim 170"
    assert (one.agreed.n_before, one.agreed.n_since) == (
        6,
        9,
    )  # the fifteen of the wing before are not among them
    assert one.agreed.before is None
    jumper = one.jumper
    assert jumper.facts is not None
    assert jumper.trend is not None
    assert jumper.facts.n == 15
    assert (jumper.trend.canopy, jumper.trend.n) == ("Slim 170", 7)
    late = np.array([row["offset_m"] for row in mine[15:]])
    assert jumper.trend.latest_m == pytest.approx(float(np.median(late[-7:])))
    assert jumper.trend.before_m == pytest.approx(float(np.median(late[-14:-7])))


def test_rings_are_those_of_the_debrief() -> None:
    assert ring_met(12.0, 3.0, 20.0) is True
    assert ring_met(18.5, 3.0, 20.0) is None
    assert ring_met(28.0, 3.0, 20.0) is False
    assert ring_met(1.0, 5.0, 10.0) is None  # finer than the receiver can tell


def test_heights_kept_follow_the_finding() -> None:
    rows = season(5415, 6, habits={"Ada Low": "none"})["Ada Low"]
    for row, (final, base) in zip(rows, [(0, 0), (40, -45), (60, 0), (0, 0), (None, 0), (0, 0)], strict=True):
        row["final_agl_error_m"] = None if final is None else final * FT
        row["base_agl_error_m"], row["downwind_agl_error_m"] = base * FT, 5.0 * FT
    rows[3]["plan"] = None
    rows[5]["findings"] = "final_turn_high"
    kept, known = heights_kept(read_jumps(rows)[0])
    assert kept.tolist() == [True, True, False, False, False, False]
    assert known.tolist() == [True, True, True, False, True, True]


def test_every_caution_has_its_count_and_may_be_talked_about() -> None:
    import re
    from pathlib import Path

    folder = Path(find.__file__).parent
    codes = {
        c for p in folder.glob("*.py") for c in re.findall(r'Finding\(\s*"(\w+)",\s*"caution"', p.read_text())
    }
    assert codes == set(CAUTION_KINDS)
    assert set(CAUTION_KINDS.values()) <= set(ABOUT)


def test_a_card_counts_with_days() -> None:
    rows = season(5416, 12, habits={"Ada Low": "none"})["Ada Low"]
    jumps, _ = read_jumps(rows)
    one = card(jumps)
    within = {radius: count for count, radius in one.counts if radius}
    met = [ring_met(row["offset_m"], row["offset_sd_m"], 50.0) for row in rows]
    assert within[50.0].days_s == tuple(float(t) for t, m in zip(jumps.t_s, met, strict=True) if m)
    assert (within[50.0].hits, within[50.0].left_open) == (met.count(True), met.count(None))
    assert facts(jumps).n == one.n == 12
    recent = next(count for count, _ in one.counts if "30 days" in count.name)
    assert recent.hits == int(np.sum(jumps.t_s > jumps.t_s[-1] - 30 * 86400))


def test_figures_come_back_as_they_were_kept() -> None:
    book: Any = RowsBook(
        season(5417, 32, habits={"Ada Low": "improves", "Cy Swap": "changes canopy in the middle"})
    )
    for jumper in summarise(book).jumpers:
        again = from_text(JumperSeason, as_text(jumper))
        assert repr(again) == repr(jumper)
        assert type(again.groups) is tuple
    with pytest.raises((ValueError, TypeError, LookupError)):
        from_text(JumperSeason, "[1,2]")


def test_wings_mixed_under_one_name_are_refused() -> None:
    rows = season(5418, 24, habits={"Ada Low": "turns final 50 ft low", "Eve Plain": "turns final 50 ft low"})
    for i, row in enumerate(rows["Ada Low"]):
        row["canopy"] = None
        row["airspeed_mps"] += 2.5 * (i % 2)  # two wings by turns, so that no day parts them
    for row in rows["Eve Plain"]:
        row["canopy"] = None
    book: Any = RowsBook(rows)
    found = summarise(book)
    mixed, one = found.jumpers
    assert [g.mixed for g in mixed.groups] == [True]
    assert [g.mixed for g in one.groups] == [False]
    assert mixed.groups[0].accuracy is None
    assert mixed.groups[0].trim is None
    assert not {q.code for q in mixed.questions} - {"trim"}
    assert one.claims
    assert mixed.trend is None
    told = text_of(make_sheet(book, found, 1))
    assert "Name the canopy of each jump" in told
    assert "ended" in told  # the facts of the latest jump stand


def test_what_was_agreed_is_looked_at_under_the_canopy_of_the_latest_jump() -> None:
    """The old wing's second jump came later than the new one's, the new one's last jump later than all."""

    def flown(*days: float) -> Jumps:
        along = np.arange(float(len(days)))
        return Jumps(86_400.0 * np.array(days), (1,) * len(days), {"along_m": along}, {})

    groups = [("old", 0, flown(1, 12, 20)), ("new", 0, flown(3, 9, 30)), ("borrowed", 0, flown(2, 15))]
    for order in permutations(groups):
        found = _agreed(Note("Ada Low", "1970-01-11", "x", "long or short"), order)
        assert (found.canopy, found.n_before, found.n_since) == ("new", 2, 1)
