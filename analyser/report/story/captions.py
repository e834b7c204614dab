"""The pictures of one jump with their captions."""

from __future__ import annotations

from functools import partial
from typing import Final

from analyser.debrief import Debrief
from analyser.report.pictures.figures import PICTURES
from analyser.report.pictures.map import small_map
from analyser.report.story.blocks import Picture

__all__ = ["picture", "summary_map"]

CAPTIONS: Final[dict[str, tuple[str, str, str]]] = {
    "plan-view": (
        "Plan view about the target",
        "Coloured by height. Labels give the height of each turn and, in brackets, the difference from the plan.",
        "Map of the landing seen from above: planned pattern, flown path coloured by height, turns, wind arrows, touchdown with its "
        "position error. The numbers stand in the table The entry, and where each turn began.",
    ),
    "height-to-go": (
        "Height against the way still to go",
        "Above the dashed line is higher than planned for that distance.",
        "Curve of height over remaining distance, flown and planned. The numbers stand in the table The entry, and where each turn began.",
    ),
    "timeline": (
        "Height and ground speed",
        "Phases behind the heights, legs behind the speeds.",
        "Two curves over time: height with the phases of the jump, ground speed with the legs. The numbers stand in the tables.",
    ),
    "wind-profile": (
        "Wind by height",
        "Bars are one standard deviation. Shaded heights could not be determined and stay empty.",
        "Wind speed and direction by height with error bars, beside the wind the plan was made for. The numbers stand in the table "
        "Wind by height.",
    ),
    "hodograph": (
        "Ground velocity",
        "Each point is the velocity over the ground at one fix of the pattern. In full flight and a steady wind they lie on a circle. "
        "Its middle is the wind, its radius the airspeed.",
        "Ground velocities of the pattern around the circle of trim airspeed whose centre is the mean wind.",
    ),
    "reach": (
        "Side view along the wind line",
        "Inside the wedge the place could still be reached in full flight. Where the flight line is shaded, the edge is too uncertain "
        "to say.",
        "Height against place on the wind line, with the region from which entry and target were within reach.",
    ),
    "budget": (
        "The miss, added up",
        "Each bar begins where the one above ended. Whiskers are one standard deviation.",
        "Signed bars, one for each cause, along and across the landing direction, adding up to the landing. The numbers stand in the "
        "table The way from the target to the landing.",
    ),
    "redrawn": (
        "The plan and the plan redrawn",
        "Same gate heights, same canopy, other wind.",
        "Map of the planned pattern and the same pattern redrawn for the wind that was there. The numbers stand in the table Gates redrawn.",
    ),
}


def picture(debrief: Debrief, name: str) -> Picture:
    """One of the pictures of :data:`analyser.report.pictures.figures.PICTURES` with its caption."""
    return Picture(name, *CAPTIONS[name], partial(PICTURES[name], debrief))


def summary_map(debrief: Debrief) -> Picture:
    """The small map beside the three lines."""
    return Picture(
        "small-map",
        "Flown and planned",
        "North is up.",
        "Small map of the flown pattern, the plan, the target and the touchdown. A larger one stands in the chapter Plan against flown.",
        partial(small_map, debrief),
    )
