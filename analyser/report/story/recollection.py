"""What the jumper is asked to remember, and what was measured of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from analyser.angles import wind_from_deg
from analyser.debrief import Debrief
from analyser.pattern import LegName, Pattern
from analyser.report.story.blocks import (
    Asked,
    Cell,
    Remark,
    Sentence,
    Story,
    bearing,
    distance,
    height,
    speed,
)
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT

__all__ = ["asked", "held_back"]

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
TROUBLES = (
    "nothing",
    "opening point",
    "holding",
    "pattern entry",
    "downwind leg",
    "base leg",
    "final",
    "wind",
    "flare",
)
TURNS: Final[list[LegName]] = ["downwind", "base", "final"]
LAYER_M = 100.0


def asked(debrief: Debrief) -> tuple[Asked, ...]:
    """The questions in the order in which they are asked."""
    gates = [g.name for g in debrief.plan.pattern.gates] if debrief.plan else TURNS
    most = max(debrief.budget, key=lambda r: abs(r.along_m) + abs(r.across_m), default=None)
    wind, strength = _wind(debrief)
    landed = _landed(debrief)
    return (
        *(_turn(debrief.flown, name) for name in gates),
        Asked("wind", "Where did the wind come from near the ground?", wind, COMPASS),
        Asked("strength", "How strong was it?", strength),
        Asked("landing", "Where did you land, seen from the target?", landed),
        Asked(
            "trouble",
            "Where did it begin to go another way than planned?",
            f"most metres: {most.cause}" if most else "see below",
            TROUBLES,
        ),
        Asked("well", "What went well?"),
    )


def held_back(story: Story, page: str | None) -> Story:
    """The story without any result, where the jumper is to remember first; ``page`` is the one that asks, None where none is written."""
    if page is not None:
        text = "Open {page}: it asks what you remember, then it shows what was measured."
    else:
        text = (
            "Write down what you remember: where each turn began, the wind, where you landed, what went well. For a page that asks and "
            "then shows what was measured, add --html FILE. For the results here, leave out --recollect."
        )
    return replace(story, brief=(("First", Sentence(text, {"page": page})),), map=None, chapters=(), foot=())


def _turn(flown: Pattern | None, name: LegName) -> Asked:
    gate = flown.gate(name) if flown else None
    measured = height(gate.agl_m, gate.agl_sd_m) if gate else "not flown"
    return Asked(f"turn-{name}", f"At what height did you turn onto {name}?", measured, height=True)


def _wind(debrief: Debrief) -> tuple[Cell, Cell]:
    """Where the mean wind near the ground came from, and how strong it was."""
    mean = debrief.wind.profile.mean_below(LAYER_M) if debrief.wind else None
    if mean is None:
        none = Remark(debrief.reasons.get("winds", "not known"))
        return none, none
    text = "from {deg} (mean of the lowest {top})"
    return Sentence(text, {"deg": bearing(float(wind_from_deg(*mean))), "top": height(LAYER_M)}), speed(
        (mean[0] ** 2 + mean[1] ** 2) ** 0.5
    )


def _landed(debrief: Debrief) -> Cell:
    landing = debrief.landing
    if landing is None or landing.offset_m is None:
        return Remark(debrief.reasons.get("target") or debrief.reasons.get("landing") or "not known")
    return Sentence(
        "{along}, {across}",
        {
            "along": distance(landing.along_m, landing.along_sd_m, sides=LONG_SHORT),
            "across": distance(landing.across_m, landing.across_sd_m, sides=RIGHT_LEFT),
        },
    )
