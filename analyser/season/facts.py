"""What can be counted from the first jump on, without statistics: what went well, cautions, rings, heights kept, the latest jump."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.pattern import LEG_NAMES
from analyser.score import judge
from analyser.season.jumps import Jumps
from analyser.settings import AccuracyStandard, Method

__all__ = [
    "CAUTION_KINDS",
    "WELL_RING_M",
    "Count",
    "Facts",
    "Latest",
    "Trend",
    "caution_counts",
    "facts",
    "heights_kept",
    "latest",
    "ring_count",
    "ring_met",
    "trend",
    "well_counts",
    "went_well",
]

Mask = NDArray[np.bool_]

CAUTION_KINDS: Final[dict[str, str]] = {
    "final_turn_below_minimum": "low turns",
    "low_turn": "heading changes near the ground",
    "short_final": "short finals",
    "s_turns": "S-turns on final",
    "large_last_turn": "large last turns",
    "full_turn_low": "full turns at pattern height",
    "wind_near_airspeed": "winds near the airspeed",
    "hand_against_rule": "the other hand than the site's",
    "keep_out_overflown": "areas overflown too low",
}
"""Code of a finding that is a caution -> what it is counted as."""

WELL_RING_M: Final = 20.0
WELL_SHARE: Final = (
    2.0 / 3.0
)  # ours: what was so in two jumps of three went well; what failed in half of them did not
TREND_JUMPS: Final = 10  # ours: the latest jumps that are set beside as many before
LEAST_TREND: Final = 3


@dataclass(frozen=True, slots=True)
class Count:
    """How many jumps had something: ``hits`` of ``of``, ``left_open`` where the error does not say; the days of the hits [s since 1970]."""

    name: str
    hits: int
    of: int
    days_s: tuple[float, ...] = ()
    left_open: int = 0

    @property
    def met(self) -> bool:
        """Whether any jump had it or may have had it."""
        return self.hits > 0 or self.left_open > 0


@dataclass(frozen=True, slots=True)
class Facts:
    """Jumps counted: ``n`` of them, the median distance from the target [m] of the ``n_target`` with one, what went well, cautions."""

    n: int
    n_target: int
    r50_m: float | None
    well: tuple[Count, ...]
    cautions: tuple[Count, ...]


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest jump: when [s since 1970], canopy, landing from the target [m], heights of the turns against the plan [m] with their errors,
    names of what went well, of the cautions and of those the errors leave open, and where its debrief is found (content and number)."""

    t_s: float
    canopy: str | None
    along_m: float | None
    across_m: float | None
    offset_m: float | None
    offset_sd_m: float | None
    turns: tuple[tuple[str, float, float | None], ...]
    well: tuple[str, ...]
    cautions: tuple[str, ...]
    cautions_open: tuple[str, ...]
    sha256: str
    jump: int


@dataclass(frozen=True, slots=True)
class Trend:
    """Median distance from the target [m] of the latest ``n`` jumps of one canopy and of the ``n`` before: two facts, no test."""

    canopy: str | None
    n: int
    before_m: float
    latest_m: float


def _codes(jumps: Jumps, column: str = "findings") -> list[frozenset[str]]:
    return [frozenset((text or "").split()) for text in jumps.text[column]]


def caution_counts(jumps: Jumps) -> tuple[Count, ...]:
    """Every kind of caution with the jumps that had it and how many their errors leave open, also those nobody had."""
    codes, maybe = _codes(jumps), _codes(jumps, "left_open")
    return tuple(
        _count(
            name,
            jumps,
            np.array([code in found for found in codes], dtype=bool),
            left_open=sum(code in found for found in maybe),
        )
        for code, name in CAUTION_KINDS.items()
    )


def _count(name: str, jumps: Jumps, hit: Mask, known: Mask | None = None, left_open: int = 0) -> Count:
    of = len(jumps) if known is None else int(np.sum(known))
    return Count(name, int(np.sum(hit)), of, tuple(float(t) for t in jumps.t_s[hit]), left_open)


def ring_met(offset_m: float, offset_sd_m: float, radius_m: float) -> bool | None:
    """Whether a landing lies within a ring; None where the error of the position leaves it open (as the debrief decides it)."""
    sd = offset_sd_m if np.isfinite(offset_sd_m) else 0.0
    return judge(offset_m, sd, (AccuracyStandard("ring", radius_m, "ours"),))[0].met


def ring_count(jumps: Jumps, radius_m: float) -> Count:
    """Landings within a ring about the target, of those with a target."""
    known = np.isfinite(jumps["offset_m"])
    met = [
        ring_met(float(offset), float(sd), radius_m) if good else False
        for offset, sd, good in zip(jumps["offset_m"], jumps["offset_sd_m"], known, strict=True)
    ]
    hit = np.array([m is True for m in met], dtype=bool)
    return _count(f"within {radius_m:.0f} m", jumps, hit, known, sum(m is None for m in met))


def heights_kept(jumps: Jumps, method: Method | None = None) -> tuple[Mask, Mask]:
    """Jumps whose planned turns all began near their heights, and those that had a plan of their own to keep, both (n,).

    The rule of the finding: no planned turn is off by more than the limit (or its error), two or more are known well enough, and none is
    named as a cause of the miss.
    """
    rule = method or Method()
    limit, sure = rule.gate_height.value, rule.certainty.value
    planned = ~jumps.is_text("plan", None)
    fine, well, of_plan = np.ones(len(jumps), bool), np.zeros(len(jumps), int), np.zeros(len(jumps), bool)
    for gate in LEG_NAMES:
        wanted = np.isfinite(jumps[f"{gate}_planned_agl_m"])
        error, sd = np.abs(jumps[f"{gate}_agl_error_m"]), np.nan_to_num(jumps[f"{gate}_turn_agl_sd_m"])
        of_plan |= wanted & np.isfinite(error)
        fine &= ~wanted | (error <= np.maximum(limit, sure * sd))
        well += wanted & (error + sure * sd <= 2.0 * limit)
    named = [any(code.endswith(("_turn_high", "_turn_low")) for code in codes) for codes in _codes(jumps)]
    known = planned & of_plan
    return known & fine & (well >= 2) & ~np.array(named, dtype=bool), known


def well_counts(jumps: Jumps) -> tuple[Count, ...]:
    """What went well, counted: landings near the target, heights kept, into the wind, straight to the ground."""
    kept, planned = heights_kept(jumps)
    codes = _codes(jumps)
    wind = np.isfinite(jumps["into_wind_error_deg"])
    into, straight = (
        np.array([code in found for found in codes], dtype=bool) for code in ("into_wind", "straight_final")
    )
    finals = straight | np.isfinite(jumps["final_turn_agl_m"])
    return (
        ring_count(jumps, WELL_RING_M),
        _count("turn heights kept", jumps, kept, planned),
        _count("into the wind", jumps, into, wind | into),
        _count("straight to the ground", jumps, straight, finals),
    )


def went_well(found: Facts) -> list[Count]:
    """What was so in enough of the jumps to be called well, the most frequent first."""
    counts = [c for c in found.well if c.of and c.hits >= WELL_SHARE * c.of]
    return sorted(counts, key=lambda c: -c.hits / c.of)


def facts(jumps: Jumps) -> Facts:
    """Everything that is counted, over the jumps given."""
    offset = jumps["offset_m"][np.isfinite(jumps["offset_m"])]
    middle = float(np.median(offset)) if offset.size else None
    return Facts(len(jumps), int(offset.size), middle, well_counts(jumps), caution_counts(jumps))


def latest(jumps: Jumps) -> Latest | None:
    """The last of the jumps, as facts; None without one."""
    if not len(jumps):
        return None
    one = jumps.where(np.arange(len(jumps)) == len(jumps) - 1)
    seen = facts(one)
    along, across, offset, sd = (_value(one, f"{n}_m") for n in ("along", "across", "offset", "offset_sd"))
    return Latest(
        float(one.t_s[0]),
        one.text["canopy"][0],
        along,
        across,
        offset,
        sd,
        tuple(_turns(one)),
        tuple(c.name for c in seen.well if c.hits),
        tuple(c.name for c in seen.cautions if c.hits),
        tuple(c.name for c in seen.cautions if c.left_open),
        str(one.text["sha256"][0]),
        one.jump[0],
    )


def _value(one: Jumps, name: str) -> float | None:
    value = float(one[name][0])
    return value if np.isfinite(value) else None


def _turns(one: Jumps) -> Iterator[tuple[str, float, float | None]]:
    if one.text["plan"][0] is None:
        return
    for gate in LEG_NAMES:
        error = _value(one, f"{gate}_agl_error_m")
        if error is not None:
            yield gate, error, _value(one, f"{gate}_turn_agl_sd_m")


def trend(jumps: Jumps) -> Trend | None:
    """The latest jumps of one canopy beside as many before; None below twice three with a target."""
    mine = jumps.where(np.isfinite(jumps["offset_m"]))
    n = min(TREND_JUMPS, len(mine) // 2)
    if n < LEAST_TREND:
        return None
    offset = mine["offset_m"]
    return Trend(
        jumps.text["canopy"][-1], n, float(np.median(offset[-2 * n : -n])), float(np.median(offset[-n:]))
    )
