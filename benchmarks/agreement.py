"""Debriefs that contradict themselves, counted: ``python benchmarks/agreement.py [JUMPS] [FIRST_SEED]``.

A quarter each: jumps of the ensemble of record with a target alone; pilots who follow a plan with a good pilot's errors and more; and the
same with a habit of size; flights of the families of other hand with the heights of their pattern. The checker reads the JSON
(``tests/contradictions.py``). Also printed: the findings that more than a third of the jumps with a plan would get.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np
import tests_path  # noqa: F401
from advice import KINDS, drawn_habit, jump_with
from contradictions import contradictions
from families_causes import OTHERS, told
from one_error import fit_for_a_plan, profile_of, settings_for
from worlds.families import make_jump

from analyser.debrief import Debrief, debrief_recording
from analyser.report.documents.debrief import to_document
from analyser.settings import Settings, Site
from analyser.synthetic.scenario import record_jump


def of_record(seed: int) -> Debrief:
    """Any jump, with a target alone."""
    jump = record_jump(seed)
    place = (jump.truth.target_lat, jump.truth.target_lon)
    return debrief_recording(jump.recording, Settings(site=Site(target=place)))


def planned(seed: int, *, size: float) -> Debrief:
    """A pilot who follows a plan with a habit of ``size`` times what the other trials plant, and a good pilot's spread."""
    setup, rng = fit_for_a_plan(seed), np.random.default_rng([seed, 23])
    habit = drawn_habit(KINDS[seed % len(KINDS)] if size else "height", rng)
    if not size:
        habit = type(habit)("none", type(habit.errors)())
    jump, plan, shift = jump_with(setup, habit, rng)
    target = (jump.truth.target_lat, jump.truth.target_lon)
    return debrief_recording(
        jump.recording, settings_for(profile_of(setup.air, shift), setup, target, plan, typed=True)
    )


def other_hand(seed: int) -> Debrief:
    """A flight of a family, with the heights it was flown at as the plan and its target."""
    jump = make_jump(OTHERS[seed % len(OTHERS)], seed)
    return debrief_recording(jump.recording, told(jump, (jump.truth.target_lat, jump.truth.target_lon)))


def remarks(found: Debrief) -> list[str]:
    """The codes of what is remarked: notes and cautions. Praise and the causes with their metres are no remarks."""
    return [f.code for f in found.findings if f.level != "good" and f.metres <= 0.0]


WAYS = {
    "target alone": of_record,
    "plan, good pilot": lambda seed: planned(seed, size=0.0),
    "plan, a habit": lambda seed: planned(seed, size=1.0),
    "families": other_hand,
}


def main(jumps: int = 40, first: int = 840_000) -> None:
    """Count; a line for every contradiction and one for each way."""
    for name, way in WAYS.items():
        codes, wrong, done = Counter(), 0, 0
        for i in range(jumps // len(WAYS)):
            try:
                found = way(first + i)
            except ValueError:  # a plan that begins below its gates
                continue
            lines, done = contradictions(to_document(found)), done + 1
            wrong += bool(lines)
            codes.update(set(remarks(found)))
            for text in lines:
                print(f"  {name}, seed {first + i}: {text}", flush=True)
            if (i + 1) % 50 == 0:
                print(f"  {name}: {done} so far, {wrong} with a contradiction", flush=True)
        often = {code: f"{n / done:.0%}" for code, n in codes.most_common() if n > done / 3}
        print(
            f"{name:18s} {done:5d} debriefs, {wrong} with a contradiction; remarks in more than a third: {often}",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
