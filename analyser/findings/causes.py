"""The causes of the miss in words: one for each row of the budget that stands out of its error, with what explains it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analyser.angles import signed_difference_deg
from analyser.findings.legs import entry_words, leg_words
from analyser.findings.model import Finding, Values, clearly
from analyser.jump import Debrief
from analyser.replay import BudgetRow, Cause

__all__ = ["cause_rules"]

SLOWED = 0.05
TRACK_SD_DEG = 2.0


def cause_rules(x: Debrief) -> Iterator[Finding]:
    """The causes: from the budget where there is one, else from the gates alone."""
    if x.budget:
        for row in x.budget:
            if _stands_out(x, row):
                yield _cause(x, row)
    else:
        yield from _gates_alone(x)


def _stands_out(x: Debrief, row: BudgetRow) -> bool:
    """A row above the smallest cause worth a name, and one of its parts beyond its error."""
    method = x.settings.method
    if math.hypot(row.along_m, row.across_m) < method.cause_metres.value:
        return False
    parts = ((row.along_m, row.along_sd_m), (row.across_m, row.across_sd_m))
    floor = method.cause_metres.value / 2.0
    return any(abs(v) > floor and clearly(abs(v), sd, 0.0, method.certainty.value) for v, sd in parts)


def _cause(x: Debrief, row: BudgetRow) -> Finding:
    metres = math.hypot(row.along_m, row.across_m)
    values: Values = {
        "along_m": abs(row.along_m),
        "along_sd_m": row.along_sd_m,
        "across_m": abs(row.across_m),
        "across_sd_m": row.across_sd_m,
        "signed_along_m": row.along_m,
        "signed_across_m": row.across_m,
    }
    cost = _cost(x, row)
    said = {
        "wind": _wind,
        "entry": entry_words,
        "downwind leg": leg_words,
        "base leg": leg_words,
        "final leg": _final,
    }[row.cause](x, row.cause, values)
    code, text = said
    return Finding(code, "note", f"{text} {cost}", values, metres, row.cause)


def _cost(x: Debrief, row: BudgetRow) -> str:
    """What the row cost, naming only the parts that stand out of their error."""
    sure = x.settings.method.certainty.value
    parts = []
    if clearly(abs(row.along_m), row.along_sd_m, 0.0, sure):
        parts.append("{along_m:distance} " + ("long" if row.along_m > 0 else "short"))
    if clearly(abs(row.across_m), row.across_sd_m, 0.0, sure):
        parts.append("{across_m:distance} to the " + ("right" if row.across_m > 0 else "left"))
    return f"Worth {' and '.join(parts)}."


def _wind(x: Debrief, cause: Cause, values: Values) -> tuple[str, str]:
    """The plan's wind against the recovered one, as the mean over the pattern's heights."""
    if x.profile is None or x.settings.wind_profile is None or x.planned is None or not x.planned.gates:
        return "wind_misread", "The wind was not the one the plan was made for."
    heights = np.linspace(0.0, x.planned.gates[0].agl_m, 9)
    there = [float(np.mean(v)) for v in x.profile.vector(heights)]
    thought = [float(np.mean(v)) for v in x.settings.wind_profile.vector(heights)]
    sd = float(np.mean([x.profile.at(float(h)).worst_sd for h in heights]))
    difference = math.hypot(there[0] - thought[0], there[1] - thought[1])
    values |= {
        "wind_there_mps": math.hypot(*there),
        "wind_there_sd_mps": sd,
        "wind_planned_mps": math.hypot(*thought),
        "wind_difference_mps": difference,
        "wind_difference_sd_mps": sd,
    }
    if not clearly(difference, sd, 0.0, x.settings.method.certainty.value):
        return (
            "wind_misread",
            "The wind along the pattern differed from the plan's at some heights more than at others.",
        )
    return "wind_misread", (
        "The wind along the pattern was {wind_there_mps:speed}, the plan was made for {wind_planned_mps:speed~}; as vectors they lie "
        "{wind_difference_mps:speed~} apart."
    )


def _final(x: Debrief, cause: Cause, values: Values) -> tuple[str, str]:
    """The final leg, with what the sink explains as brakes where that stands out."""
    method, brakes = x.settings.method, x.brakes
    aside = _direction(x, values)
    if aside is not None:
        return aside
    along_m, along_sd_m = (float(values[key] or 0.0) for key in ("along_m", "along_sd_m"))
    if brakes is None or not clearly(along_m, along_sd_m, 0.0, method.certainty.value):
        # brakes move a landing along, not aside
        return "final_leg", "The final leg ended elsewhere than full flight straight ahead would have."
    values |= {
        "brakes_along_m": abs(brakes.along_m),
        "brakes_along_sd_m": brakes.along_sd_m,
        "sink_share": brakes.share,
        "sink_share_sd": brakes.share_sd,
        "brakes_extra_s": brakes.extra_s,
    }
    if clearly(1.0 - brakes.share, brakes.share_sd, SLOWED, method.certainty.value):
        text = "The sink on final was {sink_share:percent~} of full flight, as it is in brakes."
        if clearly(abs(brakes.along_m), brakes.along_sd_m, 0.0, method.certainty.value):
            text += f" That alone made it {{brakes_along_m:distance}} {_way(brakes.along_m)}."
        return "brakes_on_final", text
    return "final_leg", (
        "The final leg ended elsewhere than full flight straight ahead would have; the sink on final, {sink_share:percent~} of full "
        "flight, shows no brakes."
    )


def _direction(x: Debrief, values: Values) -> tuple[str, str] | None:
    """A final flown in another direction than planned, where the metres lie across rather than along."""
    if x.flown is None or x.planned is None or x.flown.landing_deg is None or x.planned.landing_deg is None:
        return None
    off = float(signed_difference_deg(x.flown.landing_deg, x.planned.landing_deg))
    if abs(float(values["signed_across_m"] or 0.0)) < abs(float(values["signed_along_m"] or 0.0)):
        return None
    off_sd = math.hypot(TRACK_SD_DEG, (x.landing.landing_deg_sd if x.landing else None) or 0.0)
    if not clearly(abs(off), off_sd, 0.0, x.settings.method.certainty.value):
        return None
    values |= {"off_deg": abs(off), "off_sd_deg": off_sd}
    side = "right" if off > 0.0 else "left"
    return (
        "final_direction",
        f"The final was flown {{off_deg:angle}} to the {side} of the plan's landing direction.",
    )


def _way(along_m: float) -> str:
    return "longer" if along_m > 0.0 else "shorter"


def _gates_alone(x: Debrief) -> Iterator[Finding]:
    """Without a target: gates whose height or place stands out, ranked by the metres they move the landing."""
    method = x.settings.method
    for row in x.comparison:
        if row.agl_m is None or not clearly(
            abs(row.agl_m), row.agl_sd_m, method.gate_height.value, method.certainty.value
        ):
            continue
        way = "higher" if row.agl_m > 0 else "lower"
        values: Values = {
            "turn_agl_m": row.flown_agl_m,
            "turn_agl_sd_m": row.agl_sd_m,
            "change_agl_m": abs(row.agl_m),
            "planned_agl_m": row.planned_agl_m,
        }
        text = f"The turn onto {row.gate} began at {{turn_agl_m:height}}, {{change_agl_m:height~}} {way} than in the plan."
        metres = abs(row.agl_m) * (x.trim.glide if x.trim else 2.5)
        code = f"{row.gate}_turn_{'high' if row.agl_m > 0 else 'low'}"
        yield Finding(code, "note", text, values, metres, f"turn onto {row.gate}")
