"""The talk sheet: one or two sheets of paper for the next talk with one pupil; neutral words, no comparison with anybody."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from analyser.findings import CAUTIONS
from analyser.report.story.blocks import (
    Aside,
    Block,
    Cell,
    Chapter,
    Code,
    Line,
    Points,
    Remark,
    Sentence,
    Story,
    Table,
    distance,
    height,
    joined,
    lines_of,
)
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.report.story.counted import counted, of_text, share_of, under
from analyser.report.story.foot import cautions, made_by
from analyser.report.story.season import after, claimed, method, name_of, silence, watched
from analyser.report.story.talk_facts import caution_blocks, latest_line
from analyser.report.story.views import Shown, small_views
from analyser.season.facts import Facts, went_well
from analyser.season.habits import carried
from analyser.season.questions import Question
from analyser.season.robust import Level
from analyser.season.sheet import Agreed, CanopyFacts, Sheet
from analyser.season.summarise import JumperSeason
from analyser.season.words import day, subject
from analyser.sentences import Number

__all__ = ["tell_talk"]

INTRO: Final = (
    "For a talk on the ground between a pupil and an instructor. It compares the pupil with the plan and with earlier jumps, never with "
    "others. Ask first what the pupil remembers. Begin with what went well."
)


def tell_talk(sheet: Sheet, documents: Sequence[Shown] = (), *, private: bool = False) -> Story:
    """The story. ``documents`` are the jumps of the small views; ``private`` numbers the pupil and leaves out days and what was agreed."""
    name = name_of(sheet.number, sheet.jumper, private)
    return Story(
        title=f"Talk with {name}",
        kicker="Talk sheet, read on the ground",
        heading=f"Talk with {name}",
        facts=_facts(sheet, private),
        brief=(
            ("Well", _well_line(sheet, private)),
            ("Habit", _habit_line(sheet, private)),
            ("Agreed", _agreed_line(sheet, private)),
        ),
        chapters=(
            Chapter("well", "What went well", tuple(_well(sheet, private))),
            Chapter("habit", "The one habit worth a talk", tuple(_habit(sheet, private))),
            Chapter("agreed", "What was agreed last time", tuple(_agreed(sheet, private))),
            Chapter("jumps", _since(sheet, "The jumps"), tuple(_jumps(sheet, documents, private))),
            Chapter("counted", _since(sheet, "Cautions counted"), tuple(caution_blocks(sheet, private))),
            Chapter("now", "What we agree on now", tuple(_now(sheet, private))),
            *(() if sheet.n == 0 else (method(),)),
            Chapter("cautions", "Cautions", (Line(Sentence(INTRO)), *cautions(CAUTIONS))),
        ),
        foot=made_by(),
        command="crabline season",
    )


def _since(sheet: Sheet, words: str) -> str:
    return f"{words} since the last talk" if sheet.last is not None else words


def _facts(sheet: Sheet, private: bool) -> tuple[tuple[str, Cell], ...]:
    found, last = sheet.jumper.currency, sheet.last
    rows: list[tuple[str, Cell]] = [("Jumps", str(sheet.n))]
    if last is not None:
        rows += [("Last talk", "–" if private else _day(last.day)), ("Jumps since", str(sheet.since_n))]
    if found is not None and not private:
        rows.append(("Latest jump", day(found.last_s)))
    return tuple(rows)


def _day(iso: str) -> str:
    from datetime import UTC, datetime

    return day(datetime.fromisoformat(iso).replace(tzinfo=UTC).timestamp())


# --- what went well -------------------------------------------------------------------------------------------


def _best(sheet: Sheet, private: bool) -> list[Sentence]:
    """What went well under the canopy of the latest jump; of several canopies it says that this one alone was counted."""
    if sheet.latest is None:
        return []
    mine = [i for i, c in enumerate(sheet.canopies, 1) if c.canopy == sheet.latest.canopy and c.since.n]
    if not mine:
        return []
    now = sheet.canopies[mine[-1] - 1]
    best = [share_of(count) for count in went_well(now.since)[:2]]
    if best and len(sheet.canopies) > 1:
        best.insert(0, Sentence("{under}", {"under": under(now.canopy, mine[-1], private)}))
    return best


def _well_line(sheet: Sheet, private: bool) -> Sentence:
    best = _best(sheet, private)
    improved = [_better(q, private) for q in sheet.better[:1]]
    if not best and not improved:
        return Sentence("See the counts below; the first question is what the pupil remembers.")
    return joined([*improved, *best])


def _better(question: Question, private: bool) -> Sentence:
    return after("Better: " if question.claimed else "Perhaps better, it may be chance: ", question, private)


def _well(sheet: Sheet, private: bool) -> Iterator[Block]:
    if sheet.n == 0:
        yield Line(Remark("none of the jumps counts"), "missing")
        return
    if sheet.better:
        yield Points(tuple(_better(q, private) for q in sheet.better))
    elif any(group.accuracy is not None for group in sheet.jumper.groups):
        yield Line(Sentence("No change with time is clear enough to tell from chance."), "quiet")
    yield _well_table(sheet, private)


def _well_table(sheet: Sheet, private: bool) -> Table:
    """Counts canopy by canopy: wings are never put together."""
    rows: list[tuple[Cell, ...]] = []
    several = len(sheet.canopies) > 1
    for i, one in enumerate(sheet.canopies, 1):
        name = f"canopy {i}" if private else one.canopy or "canopy not named"
        lead = f"{name}: " if several else ""
        rows.append(
            (
                f"{lead}half of the landings within",
                *(distance(f.r50_m) if f else "–" for f in _pair(sheet, one)),
            )
        )
        for place in range(len(one.since.well)):
            cells = [of_text(f.well[place]) if f else "–" for f in _pair(sheet, one)]
            rows.append((counted(one.since.well[place], lead), *cells))
        rows.append((f"{lead}jumps", *(str(f.n) if f else "–" for f in _pair(sheet, one))))
    head = ("counted", "before", "since") if sheet.last is not None else ("counted", "jumps")
    return Table("Counted, without statistics", head, tuple(rows))


def _pair(sheet: Sheet, one: CanopyFacts) -> tuple[Facts | None, ...]:
    return (one.before, one.since) if sheet.last is not None else (one.since,)


# --- the one habit --------------------------------------------------------------------------------------------


def _habit_line(sheet: Sheet, private: bool) -> Sentence:
    habit = sheet.habit
    if habit is None:
        return silence(sheet.jumper)
    return claimed(habit.question, private) if habit.clear else watched(habit.question, private)


def _habit(sheet: Sheet, private: bool) -> Iterator[Block]:
    yield Line(_habit_line(sheet, private), "lead")
    habit = sheet.habit
    if habit is None:
        return
    question = habit.question
    kind = "height" if question.code == "turn height" else "distance"
    yield Points(
        (
            Sentence(
                "The evidence: {n} jumps{canopy}; the level lies between {low} and {high} (95 %).",
                {
                    "n": str(question.n),
                    "canopy": "" if private or question.canopy is None else f" under {question.canopy}",
                    "low": Number(kind, question.low, signed=True),
                    "high": Number(kind, question.high, signed=True),
                },
            ),
            *_at_target(sheet.jumper, question),
            Sentence(
                "Clear: chance alone would hardly bring it."
                if habit.clear
                else "It may be chance. Watch the next ten jumps before drawing a conclusion."
            ),
        )
    )
    rest = [
        q
        for q in (*sheet.jumper.claims, *sheet.jumper.watched)
        if q is not question and q not in sheet.better
    ]
    if rest:
        also = tuple(claimed(q, private) if q.claimed else watched(q, private) for q in rest)
        yield Aside((Points(also),), "What else was found", kept=True)


def _at_target(jumper: JumperSeason, question: Question) -> Iterator[Sentence]:
    """Where glide and wind carry a final turn begun higher or lower; of another habit the evidence itself says the metres, or nothing."""
    found = carried(question, jumper)
    if found is not None:
        metres = distance(found[0], found[1], sides=LONG_SHORT)
        yield Sentence(
            "By glide and wind alone that is {metres} at the target in an average jump.", {"metres": metres}
        )


# --- what was agreed ------------------------------------------------------------------------------------------


def _agreed_line(sheet: Sheet, private: bool) -> Sentence:
    last = sheet.last
    if last is None:
        return Sentence("No talk is noted yet.")
    if private or not last.agreed:
        return (
            Sentence("A talk is noted.")
            if private
            else Sentence("{day}: nothing was written down.", {"day": _day(last.day)})
        )
    done = {"yes": "Done.", "partly": "Partly done.", "no": "Not done."}.get(last.done or "", "")
    return Sentence("{day}: “{agreed}” {done}", {"day": _day(last.day), "agreed": last.agreed, "done": done})


def _agreed(sheet: Sheet, private: bool) -> Iterator[Block]:
    yield Line(_agreed_line(sheet, private))
    found = sheet.agreed
    if found is None:
        return
    if found.note.done is None:
        yield Line(Sentence("Was it done?   ☐ yes   ☐ partly   ☐ no"))
    measured = _measured(found)
    if measured is not None:
        yield Line(measured)
    earlier = [note for note in sheet.talks[:-1] if note.agreed and not private]
    if earlier:
        said = tuple(
            Sentence(
                "{day}: “{agreed}” {done}",
                {"day": _day(n.day), "agreed": n.agreed, "done": f"({n.done})" if n.done else ""},
            )
            for n in earlier[-3:]
        )
        yield Aside((Points(said),), "Earlier talks")


def _measured(found: Agreed) -> Sentence | None:
    """The jumps before and since beside each other, as what the talk was about has it."""
    about = found.note.about
    if about is None:
        return None
    if found.count_before is not None and found.count_since is not None:
        first = "in {before} jumps before the talk" if found.count_before.of else "no jump before the talk"
        second = "in {since} since" if found.count_since.of else "none since"
        return Sentence(
            f"{{about}}: {first}, {second}.",
            {
                "about": about[:1].upper() + about[1:],
                "before": of_text(found.count_before),
                "since": of_text(found.count_since),
            },
        )
    if found.since is None or found.before is None:
        return Sentence(
            "{about}: {n} jumps before the talk and {m} since; a level needs ten on each side.",
            {"about": about[:1].upper() + about[1:], "n": str(found.n_before), "m": str(found.n_since)},
        )
    values: dict[str, Number | float | str | None] = {
        "about": about[:1].upper() + about[1:],
        "before": _shown(about, found.before),
        "since": _shown(about, found.since),
        "n": str(found.n_before),
        "m": str(found.n_since),
    }
    words = "{about}: {before} before the talk ({n} jumps), {since} since ({m} jumps)."
    return Sentence(words, values)


def _shown(about: str, found: Level) -> Number:
    if about.endswith("turn"):
        return height(found.value, found.half, signed=True)
    sides = {"long or short": LONG_SHORT, "left or right": RIGHT_LEFT}.get(about)
    return distance(found.value, found.half, sides=sides)


# --- the jumps ------------------------------------------------------------------------------------------------


def _jumps(sheet: Sheet, documents: Sequence[Shown], private: bool) -> Iterator[Block]:
    if sheet.since_n == 0:
        yield Line(Sentence("None."))
        return
    if sheet.latest is not None:
        yield Line(latest_line(sheet.latest, private))
    if not documents:
        return
    drawn = small_views(documents)
    if drawn is None:
        yield Line(Remark("the flights are not drawn: their debriefs hold no target or no wind"), "missing")
        return
    if sheet.since_n > len(drawn.items):
        some = Sentence(
            "The latest {n} of {all} jumps.", {"n": str(len(drawn.items)), "all": str(sheet.since_n)}
        )
        drawn = replace(drawn, caption=joined([some, drawn.caption]))
    yield drawn


# --- what is agreed on now ------------------------------------------------------------------------------------


def _now(sheet: Sheet, private: bool) -> Iterator[Block]:
    if sheet.habit is not None:
        yield Line(Sentence("About: {subject}.", {"subject": subject(sheet.habit.question)}))
    yield Line(Sentence("For the next jumps we agree on:"), "write")
    yield Line(Sentence("Date, pupil, instructor:"), "write")
    if private or sheet.jumper.name is None:
        return
    about = f'\nabout = "{sheet.habit.about}"' if sheet.habit is not None else ""
    text = f'[[talk]]\njumper = {json.dumps(sheet.jumper.name, ensure_ascii=False)}\ndate = 2026-01-31\nagreed = "…"{about}'
    yield Aside(
        lines_of(
            Line(
                Sentence(
                    "Put these lines into logbook.toml, with the day and what was agreed. After the next talk add done: yes, partly or no."
                )
            ),
            Code(text),
        ),
        "Keep this talk",
        kept=True,
    )
