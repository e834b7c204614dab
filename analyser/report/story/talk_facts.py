"""Facts of one pupil in words: the latest jump, and the cautions counted."""

from __future__ import annotations

from collections.abc import Iterator

from analyser.report.story.blocks import Block, Cell, Line, Sentence, Table, distance, height, joined
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.report.story.counted import days_of, of_text
from analyser.season.facts import CAUTION_KINDS, Latest
from analyser.season.robust import half_95
from analyser.season.sheet import Sheet
from analyser.season.words import day

__all__ = ["caution_blocks", "latest_line"]


def latest_line(latest: Latest, private: bool, *, short: bool = False) -> Sentence:
    """The latest jump as facts; ``short``: without its day."""
    parts = (
        []
        if short
        else [
            Sentence("The latest jump.")
            if private
            else Sentence("The latest jump, {day}.", {"day": day(latest.t_s)})
        ]
    )
    if latest.along_m is not None and latest.across_m is not None:
        parts.append(
            Sentence(
                "It ended {along}, {across}.",
                {
                    "along": distance(latest.along_m, sides=LONG_SHORT),
                    "across": distance(latest.across_m, sides=RIGHT_LEFT),
                },
            )
        )
    final = next((turn for turn in latest.turns if turn[0] == "final"), None)
    if final is not None:
        off = height(final[1], half_95(final[2]), signed=True)
        parts.append(Sentence("Turn onto final against the plan: {off}.", {"off": off}))
    if not parts:
        parts.append(Sentence("No landing to measure."))
    if latest.well:
        parts.append(Sentence("Well: {well}.", {"well": ", ".join(latest.well)}))
    noted = [*latest.cautions, *(f"{name} (open)" for name in latest.cautions_open)]
    if noted:
        parts.append(Sentence("Cautions: {cautions}.", {"cautions": ", ".join(noted)}))
    return joined(parts)


def caution_blocks(sheet: Sheet, private: bool) -> Iterator[Block]:
    """Every caution that a jump had, or that its error leaves open, before the last talk and since."""
    old = {count.name: count for count in sheet.cautions_before}
    met = [c for c in sheet.cautions if c.met or old[c.name].met]
    if not met:
        yield Line(_none(sheet))
        return
    rows: list[tuple[Cell, ...]] = []
    for count in met:
        before = () if sheet.last is None else (of_text(old[count.name]),)
        rows.append((count.name, *before, of_text(count), days_of(count, private)))
    head = (
        "caution",
        *(() if sheet.last is None else ("before",)),
        "since" if sheet.last else "jumps",
        "when",
    )
    yield Table("Jumps that had one", head, tuple(rows), words=frozenset({len(head) - 1}))
    others = ", ".join(name for name in CAUTION_KINDS.values() if name not in {c.name for c in met})
    if others:
        yield Line(Sentence("None of: {others}.", {"others": others}), "quiet")


def _none(sheet: Sheet) -> Sentence:
    """That nothing was counted: in the jumps since the last talk, and before it."""
    if sheet.last is None:
        return Sentence("None in {n} jumps.", {"n": str(sheet.n)})
    before = sheet.n - sheet.since_n
    return Sentence(
        "None in {since} jumps since, none in {before} before.",
        {"since": str(sheet.since_n), "before": str(before)},
    )
