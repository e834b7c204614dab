"""Words for what happened up to a gate: the height of its turn, where the pattern was entered, how long the leg before it was."""

from __future__ import annotations

import math

from analyser.angles import rotate
from analyser.compare import GateDifference
from analyser.findings.model import Values, clearly
from analyser.jump import Debrief
from analyser.pattern import Gate
from analyser.replay.budget import GATE_AT_END, Cause
from analyser.replay.entry import entered

__all__ = ["Words", "entry_words", "leg_words", "set_against", "turn_height"]

BEGINS = {"downwind leg": "downwind", "base leg": "base"}
Words = tuple[str, str]


def entry_words(x: Debrief, cause: Cause, values: Values) -> Words:
    """Where the pattern was entered: a place at a height on the plan's first leg; where that leg is not known, the turn onto downwind."""
    gate = x.planned.gates[0] if x.planned and x.planned.gates else None
    row = _row(x, gate.name) if gate is not None else None
    if x.planned is None or x.flown is None or gate is None or row is None:
        return _entered_by_turn(x, values)
    place = entered(x.planned, x.flown, x.track)
    if place is None or row.along_m is None or row.across_m is None:
        return _elsewhere(x, row, values)
    off = math.hypot(row.along_m, row.across_m)
    values |= {
        "off_m": off,
        "off_sd_m": row.lateral_sd_m,
        "entry_agl_m": place.agl_m,
        "planned_agl_m": gate.agl_m,
    }
    if _turned_at_entry(x, gate, place):
        return "entry_turn", (
            f"The turn onto {gate.name} began at the entry of {set_against(x)}, which at that height is already on the {gate.name} track: "
            "it is the turn that cost."
        )
    seen = clearly(off, row.lateral_sd_m, 0.0, x.settings.method.certainty.value)
    if not seen or not _points_there(x, row, values):
        return _elsewhere(x, row, values)
    if abs(place.agl_m - gate.agl_m) < 1.0:
        return "entry_place", (
            f"At {{entry_agl_m:height~}} the flight was {{off_m:distance}} from the entry of {set_against(x)}."
        )
    return "entry_place", (
        f"At {{entry_agl_m:height~}}, once on the {gate.name} leg, the flight was {{off_m:distance}} from its place in {set_against(x)} "
        "at that height."
    )


def _entered_by_turn(x: Debrief, values: Values) -> Words:
    """A plan whose first leg was not flown: the turn onto downwind, where the plan turns onto it too."""
    row = _row(x, "downwind")
    if row is None or row.along_m is None or row.across_m is None:
        return "entry", f"The pattern was entered otherwise than in {set_against(x)}."
    values |= {"off_m": math.hypot(row.along_m, row.across_m), "off_sd_m": row.lateral_sd_m}
    return "entry_place", (
        f"The turn onto downwind began {{off_m:distance}} from its place in {set_against(x)}."
    )


def _turned_at_entry(x: Debrief, gate: Gate, place: Gate) -> bool:
    """Whether the turn onto the first leg began at the plan's entry, so that the flight was on the leg only lower down."""
    turn = x.flown.gate(gate.name) if x.flown else None
    method = x.settings.method
    if turn is None or gate.agl_m - place.agl_m < method.gate_height.value:
        return False
    if abs(turn.agl_m - gate.agl_m) > method.gate_height.value:
        return False
    off = math.hypot(turn.east_m - gate.east_m, turn.north_m - gate.north_m)
    return off < method.gate_place.value


def _points_there(x: Debrief, row: GateDifference, values: Values) -> bool:
    """Whether the metres of the cause point where the flight was beside the plan: into the same half of all directions."""
    along, across = values.get("signed_along_m"), values.get("signed_across_m")
    if not isinstance(along, float) or not isinstance(across, float):
        return True
    planned = x.planned.landing_deg if x.planned else None
    landing = x.landing.landing_deg if x.landing else None
    turned = 0.0 if planned is None or landing is None else planned - landing
    right, far = rotate(row.across_m or 0.0, row.along_m or 0.0, turned)
    return float(right) * across + float(far) * along >= 0.0


def _elsewhere(x: Debrief, row: GateDifference, values: Values) -> Words:
    """Entered at another place, and at another height where that stands out; no distance, for it would not be the reason."""
    change, sure = row.agl_m or 0.0, x.settings.method.certainty.value
    if not clearly(abs(change), row.agl_sd_m, 0.0, sure):
        return "entry_place", f"The pattern was entered elsewhere than in {set_against(x)}."
    values |= {
        "turn_agl_m": row.flown_agl_m,
        "turn_agl_sd_m": row.agl_sd_m,
        "planned_agl_m": row.planned_agl_m,
    }
    values |= {"change_agl_m": abs(change), "change_agl_sd_m": row.agl_sd_m}
    way = "higher" if change > 0.0 else "lower"
    return "entry_place", (
        f"The pattern was entered elsewhere and {{change_agl_m:height}} {way} than in {set_against(x)}."
    )


def leg_words(x: Debrief, cause: Cause, values: Values) -> Words:
    """What happened on a leg of which only the gates are known: it was long or short, else it was flown beside its track."""
    if x.flown is not None and x.flown.kind == "straight in":
        return "straight_in", f"Flown straight in, without the downwind and base legs of {set_against(x)}."
    return _way(x, cause, values) or (
        cause.replace(" ", "_"),
        f"The {cause} was flown otherwise than in {set_against(x)}.",
    )


def _row(x: Debrief, name: str) -> GateDifference | None:
    return next((r for r in x.comparison if r.gate == name and r.agl_m is not None), None)


def turn_height(x: Debrief, row: GateDifference, values: Values) -> Words:
    """The height of a turn against the planned one; its numbers go into ``values``."""
    change = row.agl_m or 0.0
    values |= {
        "turn_agl_m": row.flown_agl_m,
        "turn_agl_sd_m": row.agl_sd_m,
        "planned_agl_m": row.planned_agl_m,
        "change_agl_m": abs(change),
        "change_agl_sd_m": row.agl_sd_m,
    }
    way, code = ("higher", "high") if change > 0 else ("lower", "low")
    if x.planned is not None and x.planned.gates and x.planned.gates[0].name == row.gate:
        text = f"The pattern was entered at {{turn_agl_m:height}}, {{change_agl_m:height~}} {way} than in {set_against(x)}."
        return f"{row.gate}_turn_{code}", text
    text = f"The turn onto {row.gate} began at {{turn_agl_m:height}}, {{change_agl_m:height~}} {way} than in {set_against(x)}."
    return f"{row.gate}_turn_{code}", text


def set_against(x: Debrief) -> str:
    """What the flight was set against, in words: the plan, or the usual pattern where no heights were given."""
    pattern = x.settings.pattern
    if pattern.given or pattern.preset is None:
        return "the plan"
    return f"the usual {pattern.preset} pattern"


def _way(x: Debrief, cause: Cause, values: Values) -> Words | None:
    """The leg from turn to turn against the plan: along its track (long, short) and beside it."""
    begin, end = _row(x, BEGINS[cause]), _row(x, GATE_AT_END[cause])
    hand = x.planned.hand if x.planned else None
    if begin is None or end is None or hand is None or _joined_from_above(x, begin):
        return None
    along = (end.along_m or 0.0) - (begin.along_m or 0.0)
    across = (end.across_m or 0.0) - (begin.across_m or 0.0)
    inward = across if hand == "left" else -across
    longer, beside = (-along, -inward) if cause == "downwind leg" else (inward, along)
    sd = math.hypot(begin.lateral_sd_m or 0.0, end.lateral_sd_m or 0.0)
    least, sure = x.settings.method.gate_place.value / 2.0, x.settings.method.certainty.value
    values |= {"longer_m": abs(longer), "longer_sd_m": sd, "beside_m": abs(beside), "beside_sd_m": sd}
    name, stem = cause, cause.split(" ")[0]
    if abs(longer) > least and clearly(abs(longer), sd, 0.0, sure):
        word = "longer" if longer > 0 else "shorter"
        code = f"{stem}_{word.removesuffix('er')}" if word == "longer" else f"{stem}_short"
        return (
            code,
            f"The {name} was {{longer_m:distance}} {word} than in {set_against(x)}, from turn to turn.",
        )
    if abs(beside) > least and clearly(abs(beside), sd, 0.0, sure):
        where = _beside(cause, beside)
        return (
            f"{stem}_drift",
            f"On the {name} the flight came {{beside_m:distance}} {where} of its track in {set_against(x)}.",
        )
    return None


def _beside(cause: Cause, beside: float) -> str:
    if cause == "downwind leg":
        return "outside" if beside > 0 else "inside"
    return "forward" if beside > 0 else "back"


def _joined_from_above(x: Debrief, row: GateDifference) -> bool:
    """Whether the first leg of the plan was flown from well above its height, so that its turn is no measure of its length."""
    first = x.planned.gates[0].name if x.planned and x.planned.gates else None
    return row.gate == first and (row.agl_m or 0.0) > x.settings.method.gate_height.value
