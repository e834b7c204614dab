"""A checker that reads a debrief's JSON and lists what contradicts itself in it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

Json = dict[str, Any]
TOLERANCE_M = 0.1
ASKED = {"target_far", "target_swapped", "target_moved", "gates_high", "gates_low", "landing_reversed"}
ADVISED = {"turn height": "heights_kept", "plan the wind": "plan_fitted"}
PRAISED = {
    "heights_kept": ("_turn_high", "_turn_low", "low_turn", "large_last_turn", "final_turn_below_minimum"),
    "plan_fitted": ("wind_misread", "trim_misread"),
    "entry_in_reach": ("entry_place",),
    "into_wind": ("final_direction", "landed_across_wind", "landed_down_wind"),
    "straight_final": ("final_direction", "s_turns", "short_final"),
    "on_target": ("landed_long", "landed_short", "off_wind_line"),
}


def contradictions(document: Json) -> list[str]:
    """One line for each; none in a debrief that agrees with itself."""
    return [*_praise(document), *_sums(document), *_causes(document), *_advice(document)]


def _praise(document: Json) -> Iterator[str]:
    codes = {f["code"] for f in document["findings"]}
    for good, ends in PRAISED.items():
        blamed = [c for c in codes for end in ends if c.endswith(end)]
        if good in codes and blamed:
            yield f"{good} is praised and {blamed[0]} blamed"


def _sums(document: Json) -> Iterator[str]:
    rows, landing = document["budget"], document["landing"]
    for axis in ("along_m", "across_m"):
        for row in rows:
            if row.get("parts") and abs(sum(p[axis] for p in row["parts"]) - row[axis]) > TOLERANCE_M:
                yield f"{row['cause']}: the parts do not add up ({axis})"
        if rows and abs(sum(r[axis] for r in rows) - landing[axis]) > TOLERANCE_M:
            yield f"the rows do not add up to the landing ({axis})"


def _causes(document: Json) -> Iterator[str]:
    """At most three causes, by falling metres; each with the sign and the size of its own part."""
    causes = [f for f in document["findings"] if "signed_along_m" in f.get("evidence", {})]
    sizes = [math.hypot(c["evidence"]["signed_along_m"], c["evidence"]["signed_across_m"]) for c in causes]
    if len(causes) > 3 or sizes != sorted(sizes, reverse=True):
        yield "more than three causes, or not by falling metres"
    for one in causes:
        said, part = one["evidence"], _part(document, one["evidence"])
        if part is None or abs(part["along_m"] - said["signed_along_m"]) > TOLERANCE_M:
            yield f"{one['code']}: its metres are of another sign or size than its part"
        gate = one["code"].removesuffix("_turn_low").removesuffix("_turn_high")
        turn = next((r for r in document["comparison"] if r["gate"] == gate), None)
        if gate != one["code"] and turn is not None and (turn["agl_m"] > 0.0) != one["code"].endswith("high"):
            yield f"{one['code']}: the gate began on the other side of its height"


def _part(document: Json, said: Json) -> Json | None:
    rows = [r for r in document["budget"] if r["cause"] == said.get("row")]
    return next((p for r in rows for p in r["parts"] if p["part"] == said.get("part")), None)


def _advice(document: Json) -> Iterator[str]:
    """Advice never runs against a gate's cause, is no miss turned round, and is not given beside an unanswered question."""
    codes = {f["code"] for f in document["findings"]}
    moved = {r["gate"]: r["agl_m"] for r in document["comparison"]}
    asked = ASKED & {q["code"] for q in document["questions"]}
    if document["advice"] and asked:
        yield f"advice beside a question: {', '.join(sorted(asked))}"
    if document.get("plan_outcome") and asked:
        yield f"a plan that is asked about was flown again: {', '.join(sorted(asked))}"
    for one in document["advice"]:
        if one["blocked_by"] is not None:
            continue
        change, gate = one.get("change_agl_m"), one.get("gate")
        if ADVISED.get(one["kind"]) in codes:
            yield f"{ADVISED[one['kind']]} is praised and {one['kind']} advised"
        if change is not None and moved.get(gate) is not None and change * moved[gate] > 0.0:
            yield f"the turn onto {gate}: the advice runs against the cause"
        if change is not None and moved.get(gate) is not None and abs(change + moved[gate]) > 0.11:
            yield f"the turn onto {gate}: two numbers for one height"
        if change is not None and f"{gate}_turn_{'high' if change > 0 else 'low'}" in codes:
            yield f"the turn onto {gate}: the advice runs against the cause"
        if one["kind"] == "turn place" and _turned_round(document, one):
            yield "the advice is the miss turned round"


def _turned_round(document: Json, advice: Json) -> bool:
    """The miss with its sign turned round, where the place of the entry does not itself explain the miss."""
    landing = document["landing"]
    rest = math.hypot(
        landing["along_m"] + advice["change_along_m"], landing["across_m"] + advice["change_across_m"]
    )
    place = [
        p for r in document["budget"] if r["cause"] == "entry" for p in r["parts"] if p["part"] == "place"
    ]
    own = place[0] if place else {"along_m": 0.0, "across_m": 0.0}
    aside = math.hypot(own["along_m"] + advice["change_along_m"], own["across_m"] + advice["change_across_m"])
    return rest < 5.1 and aside > 5.1
