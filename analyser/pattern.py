"""The vocabulary of a landing pattern, flown or planned: Leg, Gate, Pattern.

A *gate* is the place and height where the turn onto a leg begins, and carries the name of that leg.
``across``/``along`` mean: in the landing frame, along positive past the target in the direction of landing,
across positive to the right of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from analyser.angles import rotate

__all__ = [
    "LEG_NAMES",
    "Gate",
    "Hand",
    "Leg",
    "LegName",
    "Pattern",
    "PatternKind",
    "Turn",
    "gate_words",
    "to_landing_frame",
]

LegName = Literal["crosswind", "downwind", "base", "final"]
LEG_NAMES: tuple[LegName, ...] = ("crosswind", "downwind", "base", "final")
Hand = Literal["left", "right"]
PatternKind = Literal["box", "three-leg", "straight in", "other"]


@dataclass(frozen=True, slots=True)
class Gate:
    """Where the turn onto a leg begins: height [m above the landing area], place [m from the frame origin], headings [deg true].

    ``heading_deg``/``track_deg`` are those of the leg that begins here.
    """

    name: LegName
    agl_m: float
    east_m: float
    north_m: float
    heading_deg: float
    track_deg: float
    t_s: float | None = None
    agl_sd_m: float = 0.0
    lateral_sd_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Turn:
    """The turn onto a leg: heights where it begins and ends [m], signed change of heading [deg, right positive], bank and rate."""

    start_s: float
    end_s: float
    start_agl_m: float
    end_agl_m: float
    change_deg: float
    rate_dps: float
    bank_deg: float


@dataclass(frozen=True, slots=True)
class Leg:
    """One straight leg; times in track seconds, heights above the landing area [m], angles [deg true], right positive."""

    name: LegName
    start_s: float
    end_s: float
    turn_agl_m: float | None
    turn_agl_sd_m: float | None
    start_agl_m: float
    end_agl_m: float
    heading_deg: float
    track_deg: float
    crab_deg: float
    ground_speed_mps: float
    length_m: float
    confidence: float = 1.0
    turn: Turn | None = None


@dataclass(frozen=True, slots=True)
class Pattern:
    """A landing pattern. ``landing_deg`` direction of flight on final (track, true); gates in the order flown.

    Flown only: ``s_turns`` the turns on final after the one that led onto it, ``straight_s`` seconds of straight flight before touchdown.
    """

    kind: PatternKind
    hand: Hand | None
    landing_deg: float | None
    legs: tuple[Leg, ...] = ()
    gates: tuple[Gate, ...] = ()
    confidence: float = 1.0
    reason: str = ""
    path: tuple[tuple[float, float, float, float], ...] = field(default=())
    s_turns: tuple[Turn, ...] = ()
    straight_s: float | None = None

    def __repr__(self) -> str:
        """One line."""
        gates = ", ".join(f"{g.name} at {g.agl_m:.0f} m" for g in self.gates)
        return f"<Pattern, {self.kind}, {self.hand or 'no'} hand: {gates or self.reason or 'no gate'}>"[:200]

    def gate(self, name: LegName) -> Gate | None:
        """The gate of that name, or None."""
        return next((g for g in self.gates if g.name == name), None)

    def leg(self, name: LegName) -> Leg | None:
        """The leg of that name, or None."""
        return next((leg for leg in self.legs if leg.name == name), None)


def gate_words(name: LegName, first: bool) -> str:
    """What a planned gate asks for: the first of a plan is met already on its track, at the others a turn begins.

    >>> gate_words("downwind", True), gate_words("base", False)
    ('enter downwind', 'turn onto base')
    """
    return f"{'enter' if first else 'turn onto'} {name}"


def to_landing_frame(east_m: float, north_m: float, landing_deg: float) -> tuple[float, float]:
    """(along, across) of a vector: along the direction of landing, and to the right of it."""
    across, along = rotate(east_m, north_m, -landing_deg)
    return float(along), float(across)
