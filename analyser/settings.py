"""Site, Jumper, Canopy, PatternSetup, Method: what the user may set, in SI units, checked when made."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from analyser.pattern import Hand
from analyser.units import FOOT_M, MPH_MPS, POUND_KG, SQUARE_FOOT_M2
from analyser.wind.profile import WindProfile

__all__ = [
    "PRESETS",
    "Canopy",
    "Jumper",
    "KeepOut",
    "LandingDirection",
    "Method",
    "PatternSetup",
    "Settings",
    "Site",
    "Threshold",
    "WindPoint",
]


class Threshold(NamedTuple):
    """A number the method rests on: value, unit and where it comes from."""

    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class LandingDirection:
    """A direction of landing the field fixes (direction of flight on final, deg true) and its hand of pattern."""

    landing_deg: float
    hand: Hand | None = None


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A polygon (lat, lon) that may not be overflown below ``below_m`` above the landing area."""

    name: str
    below_m: float
    polygon: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Site:
    """The landing area: target (lat, lon), elevation above sea level, its rules."""

    name: str | None = None
    target: tuple[float, float] | None = None
    elevation_m: float | None = None
    min_final_turn_m: float = 200 * FOOT_M
    directions: tuple[LandingDirection, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()


@dataclass(frozen=True, slots=True)
class Jumper:
    """Who jumped; shown, never used in a computation."""

    name: str | None = None


@dataclass(frozen=True, slots=True)
class Canopy:
    """The wing. Trim speeds are full flight, straight, at sea-level density; None means: measure from the track.

    ``airspeed_mps`` is the horizontal true airspeed, ``sink_mps`` the rate of descent, ``bank_deg`` a usual turn.
    """

    name: str | None = None
    area_m2: float | None = None
    exit_weight_kg: float | None = None
    airspeed_mps: float | None = None
    sink_mps: float | None = None
    airspeed_sd_mps: float = 0.0
    sink_sd_mps: float = 0.0
    bank_deg: float = 30.0

    @property
    def wing_loading_lb_ft2(self) -> float | None:
        """Exit weight [lb] over area [ft²], the trade's measure."""
        if self.area_m2 is None or self.exit_weight_kg is None:
            return None
        return (self.exit_weight_kg / POUND_KG) / (self.area_m2 / SQUARE_FOOT_M2)


@dataclass(frozen=True, slots=True)
class PatternSetup:
    """Planned gates: heights [m above the landing area] where each turn begins; ``crosswind_m`` None = three legs."""

    hand: Hand | Literal["as flown"] = "as flown"
    landing_deg: float | None = None
    crosswind_m: float | None = None
    downwind_m: float = 1000 * FOOT_M
    base_m: float = 600 * FOOT_M
    final_m: float = 300 * FOOT_M
    preset: str | None = "1000-600-300 ft"

    @property
    def heights_m(self) -> dict[str, float]:
        """Gate name → height, in the order flown."""
        rows = {
            "crosswind": self.crosswind_m,
            "downwind": self.downwind_m,
            "base": self.base_m,
            "final": self.final_m,
        }
        return {k: v for k, v in rows.items() if v is not None}


PRESETS: dict[str, tuple[PatternSetup, str]] = {
    "1000-600-300 ft": (
        PatternSetup(),
        "checkpoints of a USPA-affiliated ground school (skydiveschool.org, pattern 1); seen 2026, a drop zone may differ",
    ),
    "900-600-300 ft": (
        PatternSetup(downwind_m=900 * FOOT_M, preset="900-600-300 ft"),
        "'standard box pattern' quoted on a forum (skydiveforum.com, profile 94077)",
    ),
    "300-200-100 m": (
        PatternSetup(downwind_m=300.0, base_m=200.0, final_m=100.0, preset="300-200-100 m"),
        "metric rounding, from memory, no source seen",
    ),
}


class WindPoint(NamedTuple):
    """A wind the plan was made for: height above the landing area, speed, direction it comes from."""

    agl_m: float
    speed_mps: float
    from_deg: float


@dataclass(frozen=True, slots=True)
class Method:
    """Every threshold of the analysis with its unit and source. The report prints those it used."""

    wind_measured_sd: Threshold = Threshold(
        1.5, "m/s", "ours: the worst axis of a height that may be called measured"
    )
    strong_wind_ratio: Threshold = Threshold(
        0.8, "1", "ours: wind over airspeed from which the advice is to stay on the ground"
    )
    light_wind: Threshold = Threshold(3 * MPH_MPS, "m/s", "ours: below it the landing direction is free")


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything a user may set for one debrief."""

    site: Site = field(default_factory=Site)
    jumper: Jumper = field(default_factory=Jumper)
    canopy: Canopy = field(default_factory=Canopy)
    pattern: PatternSetup = field(default_factory=PatternSetup)
    wind: tuple[WindPoint, ...] = ()
    method: Method = field(default_factory=Method)

    @property
    def wind_profile(self) -> WindProfile | None:
        """The assumed wind as a profile, or None where none was given."""
        return WindProfile.from_points(self.wind) if self.wind else None
