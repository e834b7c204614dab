"""Planted habits through the whole chain: made-up tracks, debriefs, logbook, statistics. Which seasons find all of them?

Run: python benchmarks/season_habits.py [SEASONS] [FIRST_SEED] [JUMPS_EACH]. A season of 6 x 50 jumps takes about a minute.
The plans name the canopies, so that the change of canopy is told; "unnamed" says where it is found with the names hidden, and nobody else's.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from analyser.batch.run import run_season
from analyser.logbook import Logbook
from analyser.season.jumps import read_jumps
from analyser.season.summarise import JumperSeason, Season, group_jumps
from analyser.season.words import say
from analyser.synthetic.season import JUMPERS, Habit, write_season
from analyser.units import DISPLAY_SYSTEMS

KINDS = ("final low", "strong wind", "canopy", "improves")


def kind_of(habit: Habit) -> str | None:
    """Which of KINDS is planted in a jumper."""
    if habit.final_low_ft:
        return "final low"
    if habit.strong_share != 1.0:
        return "strong wind"
    if habit.later_wing:
        return "canopy"
    return "improves" if habit.error_last < habit.error_first else None


def found(kind: str, jumper: JumperSeason) -> bool:
    """Whether a season says what was planted."""
    if kind == "canopy":
        return len(jumper.groups) == 2 and all(group.trim is not None for group in jumper.groups)
    for claim in jumper.claims:
        low = claim.code == "turn height" and claim.evidence["gate"] == "final" and claim.value < 0
        wind = claim.code in ("wind", "wind cause") and claim.value < 0
        better = claim.code in ("distance", "steadiness", "together") and claim.value < 0
        if {"final low": low, "strong wind": wind, "improves": better}[kind]:
            return True
    return False


def one_season(seed: int, jumps: int) -> tuple[Season, dict[str, list[int]]]:
    """A made-up season, debriefed; and how many jumps stand before each change of canopy when no canopy has a name."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "season"
        write_season(folder, seed, jumps)
        result = run_season([folder])
        with Logbook(result.logbook) as logbook:
            return result.season, dict(changes(logbook))


def changes(logbook: Logbook) -> Iterator[tuple[str, list[int]]]:
    """Jumper and the sizes of all parts but the last, where a change of trim splits the jumps of a nameless canopy."""
    for name in logbook.jumpers():
        rows = ({**row, "canopy": None} for row in logbook.rows(name, one_jumper=True))
        sizes = [len(jumps) for _, _, jumps, _ in group_jumps(read_jumps(rows)[0])]
        if len(sizes) > 1:
            yield str(name), sizes[:-1]


def main() -> None:
    """Print a line per season and the sums."""
    seasons, first, jumps = (int(a) for a in (sys.argv[1:] + ["20", "1", "50"][len(sys.argv) - 1 :]))
    whole = silent = 0
    for seed in range(first, first + seasons):
        season, parts = one_season(seed, jumps)
        named = {jumper.name: jumper for jumper in season.jumpers}
        if any(habit.name not in named for habit in JUMPERS):
            raise SystemExit(f"seed {seed}: a jumper is missing; {season.failures[:1]}")
        swapper = next(h.name for h in JUMPERS if h.later_wing)
        unnamed = parts.keys() == {swapper} and abs(parts[swapper][0] - jumps // 2) <= 2
        hits = {kind: found(kind, named[h.name]) for h in JUMPERS if (kind := kind_of(h))}
        clean = [named[h.name] for h in JUMPERS if kind_of(h) is None]
        wrong = [f"{j.name}: {say(c, DISPLAY_SYSTEMS['uk'])}" for j in clean for c in j.claims]
        whole += all(hits.values())
        silent += not wrong
        marks = "  ".join(f"{kind} {'yes' if hits[kind] else 'NO '}" for kind in KINDS)
        print(
            f"seed {seed:4d}  {marks}  unnamed {'yes' if unnamed else 'NO '}  failed {len(season.failures)}  about the others: {'; '.join(wrong) or '-'}",
            flush=True,
        )
    print(
        f"all planted habits found in {whole} of {seasons} seasons, nothing said about the others in {silent}"
    )


if __name__ == "__main__":
    main()
