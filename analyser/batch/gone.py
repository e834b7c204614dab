"""correct_gone: what is corrected by hand reaches jumps whose tracks are gone; a target that moved can not, and is noted."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from analyser.errors import SettingsError
from analyser.frame import apart_m
from analyser.logbook import Logbook
from analyser.logbook.jump_columns import TARGET_MOVED, Row
from analyser.logbook.plans import Assignment, Plans

__all__ = ["correct_gone"]

MOVED_M: Final = 0.5  # ours: a target written with other digits is the same one


def correct_gone(logbook: Logbook, plans: Plans, keys: Iterable[str]) -> list[str]:
    """Names, notes and exclusions of the jumps of some tracks that are gone, as the files say now; a line for each that is at fault.

    Where the folder of a track is gone too, what its own files said is kept, and single corrections come on top.
    """
    faults = []
    for key in keys:
        sha256, path = logbook.content_at(key), logbook.place(key)
        if sha256 is None:
            continue
        try:
            for jump, known in logbook.who(sha256).items():
                wanted = _wanted(logbook, plans, path, (sha256, jump), known)
                if wanted != known:
                    logbook.put_who(sha256, jump, wanted)
        except SettingsError as error:
            faults.append(f"{key}: is gone, and its plan can not be used: {error}")
    return faults


def _wanted(logbook: Logbook, plans: Plans, path: Path, jump: tuple[str, int], known: Row) -> Row:
    if not path.parent.is_dir():
        return plans.by_hand(path, *jump, known)
    assignment = plans.assign(path, jump[0])
    who = assignment.who(jump[1])
    if who["excluded"] is None and _target_moved(logbook, assignment, *jump):
        who["excluded"] = TARGET_MOVED
    return who


def _target_moved(logbook: Logbook, assignment: Assignment, sha256: str, jump: int) -> bool:
    """Whether the landing was measured from another target than the one that holds now; the track to measure it again is gone."""
    content = logbook.content(sha256)
    target = dict(assignment.overrides).get(jump, assignment.settings).site.target
    if target is None or content is None or content.settings == assignment.key:
        return False
    frame = json.loads(logbook.document(sha256, jump) or "{}").get("frame") or {}
    if frame.get("origin") != "target":
        return False
    return bool(apart_m(*target, frame["origin_lat"], frame["origin_lon"]) > MOVED_M)
