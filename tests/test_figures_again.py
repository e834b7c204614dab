"""Figures of README and docs that a script prints, printed again for the first few of the same seeds and compared within their own error.

A share is compared within three standard errors of the small drawing, a median with its 90th percentile as a lognormal within three of its
standard errors, a median alone by its sign test. So a table that is of a former model, or a script that prints something else, is found.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from benchmarks import debriefs, families, winds

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
METHOD = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
NORMAL_P90 = 1.2816
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def rows_of(text: str, begin: str) -> dict[str, list[float]]:
    """First cell → all numbers of the other cells, of the first table at or after a line that holds ``begin``."""
    lines = iter(text[text.index(begin) :].splitlines())
    table = [line for line in _table(lines) if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in table[2:]]
    return {first: [float(n) for n in NUMBER.findall(" ".join(rest))] for first, *rest in cells}


def _table(lines: object) -> list[str]:
    found: list[str] = []
    for line in lines:  # type: ignore[attr-defined]
        if line.startswith("|"):
            found.append(line)
        elif found:
            break
    return found


def share(found: Sequence[float], told: float) -> None:
    """``found``: a share of each jump; ``told`` in per cent."""
    p = told / 100.0
    n = len(found)
    sd = max(float(np.std(found, ddof=1)), math.sqrt(p * (1.0 - p) / n))
    assert abs(float(np.mean(found)) - p) <= 3.0 * sd / math.sqrt(n) + 0.005, (found, told)


def spread(found: Sequence[float], median: float, p90: float) -> None:
    """Errors of each jump against a median and 90th percentile."""
    sd = math.log(p90 / median) / NORMAL_P90
    off = float(np.mean(np.log(found))) - math.log(median)
    assert abs(off) <= 3.0 * sd / math.sqrt(len(found)) + 0.02, (found, median, p90)


def middle(found: Sequence[float], median: float) -> None:
    """Neither all above nor all below: one drawing of eight in 128 would be."""
    assert min(found) <= median + 0.05
    assert max(found) >= median - 0.05


def first_seed(text: str, script: str) -> int:
    command = re.search(rf"python benchmarks/{script}\.py[^`]*--first (\d+)", text)
    assert command is not None
    return int(command[1])


def test_the_table_of_whole_debriefs() -> None:
    told = rows_of(README, "<!-- table: debriefs -->")
    first = first_seed(README, "debriefs")
    drawn = [debriefs.one(seed) for seed in range(first, first + 8)]
    printed = {row.split("|")[1].strip() for row in debriefs.table(drawn).splitlines()[2:]}
    assert printed == set(told), "the script prints other rows than the README shows"
    share(
        [float(np.mean(np.array(r["phases"]) <= 4.0)) for r in drawn], told["phase boundaries within 4 s"][0]
    )
    middle([r["offset"] for r in drawn], told["landing offset, distance from the target"][0])
    middle([r["place"] for r in drawn], told["landing place (receiver drift included)"][0])
    share([float(r["hand"]) for r in drawn], told["hand right"][0])
    share([float(r["kind"]) for r in drawn], told["whole pattern named right"][0])
    turns = [np.abs(np.nan_to_num(r["turns"], nan=math.inf)) for r in drawn]
    within, median = told["turn heights within 15 m"]
    share([float(np.mean(t <= 15.0)) for t in turns], within)
    middle([float(np.median(t)) for t in turns], median)
    joint = told["wind error, joint fit"]
    spread([r["wind"] for r in drawn], joint[0], joint[-1])
    middle([r["circle"] for r in drawn], told["wind error, circle per 100 m layer"][0])
    share([r["share"] for r in drawn], told["heights measured"][0])
    inside = told["truth inside the 95 % / 50 % ellipse"]
    for key, percent in zip(("in95", "in50"), inside[-2:], strict=True):
        share([float(np.mean(r[key])) for r in drawn], percent)
    assert max(r["budget"] for r in drawn) < 5e-5


FAMILIES = {
    "ours": "ours",
    "kinematic canopy": "kinematic",
    "point-mass glider": "glider",
    "parafoil, six degrees of freedom": "parafoil",
}


@pytest.mark.parametrize("name", FAMILIES)
def test_the_table_of_families(name: str) -> None:
    told, first = rows_of(README, "| family ("), first_seed(README, "families")
    assert told == rows_of(METHOD, "| family ("), "README and docs/method.md show different figures"
    median, p90, known, in95, in50, heights = told[name]
    drawn = [families.one(seed, FAMILIES[name]) for seed in range(first, first + 10)]
    spread([families.rms(f["rows"]) for f in drawn], median, p90)
    middle([families.rms(f["known"]) for f in drawn], known)
    share([float(np.mean([r.measured for r in f["rows"]])) for f in drawn], heights)
    for bound, percent in ((families.NORMAL_95, in95), (families.NORMAL_50, in50)):
        parts = [families.measured([f]) for f in drawn]
        share(
            [
                float(
                    np.mean([abs(v) <= bound for r in p for v in (r.east / r.sd_east, r.north / r.sd_north)])
                )
                for p in parts
            ],
            percent,
        )


def inside(rows: Sequence[tuple[float, float, float, bool, float]], bound: float) -> float:
    """The share of measured heights that lie in an ellipse."""
    return float(np.mean([distance <= bound for _, _, distance, known, _ in rows if known]))


def test_the_table_of_winds() -> None:
    told, first = rows_of(METHOD, "| | median | 90th percentile | in the 95 %"), first_seed(METHOD, "winds")
    drawn = [winds.one(seed, "record") for seed in range(first, first + 8)]
    joint, known = told["**joint fit**"], told["the same, given the true airspeed at every instant"]
    spread([winds.rms(f["rows"]) for f in drawn], *joint[:2])
    spread([winds.rms(f["known"]) for f in drawn], *known[:2])
    spread([f["floor"] for f in drawn], *told["mean of the true air over 50 m (gusts only)"])
    middle([f["circle"] for f in drawn], told["circle fit per layer of 100 m"][0])
    share([winds.share([f]) for f in drawn], joint[4])
    for bound, at in ((winds.CHI2_95, 2), (winds.CHI2_50, 3)):
        share([inside(f["rows"], bound) for f in drawn], joint[at])
        share([inside(f["known"], bound) for f in drawn], known[at])
    names = [name for name in told if re.search(r"\(\d+( jumps)?\)", name)]
    styles = [name for name in names if not name.startswith(("harsh", "jumps with"))]
    assert sum(int(NUMBER.findall(name)[-1]) for name in styles) == 300
    for ensemble, begin in (("harsh", "harsh ensemble"), ("ambiguous", "jumps with few headings")):
        row = next(numbers for name, numbers in told.items() if name.startswith(begin))
        some = [winds.one(seed, ensemble, beside=False) for seed in range(first, first + 6)]
        spread([winds.rms(f["rows"]) for f in some if winds.measured([f])], *row[:2])
        share([winds.share([f]) for f in some], row[4])
        seen = [f["rows"] for f in some if winds.measured([f])]
        share([inside(rows, winds.CHI2_95) for rows in seen], row[2])
        share([inside(rows, winds.CHI2_50) for rows in seen], row[3])


NOT_AGAIN = {
    "budget": "of every row the share inside its errors; tests/replay/test_recovery.py holds the budget against truth on fresh seeds",
    "desk": "seconds and bytes of one machine",
    "held_out": "rank correlations and shares of a dozen jumps; tests/wind/test_check.py holds the check itself",
    "load_winds": "tests/load/test_load_winds.py flies loads of five and holds the same two figures loosely",
    "loads": "sixty loads of up to eight; tests/load/test_approach.py lists the planted pairs of a few",
    "matrix": "tests/debrief/test_matrix.py runs fifty of its cells",
    "receivers": "tests/track/test_receivers.py runs every named receiver on a few jumps",
    "season": "hundreds of made-up seasons for one share; tests/season/test_summarise.py runs some",
    "season_field": "seconds and bytes of one machine",
    "season_habits": "as season: shares of hundreds of seasons",
    "talks": "shares of dozens of seasons; the slow tests of tests/season and of talks hold them on a few",
    "season_kills": "counts of kills that lost nothing; tests/batch/test_promises.py kills runs at random moments",
}


def test_every_script_that_a_document_names_is_printed_again_or_has_a_reason() -> None:
    """``pytestmark`` makes this a slow test too; it costs nothing."""
    texts = [README, *(p.read_text(encoding="utf-8") for p in (ROOT / "docs").glob("*.md"))]
    named = {name for text in texts for name in re.findall(r"benchmarks/(\w+)\.py", text)}
    assert named == {"debriefs", "families", "winds"} | set(NOT_AGAIN)
