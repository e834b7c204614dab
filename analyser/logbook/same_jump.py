"""What tells two recordings of one jump from two jumps, by where and when they landed."""

from __future__ import annotations

from typing import Final, NamedTuple

from analyser.frame import apart_m

__all__ = ["SAME_JUMP_S", "Landed", "same_jump"]

SAME_JUMP_S: Final = 60.0  # ours: two receivers of one jumper end their landing within this
SAME_JUMP_M: Final = 60.0
SAME_NAMELESS_S: Final = 3.0  # ours: nobody named, so two landings must agree much closer to be one
SAME_NAMELESS_M: Final = 10.0


class Landed(NamedTuple):
    """Moment [s since 1970] and place [deg] of a landing; None for a place that is not known."""

    at_s: float
    lat_deg: float | None
    lon_deg: float | None


def same_jump(a: Landed, b: Landed, *, named: bool) -> bool:
    """Whether two recordings are of one jump, ``named`` where one jumper is known to have made both.

    Without a place the moments decide for one jumper, and nothing does for nobody.
    """
    near_s, near_m = (SAME_JUMP_S, SAME_JUMP_M) if named else (SAME_NAMELESS_S, SAME_NAMELESS_M)
    if abs(a.at_s - b.at_s) > near_s:
        return False
    if a.lat_deg is None or a.lon_deg is None or b.lat_deg is None or b.lon_deg is None:
        return named
    return bool(apart_m(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg) <= near_m)
