"""Words for one part of a budget row: the wind, a turn's height, a place, the direction flown, the speed."""

from __future__ import annotations

import math

import numpy as np

from analyser.angles import signed_difference_deg, wind_from_deg
from analyser.findings.legs import Words, entry_words, leg_words, turn_height
from analyser.findings.model import Values, clearly
from analyser.findings.thresholds import FINDINGS
from analyser.jump import Debrief
from analyser.pattern import LegName
from analyser.replay import Cause
from analyser.replay.budget import GATE_AT_END
from analyser.replay.parts import Part
from analyser.replay.standing import certainty_of
from analyser.replay.unbraked import in_brakes

__all__ = ["part_words"]

LEG_OF: dict[Cause, LegName] = {
    "entry": "crosswind",
    "downwind leg": "downwind",
    "base leg": "base",
    "final leg": "final",
}


def part_words(x: Debrief, cause: Cause, part: Part, values: Values) -> Words:
    """Code and template for one part of a row; numbers go into ``values``."""
    if part.part == "wind":
        return _wind(x, values)
    if part.part == "height":
        row = next(
            (r for r in x.comparison if r.gate == GATE_AT_END.get(cause) and r.agl_m is not None), None
        )
        return turn_height(x, row, values) if row is not None else _leg(x, cause, values)
    if part.part == "direction":
        return _direction(x, cause, part, values)
    if part.part == "speed":
        return _trim(x, values) if cause == "wind" else _speed(x, cause, part, values)
    if cause == "entry":
        return entry_words(x, cause, values)
    return _shape(cause) if _split(x, cause) else _leg(x, cause, values)


def _split(x: Debrief, cause: Cause) -> bool:
    """Whether the leg's height, direction and speed are known apart, so that its place is what the turn made of it."""
    row = next((r for r in x.budget if r.cause == cause), None)
    return row is not None and len(row.parts) > 1


def _shape(cause: Cause) -> Words:
    gate = GATE_AT_END[cause]
    return (
        f"{gate}_turn_shape",
        f"The turn onto {gate} carried the flight elsewhere than a turn at the usual bank would have.",
    )


def _leg(x: Debrief, cause: Cause, values: Values) -> Words:
    if cause == "final leg":
        return "final_leg", "The final leg ended elsewhere than full flight straight ahead would have."
    return leg_words(x, cause, values)


def _wind(x: Debrief, values: Values) -> Words:
    """The plan's wind against the recovered one, as the mean over the pattern's heights."""
    thought_of = x.settings.wind_profile
    if x.profile is None or thought_of is None or x.planned is None or not x.planned.gates:
        return "wind_misread", "The wind was not the one the plan was made for."
    heights = np.linspace(0.0, x.planned.gates[0].agl_m, 9)
    there = [float(np.mean(v)) for v in x.profile.vector(heights)]
    thought = [float(np.mean(v)) for v in thought_of.vector(heights)]
    sd = float(np.mean([x.profile.at(float(h)).worst_sd for h in heights]))
    difference = math.hypot(there[0] - thought[0], there[1] - thought[1])
    values |= {
        "wind_there_mps": math.hypot(*there),
        "wind_there_sd_mps": sd,
        "wind_there_from_deg": float(wind_from_deg(*there)),
        "wind_planned_mps": math.hypot(*thought),
        "wind_planned_from_deg": float(wind_from_deg(*thought)),
        "wind_difference_mps": difference,
        "wind_difference_sd_mps": sd,
    }
    if difference <= sd:
        return (
            "wind_misread",
            "The wind along the pattern differed from the plan's at some heights more than at others.",
        )
    return "wind_misread", (
        "The wind along the pattern was {wind_there_mps:speed} from {wind_there_from_deg:bearing~}. The plan was made for "
        "{wind_planned_mps:speed~} from {wind_planned_from_deg:bearing~}."
    )


def _trim(x: Debrief, values: Values) -> Words:
    """The speeds the plan was drawn with against those flown."""
    if x.plan is None or x.trim is None:
        return "trim_misread", "The canopy's speeds were not those the plan was drawn with."
    values |= {
        "airspeed_mps": x.trim.airspeed_mps,
        "airspeed_sd_mps": x.trim.airspeed_sd_mps,
        "sink_mps": x.trim.sink_mps,
        "sink_sd_mps": x.trim.sink_sd_mps,
        "planned_airspeed_mps": x.plan.trim.airspeed_mps,
        "planned_sink_mps": x.plan.trim.sink_mps,
    }
    return "trim_misread", (
        "The canopy flew {airspeed_mps:speed} and sank {sink_mps:speed}. The plan was drawn with {planned_airspeed_mps:speed~} and "
        "{planned_sink_mps:speed~}."
    )


def _direction(x: Debrief, cause: Cause, part: Part, values: Values) -> Words:
    """A leg on another heading than the one that holds its track; a final whose track lay aside is said as such."""
    said = _final_direction(x, values) if cause == "final leg" else None
    if said is not None:
        return said
    leg, off, off_sd = LEG_OF.get(cause, "downwind"), part.amount, part.amount_sd
    sure = off is not None and clearly(abs(off), off_sd, 0.0, x.settings.method.certainty.value)
    if off is None or not (sure or _leaning(cause, part)):
        return f"{leg}_direction", f"On {leg} the nose did not point where the planned track asked."
    side = "right" if off > 0.0 else "left"
    if not sure:  # the metres are clear, and the side with them; the degrees are not
        return (
            f"{leg}_direction",
            f"On {leg} the nose pointed {side} of the heading that holds the planned track, on average.",
        )
    values |= {"off_deg": abs(off), "off_sd_deg": off_sd}
    return f"{leg}_direction", (
        f"On {leg} the nose pointed {{off_deg:angle}} too far {side} to hold the planned track in that wind."
    )


def _leaning(cause: Cause, part: Part) -> bool:
    """Whether the degrees, though not clear by themselves, are beyond their error and on the side of metres that are."""
    off = part.amount or 0.0
    return abs(off) > (part.amount_sd or 0.0) and (cause != "final leg" or off * part.across_m > 0.0)


def _final_direction(x: Debrief, values: Values) -> Words | None:
    """A final flown in another direction than planned."""
    if x.flown is None or x.planned is None or x.flown.landing_deg is None or x.planned.landing_deg is None:
        return None
    off = float(signed_difference_deg(x.flown.landing_deg, x.planned.landing_deg))
    off_sd = math.hypot(FINDINGS.track_sd_deg, (x.landing.landing_deg_sd if x.landing else None) or 0.0)
    across = float(values["signed_across_m"] or 0.0)
    if not clearly(abs(off), off_sd, 0.0, x.settings.method.certainty.value) or off * across < 0.0:
        return None
    values |= {"off_deg": abs(off), "off_sd_deg": off_sd}
    side = "right" if off > 0.0 else "left"
    return (
        "final_direction",
        f"The final was flown {{off_deg:angle}} to the {side} of the planned landing direction.",
    )


def _speed(x: Debrief, cause: Cause, part: Part, values: Values) -> Words:
    """A leg on which the canopy covered more or less ground for its height than full flight would have."""
    if cause == "final leg":
        return _final_speed(x, part, values)
    leg, share = LEG_OF.get(cause, "downwind"), part.amount
    more = "more" if _along_leg(x, leg, part) > 0.0 else "less"
    if share is None:
        return f"{leg}_speed", f"On {leg} the flight covered {more} ground than full flight would have."
    values |= {"sink_share": share, "sink_share_sd": part.amount_sd}
    if clearly(1.0 - share, part.amount_sd, FINDINGS.slowed, x.settings.method.certainty.value):
        return f"{leg}_slow_sink", (
            f"On {leg} the sink was {{sink_share:percent~}} of full flight, as in brakes or in rising air."
        )
    return f"{leg}_speed", (
        f"On {leg} the flight covered {more} ground for its height than full flight in that wind (sink {{sink_share:percent~}} of full "
        "flight)."
    )


def _along_leg(x: Debrief, leg: LegName, part: Part) -> float:
    """The part's metres in the direction the leg was flown."""
    flown, landing_deg = x.flown.leg(leg) if x.flown else None, x.landing.landing_deg if x.landing else None
    if flown is None or landing_deg is None:
        return 0.0
    angle = math.radians(flown.track_deg - landing_deg)
    return part.along_m * math.cos(angle) + part.across_m * math.sin(angle)


def _final_speed(x: Debrief, part: Part, values: Values) -> Words:
    """The final's speed, with the sink that shows brakes where it does; where it does not, brakes and more wind stay side by side."""
    brakes, sure, along = x.brakes, x.settings.method.certainty.value, part.along_m
    least = certainty_of("final leg", part, x.settings.method, brakes)
    if brakes is None or not clearly(abs(along), part.along_sd_m, 0.0, least):
        # brakes move a landing along, not aside
        return "final_leg", "The final leg ended elsewhere than full flight straight ahead would have."
    values |= {"sink_share": brakes.share, "sink_share_sd": brakes.share_sd, "brakes_extra_s": brakes.extra_s}
    if in_brakes(brakes, x.settings.method):
        if along > 0.0:
            return "final_rising", (
                "The sink on final was {sink_share:percent~} of full flight, and the flight went farther than full flight would have, as in "
                "rising air."
            )
        return (
            "brakes_on_final",
            "The sink on final was {sink_share:percent~} of full flight, as it is in brakes.",
        )
    if along < 0.0 and not clearly(brakes.share - 1.0, brakes.share_sd, FINDINGS.slowed, sure):
        return "final_slow", (
            "The final covered less ground than full flight would have: brakes, or more wind near the ground. The sink, "
            "{sink_share:percent~} of full flight, does not show which."
        )
    return "final_leg", (
        "The final leg ended elsewhere than full flight straight ahead would have; the sink on final, {sink_share:percent~} of full "
        "flight, shows no brakes."
    )
