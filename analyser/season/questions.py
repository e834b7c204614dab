"""What is asked of every group of jumps; what of it may be said stands in :mod:`analyser.season.clear`."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.pattern import LEG_NAMES
from analyser.season.figures import LEAST, WIND_EDGES_MPS
from analyser.season.jumps import Jumps
from analyser.season.robust import (
    change_point,
    difference,
    level,
    p_difference,
    p_level,
    robust_sd,
    size_scores,
)
from analyser.units import FOOT_M

__all__ = [
    "HEIGHT_MARGIN_M",
    "OFFSET_MARGIN_M",
    "Question",
    "ask",
    "canopies_apart",
    "trim_change",
]

Values = NDArray[np.float64]

OFFSET_MARGIN_M: Final = 8.0
"""Ours: a level nearer to the target than this may be the receiver and the target's own position (4.9 m typical, 9 m at
95 % by the GPS standard positioning service standard of 2020, twice), so it is not called a habit."""
HEIGHT_MARGIN_M: Final = 15.0 * FOOT_M
"""Ours: a mean turn height nearer to the plan than this may be how heights and the begin of a turn are measured."""
TRIM_MARGIN_MPS: Final = 0.3
SPREAD_RATIO: Final = 0.8


@dataclass(frozen=True, slots=True)
class Question:
    """One question put to one group: code, number of jumps, the value found with its 95 % interval, p, Holm's p over all jumpers and
    Benjamini and Hochberg's p within the one jumper (see :mod:`analyser.season.clear`).

    ``claimed`` = clear, it may be said; ``watched`` = worth watching, it may be chance; ``evidence`` holds what the sentence needs (SI).
    """

    code: str
    n: int
    value: float
    low: float
    high: float
    margin: float
    p: float
    evidence: dict[str, float | str] = field(default_factory=dict)
    jumper: str | None = None
    canopy: str | None = None
    p_holm: float = 1.0
    claimed: bool = False
    p_bh: float = 1.0
    watched: bool = False


def _level(code: str, values: Values, margin: float, /, **evidence: float | str) -> Question:
    found = level(values)
    low, high = found.interval()
    return Question(code, found.n, found.value, low, high, margin, p_level(values, margin), dict(evidence))


def _difference(
    code: str, first: Values, second: Values, margin: float, /, **evidence: float | str
) -> Question:
    found = difference(first, second)
    low, high = found.interval()
    p = p_difference(first, second, margin)
    return Question(code, found.n, found.value, low, high, margin, p, dict(evidence))


def ask(jumps: Jumps) -> Iterator[Question]:
    """Every question that ten or more jumps of one canopy can answer, whatever the answer."""
    yield from _bias(jumps)
    yield from _turn_heights(jumps)
    yield from _change(jumps)
    yield from _improvement(jumps)
    planned = jumps.where(~jumps.is_text("plan", None))
    yield from _steadiness(planned)
    yield from _together(planned)
    yield from _by_wind(jumps)
    yield from _by_hand(jumps)
    yield from _by_site(jumps)


def _enough(*parts: Values) -> bool:
    return all(part.size >= LEAST for part in parts)


def _known(jumps: Jumps, name: str) -> Values:
    values = jumps[name]
    return np.asarray(values[np.isfinite(values)], dtype=np.float64)


def _bias(jumps: Jumps) -> Iterator[Question]:
    for axis in ("along", "across"):
        values = _known(jumps, f"{axis}_m")
        if _enough(values):
            yield _level(f"bias {axis}", values, OFFSET_MARGIN_M)


def _turn_heights(jumps: Jumps) -> Iterator[Question]:
    """Against a plan that somebody made; the preset that stands in for one binds nobody."""
    jumps = jumps.where(~jumps.is_text("plan", None))
    for gate in LEG_NAMES:
        values = _known(jumps, f"{gate}_agl_error_m")
        if _enough(values):
            yield _level("turn height", values, HEIGHT_MARGIN_M, gate=gate)


def _change(jumps: Jumps) -> Iterator[Question]:
    good = np.isfinite(jumps["along_m"])
    found = change_point(jumps["along_m"][good], LEAST) if int(np.sum(good)) >= 2 * LEAST else None
    if found is not None:
        low, high = found.step.interval()
        since = float(jumps.t_s[good][found.index])
        evidence: dict[str, float | str] = {
            "since_s": since,
            "n_before": found.index,
            "n_after": found.step.n - found.index,
        }
        yield Question(
            "change", found.step.n, found.step.value, low, high, OFFSET_MARGIN_M, found.p, evidence
        )


def _improvement(jumps: Jumps) -> Iterator[Question]:
    """Does the distance from the target shrink or grow with time? The value is the change of the median distance."""
    good = np.isfinite(jumps["along_m"]) & np.isfinite(jumps["across_m"])
    along, across = jumps["along_m"][good], jumps["across_m"][good]
    radius = np.hypot(along, across)
    third = radius.size // 3
    if third < LEAST:
        return
    first, last = radius[:third], radius[-third:]
    before, after = float(np.median(first)), float(np.median(last))
    ratio = after / max(before, 1e-9)
    p = _trend([along, across]) if not SPREAD_RATIO < ratio < 1.0 / SPREAD_RATIO else 1.0
    low, high = difference(first, last).interval()
    evidence: dict[str, float | str] = {"first_r50_m": before, "last_r50_m": after}
    yield Question("distance", radius.size, after - before, low, high, 0.0, p, evidence)


def _steadiness(jumps: Jumps) -> Iterator[Question]:
    """Does the scatter of the turn heights about their own level shrink or grow? The value is the change of that scatter."""
    columns = _height_errors(jumps)
    if not columns:
        return
    good = np.all(np.isfinite(columns), axis=0)
    third = int(np.sum(good)) // 3
    if third < LEAST:
        return
    heights = [c[good] - np.median(c[good]) for c in columns]
    before, after = _scatter(heights, third)
    ratio = after / max(before, 1e-9)
    p = _trend(heights) if not SPREAD_RATIO < ratio < 1.0 / SPREAD_RATIO else 1.0
    sizes = np.mean(np.abs(heights), axis=0)
    low, high = difference(sizes[:third], sizes[-third:]).interval()
    evidence: dict[str, float | str] = {"first_m": before, "last_m": after}
    yield Question("steadiness", int(np.sum(good)), after - before, low, high, 0.0, p, evidence)


def _together(jumps: Jumps) -> Iterator[Question]:
    """Do distance from the target and scatter of the turn heights shrink, or grow, together? The value is that of the distance."""
    heights = _height_errors(jumps)
    columns = [jumps["along_m"], jumps["across_m"], *heights]
    good = np.all(np.isfinite(columns), axis=0)
    third = int(np.sum(good)) // 3
    if not heights or third < LEAST:
        return
    along, across, *rest = (c[good] for c in columns)
    heights = [h - np.median(h) for h in rest]
    radius = np.hypot(along, across)
    first, last = radius[:third], radius[-third:]
    r50 = (float(np.median(first)), float(np.median(last)))
    scatter = _scatter(heights, third)
    ratios = [after / max(before, 1e-9) for before, after in (r50, scatter)]
    plain = max(ratios) < 1.0 or min(ratios) > 1.0
    plain = plain and not SPREAD_RATIO < math.sqrt(ratios[0] * ratios[1]) < 1.0 / SPREAD_RATIO
    p = _trend([along, across, *heights]) if plain else 1.0
    low, high = difference(first, last).interval()
    evidence: dict[str, float | str] = {"first_r50_m": r50[0], "last_r50_m": r50[1]}
    evidence |= {"first_m": scatter[0], "last_m": scatter[1]}
    yield Question("together", radius.size, r50[1] - r50[0], low, high, 0.0, p, evidence)


def _height_errors(jumps: Jumps) -> list[Values]:
    """The errors of the turn heights, gate by gate, where most jumps have them; none below three times ten jumps."""
    if len(jumps) < 3 * LEAST:
        return []
    columns = [jumps[f"{gate}_agl_error_m"] for gate in LEG_NAMES]
    return [c for c in columns if np.mean(np.isfinite(c)) >= 0.8]


def _scatter(heights: Sequence[Values], third: int) -> tuple[float, float]:
    """Robust scatter of all gates in the first and in the last third."""
    first, last = (
        float(np.sqrt(np.mean([robust_sd(h[part]) ** 2 for h in heights])))
        for part in (slice(None, third), slice(-third, None))
    )
    return first, last


def _trend(columns: Sequence[Values]) -> float:
    """p against "the scatter of none of these changes with order": all joined (Stouffer), what they share allowed for."""
    order = np.arange(columns[0].size, dtype=np.float64)
    scores = [size_scores(values) for values in columns]
    total = sum(_correlation(order, s) for s in scores)
    shared = sum(max(_correlation(a, b), 0.0) for a, b in combinations(scores, 2))
    z = abs(total) * math.sqrt((order.size - 1) / (len(scores) + 2.0 * shared))
    return math.erfc(z / math.sqrt(2.0))


def _correlation(x: Values, y: Values) -> float:
    spread = float(np.std(x) * np.std(y))
    return float(np.mean((x - x.mean()) * (y - y.mean()))) / spread if spread > 0.0 else 0.0


def _by_wind(jumps: Jumps) -> Iterator[Question]:
    """Levels above a wind speed against those below it, at the edge where they differ most.

    Edges tried are those of the bands from 10 kt on and the wind of the ten strongest jumps; the p value is that of the edge times the
    number of edges tried (Bonferroni).
    """
    wind = jumps["wind_speed_mps"]
    for name, code in (("along_m", "wind"), ("cause_wind_along_m", "wind cause")):
        good = np.isfinite(wind) & np.isfinite(jumps[name])
        values, speeds = jumps[name][good], wind[good]
        tried = []
        for edge in (*WIND_EDGES_MPS[2:], *np.sort(speeds)[-LEAST:][:1].tolist()):
            light, strong = values[speeds < edge], values[speeds >= edge]
            if _enough(light, strong):
                evidence = {"edge_mps": edge, "n_strong": strong.size, "strong_m": level(strong).value}
                tried.append(_difference(code, light, strong, OFFSET_MARGIN_M, **evidence))
        if tried:
            best = min(tried, key=lambda q: q.p)
            yield replace(best, p=min(1.0, best.p * len(tried)))


def _by_hand(jumps: Jumps) -> Iterator[Question]:
    for axis in ("along", "across"):
        left, right = (
            _known(jumps.where(jumps.is_text("hand", hand)), f"{axis}_m") for hand in ("left", "right")
        )
        if _enough(left, right):
            yield _difference("hand", left, right, OFFSET_MARGIN_M, axis=axis)


def _by_site(jumps: Jumps) -> Iterator[Question]:
    for site in sorted({s for s in jumps.text["site"] if s is not None}):
        here = jumps.is_text("site", site)
        inside, outside = _known(jumps.where(here), "along_m"), _known(jumps.where(~here), "along_m")
        if _enough(inside, outside):
            yield _difference("site", outside, inside, OFFSET_MARGIN_M, site=site)


def trim_change(jumps: Jumps) -> tuple[int, Question] | None:
    """Does the trim airspeed change its level (another canopy, brakes or weight)? Index of the first jump after, and the question."""
    good = np.flatnonzero(np.isfinite(jumps["airspeed_mps"]))
    found = change_point(jumps["airspeed_mps"][good], LEAST) if good.size >= 2 * LEAST else None
    if found is None:
        return None
    low, high = found.step.interval()
    index = int(good[found.index])
    evidence: dict[str, float | str] = {"since_s": float(jumps.t_s[index]), "n_before": found.index}
    return index, Question(
        "trim", found.step.n, found.step.value, low, high, TRIM_MARGIN_MPS, found.p, evidence
    )


def canopies_apart(first: Jumps, second: Jumps, names: tuple[str, str]) -> Iterator[Question]:
    """The level along of one canopy against that of another of the same jumper."""
    a, b = _known(first, "along_m"), _known(second, "along_m")
    if _enough(a, b):
        yield _difference("canopy", a, b, OFFSET_MARGIN_M, first=names[0], second=names[1])
