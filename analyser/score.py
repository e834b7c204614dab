"""score: the landing against the target, and which published accuracy standard it would meet."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Landing", "Standard"]


@dataclass(frozen=True, slots=True)
class Standard:
    """A published accuracy standard: the radius [m], its name, date and source; ``met`` None where the position error forbids an answer."""

    name: str
    radius_m: float
    source: str
    met: bool | None


@dataclass(frozen=True, slots=True)
class Landing:
    """Touchdown: track time, place, speeds before the flare, and the offset from the target (None without one).

    ``along_m`` positive = long (past the target in the direction of landing), ``across_m`` positive = right of it.
    """

    t_s: float
    east_m: float
    north_m: float
    lat: float
    lon: float
    ground_speed_mps: float | None
    sink_before_flare_mps: float | None
    offset_m: float | None = None
    offset_sd_m: float | None = None
    along_m: float | None = None
    across_m: float | None = None
    bearing_deg: float | None = None
    standards: tuple[Standard, ...] = field(default=())
    score_text: str = ""
