"""Published accuracy standards that a landing is held against."""

from __future__ import annotations

from typing import NamedTuple

from analyser.units import FOOT_M

__all__ = ["STANDARDS", "AccuracyStandard"]


class AccuracyStandard(NamedTuple):
    """A published accuracy standard: name, radius about the target [m], where it was seen and when."""

    name: str
    radius_m: float
    source: str


STANDARDS: tuple[AccuracyStandard, ...] = (
    AccuracyStandard(
        "USPA category A",
        330 * FOOT_M,
        "within 330 ft of the planned area; uspa.org/skydiveschool/a, seen 2026",
    ),
    AccuracyStandard(
        "USPA category D and E", 165 * FOOT_M, "within 165 ft; uspa.org/skydiveschool/D and /E, seen 2026"
    ),
    AccuracyStandard(
        "F/NLF A certificate", 50.0, "10 jumps within 50 m; F/NLF handbook, edition of 27 Oct 2011"
    ),
    AccuracyStandard("CSPA A", 30.0, "10 stand-up landings within 30 m; parachutevoltige.com, seen 2026"),
    AccuracyStandard(
        "USPA category H and A licence",
        65 * FOOT_M,
        "within 65 ft, unassisted; uspa.org/skydiveschool/h, seen 2026",
    ),
    AccuracyStandard("USPA B licence", 10.0, "within 10 m on 10 jumps; startskydiving.com, seen 2026"),
    AccuracyStandard("CSPA C", 10.0, "10 landings within 10 m; CSPA certificate of proficiency, seen 2026"),
    AccuracyStandard(
        "USPA C licence", 2.0, "within 2 m on 25 jumps; SIM 3-1 as quoted on dropzone.com topic 28088"
    ),
)
