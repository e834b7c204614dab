"""weighed: the advice of a jump once more, against what the logbook says about the jumper's habits."""

from __future__ import annotations

from analyser.logbook.earlier import Weighable
from analyser.logbook.jump_columns import Row
from analyser.replay.choose_advice import any_possible, nothing_to_change
from analyser.replay.next_jump import Habit, worth_it
from analyser.report.documents.debrief import ADVICE
from analyser.report.documents.values import number, take

__all__ = ["weighed"]


def weighed(jump: Weighable) -> list[Row]:
    """The advice as the document of the jump should have it: that of :func:`analyser.debrief.with_earlier`, from the document alone."""
    habits = [
        Habit(
            c["cause"],
            c["part"],
            (c["along_m"], c["across_m"]),
            (c["along_sd_m"], c["across_sd_m"]),
            None if c["growth"] is None else tuple(c["growth"]),
            c["meant"],
        )
        for c in jump.choices
    ]
    possible = [c["advice"] is not None for c in jump.choices]
    gaining = {i: g for i, g in worth_it(habits, jump.earlier).items() if possible[i]}
    if not gaining:
        chance = jump.earlier.jumps > 0 and any_possible(habits, possible)
        return [take(nothing_to_change(jump.earlier.jumps if chance else 0), ADVICE)]
    order = sorted(
        gaining, key=lambda i: (jump.choices[i]["advice"]["blocked_by"] is not None, -gaining[i].metres)
    )
    return [
        jump.choices[i]["advice"]
        | {
            "gain_m": number(gaining[i].metres, 1),
            "gain_sd_m": number(gaining[i].sd, 1),
            "habit_share": number(gaining[i].habit, 2),
        }
        for i in order
    ]
