"""compare: two patterns gate by gate; symmetric by construction, ``compare(p, p)`` is zero."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.pattern import LegName, Pattern

__all__ = ["GateDifference", "compare"]


@dataclass(frozen=True, slots=True)
class GateDifference:
    """Flown minus planned at one gate: heights [m], place along/across the planned landing direction [m]."""

    gate: LegName
    planned_agl_m: float | None
    flown_agl_m: float | None
    agl_m: float | None
    agl_sd_m: float | None
    along_m: float | None
    across_m: float | None
    lateral_sd_m: float | None


def compare(flown: Pattern, planned: Pattern) -> tuple[GateDifference, ...]:
    """One row per planned gate, in the order flown; values are None where the gate was not flown."""
    raise NotImplementedError
