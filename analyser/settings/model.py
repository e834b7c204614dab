"""Site, Jumper, Canopy, PatternSetup, Settings: what the user may set, in SI units, checked when made."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from analyser.atmosphere import density_altitude, density_factor
from analyser.pattern import LEG_NAMES, Hand, LegName
from analyser.settings.method import Method
from analyser.settings.standards import STANDARDS, AccuracyStandard
from analyser.units import FOOT_M, POUND_KG, SQUARE_FOOT_M2
from analyser.wind.profile import WindProfile

__all__ = [
    "PRESETS",
    "Air",
    "Canopy",
    "Jumper",
    "KeepOut",
    "LandingArea",
    "LandingDirection",
    "PatternSetup",
    "Settings",
    "Site",
    "SitePicture",
    "WindPoint",
    "WindReport",
]


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
class LandingArea:
    """A polygon (lat, lon) to land in."""

    name: str
    polygon: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class SitePicture:
    """An aerial picture of the field: its file, and where its pixels lie.

    The middle of the pixel in column c and row r lies ``east[0] + east[1] c + east[2] r`` metres east and so on north of
    ``origin`` (lat, lon).
    """

    file: str
    origin: tuple[float, float]
    east: tuple[float, float, float]
    north: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Site:
    """The landing area and its rules.

    Parameters
    ----------
    name : str, optional
        Shown only.
    target : tuple of float, optional
        Latitude and longitude [deg, WGS 84].
    elevation_m : float, optional
        Above sea level [m]; by default from the track.
    min_final_turn_m : float
        Advice never goes below it [m above the landing area]; 61 m = 200 ft.
    directions : tuple of LandingDirection
        Landing directions the field fixes, each with its hand.
    keep_outs : tuple of KeepOut
        Polygons that may not be overflown below a height.
    landing_areas : tuple of LandingArea
        Polygons to land in; none: not known.
    picture : SitePicture, optional
        An aerial picture to lie under the maps.

    Examples
    --------
    >>> Site(target=(49.7215, -107.9342)).elevation_m is None
    True
    """

    name: str | None = None
    target: tuple[float, float] | None = None
    elevation_m: float | None = None
    min_final_turn_m: float = 200 * FOOT_M
    directions: tuple[LandingDirection, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    landing_areas: tuple[LandingArea, ...] = ()
    picture: SitePicture | None = None


@dataclass(frozen=True, slots=True)
class Jumper:
    """Who jumped; shown, never used in a computation."""

    name: str | None = None


@dataclass(frozen=True, slots=True)
class Canopy:
    """The wing. Trim speeds are full flight, straight, at sea-level density; None means: measure from the track.

    Parameters
    ----------
    name : str, optional
        Shown, and what a season groups by.
    area_m2, exit_weight_kg : float, optional
        For the wing loading.
    airspeed_mps, sink_mps : float, optional
        Horizontal true airspeed and rate of descent [m/s].
    airspeed_sd_mps, sink_sd_mps : float
        Their standard deviations [m/s]; 0 where not given.
    bank_deg : float
        A usual turn of the pattern [deg].

    Examples
    --------
    >>> round(Canopy(area_m2=24.15, exit_weight_kg=89.8).wing_loading_lb_ft2, 2)
    0.76
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
    """Planned gates: heights [m above the landing area] where each turn begins.

    Parameters
    ----------
    hand : str
        ``"left"``, ``"right"`` or ``"as flown"``.
    landing_deg : float, optional
        Direction of flight on final [deg true]; by default into the wind.
    crosswind_m : float, optional
        None: three legs.
    downwind_m, base_m, final_m : float
        Heights [m]; 1,000, 600 and 300 ft.
    preset : str, optional
        Name of the preset they come from.
    given : bool
        The jumper gave heights or a preset, so that a leg left out is left out on purpose.

    Examples
    --------
    >>> PatternSetup().heights_m["final"]  # 300 ft
    91.44
    """

    hand: Hand | Literal["as flown"] = "as flown"
    landing_deg: float | None = None
    crosswind_m: float | None = None
    downwind_m: float = 1000 * FOOT_M
    base_m: float = 600 * FOOT_M
    final_m: float = 300 * FOOT_M
    preset: str | None = "1000-600-300 ft"
    given: bool = field(default=False, compare=False)

    @property
    def told(self) -> tuple[LegName, ...]:
        """The legs the jumper meant to fly, as far as that is known; empty where nothing was given."""
        known = self.given or self.crosswind_m is not None
        return tuple(name for name in LEG_NAMES if known and name in self.heights_m)

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


@dataclass(frozen=True, slots=True)
class Air:
    """The air at the landing area: temperature [°C] and pressure brought to sea level (QNH) [hPa]; None where not known."""

    temperature_c: float | None = None
    pressure_hpa: float | None = None


class WindPoint(NamedTuple):
    """A wind the plan was made for: height above the landing area, speed, direction it comes from."""

    agl_m: float
    speed_mps: float
    from_deg: float


@dataclass(frozen=True, slots=True)
class WindReport:
    """What a weather service told of the wind: ``kind`` "report" (measured, METAR) or "forecast" (winds aloft), its station and time.

    ``points`` are heights above the landing area, none blowing where ``variable`` says that there is no direction; ``speed_mps``
    beside them is the speed told. ``error`` says in words what is known of the error. Gusts and the range of directions stand apart.
    """

    kind: Literal["report", "forecast"]
    station: str
    when: str
    points: tuple[WindPoint, ...]
    speed_mps: tuple[float, ...]
    variable: tuple[bool, ...]
    gust_mps: float | None = None
    range_deg: tuple[float, float] | None = None
    air: Air = Air()
    error: str = ""

    @property
    def loosest_mps(self) -> float:
        """The speed of a wind without a direction at the lowest height given [m/s]; zero where it has one or is calm."""
        return self.speed_mps[0] if self.variable[0] else 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything a user may set for one debrief, in SI units.

    Parameters
    ----------
    site : Site
    jumper : Jumper
        Shown, never used in a computation.
    canopy : Canopy
    pattern : PatternSetup
    wind : tuple of WindPoint
        The wind the plan was made for: (height [m], speed [m/s], from [deg true]).
    method : Method
        Thresholds with unit and source.
    standards : tuple of AccuracyStandard
        Published accuracy standards the landing is held against.
    columns : dict
        Quantity with its unit → title of the column of a table that is a track.
    air : Air
        Temperature and pressure at the landing area, given or from a METAR.
    reports : tuple of WindReport
        Where ``wind`` comes from a weather service.

    Examples
    --------
    >>> mine = Settings(site=Site(target=(49.7215, -107.9342)))
    >>> mine.wind_profile is None
    True
    """

    site: Site = field(default_factory=Site)
    jumper: Jumper = field(default_factory=Jumper)
    canopy: Canopy = field(default_factory=Canopy)
    pattern: PatternSetup = field(default_factory=PatternSetup)
    wind: tuple[WindPoint, ...] = ()
    method: Method = field(default_factory=Method)
    standards: tuple[AccuracyStandard, ...] = STANDARDS
    columns: dict[str, str] = field(default_factory=dict)
    air: Air = field(default_factory=Air)
    reports: tuple[WindReport, ...] = ()

    def density_altitude_m(self, elevation_m: float) -> float | None:
        """The height in the standard atmosphere whose air is as dense as that of the day at a landing area ``elevation_m`` above sea level
        [m]; None without a temperature. Without a pressure the standard one is taken."""
        if self.air.temperature_c is None:
            return None
        pressure = 1013.25 if self.air.pressure_hpa is None else self.air.pressure_hpa
        return density_altitude(elevation_m, density_factor(self.air.temperature_c, pressure, elevation_m))

    def in_air(self, air: Air) -> Settings:
        """The same settings with what they lack of temperature and pressure taken from ``air``."""
        own = self.air
        return replace(
            self,
            air=Air(
                air.temperature_c if own.temperature_c is None else own.temperature_c,
                air.pressure_hpa if own.pressure_hpa is None else own.pressure_hpa,
            ),
        )

    @property
    def wind_profile(self) -> WindProfile | None:
        """The assumed wind as a profile, or None where none was given."""
        return WindProfile.from_points(self.wind) if self.wind else None
