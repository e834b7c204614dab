"""The invented scenario of the demo tracks: a field that does not exist, made-up jumpers and wings, and their plan files."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from analyser.synthetic.air import Air, air_from_points
from analyser.synthetic.canopy import CanopyModel
from analyser.synthetic.earth import to_geodetic
from analyser.synthetic.pilot import Habits
from analyser.synthetic.setup import LEGS, Setup, draw_setup
from analyser.units import FOOT_M, KNOT_MPS

__all__ = ["FIELD", "WINGS", "DemoPlan", "Field", "Wing", "demo_setup", "forecast", "plan_toml", "site_toml"]

FORECAST_FT = (0.0, 1000.0, 2000.0, 3000.0)


@dataclass(frozen=True, slots=True)
class Field:
    """A landing area with a runway beside it: centre line from ``runway_m`` (east, north of the target) along ``runway_deg``."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    runway_m: tuple[float, float]
    runway_deg: float
    runway_length_m: float

    def runway_polygon(self, half_width_m: float = 30.0) -> list[tuple[float, float]]:
        """The corners of the runway as latitude and longitude."""
        a = math.radians(self.runway_deg)
        along, right = (math.sin(a), math.cos(a)), (math.cos(a), -math.sin(a))
        rows = []
        for length, side in (
            (0.0, -1.0),
            (self.runway_length_m, -1.0),
            (self.runway_length_m, 1.0),
            (0.0, 1.0),
        ):
            east = self.runway_m[0] + along[0] * length + right[0] * side * half_width_m
            north = self.runway_m[1] + along[1] * length + right[1] * side * half_width_m
            lat, lon = to_geodetic(self.lat_deg, self.lon_deg, east, north)
            rows.append((round(float(lat), 6), round(float(lon), 6)))
        return rows


class Wing(NamedTuple):
    """A made-up canopy: area, exit weight, trim at sea level, a usual bank."""

    name: str
    area_ft2: float
    exit_weight_lb: float
    airspeed_mps: float
    sink_mps: float
    bank_deg: float

    def model(self) -> CanopyModel:
        """How it flies."""
        return CanopyModel(self.airspeed_mps, self.sink_mps, bank_deg=self.bank_deg)


class DemoPlan(NamedTuple):
    """What a plan file says: jumper, wing, hand, landing direction, heights [ft] of the gates by name, forecast in knots."""

    jumper: str
    wing: Wing
    hand: str
    landing_deg: float
    heights_ft: dict[str, float]
    wind: tuple[tuple[float, float, float], ...]


FIELD = Field("Quillmere Field", 49.7215, -107.9342, 742.0, (330.0, 260.0), 118.0, 780.0)
WINGS = {
    "Curlew 260": Wing("Curlew 260", 260.0, 198.0, 8.9, 3.7, 28.0),
    "Heron 210": Wing("Heron 210", 210.0, 206.0, 10.3, 4.2, 32.0),
    "Plover 170": Wing("Plover 170", 170.0, 201.0, 11.7, 4.7, 36.0),
}


def forecast(
    air: Air, rng: np.random.Generator | None = None, error_mps: float = 0.0, factor: float = 1.0
) -> tuple[tuple[float, float, float], ...]:
    """A forecast of the air at four heights, (ft, kt, from): true wind times ``factor`` plus one random error, rounded as
    forecasts are (1 kt, 5°)."""
    off = rng.normal(0.0, error_mps, 2) if rng is not None else (0.0, 0.0)
    rows = []
    for ft in FORECAST_FT:
        east, north = (float(w) * factor + float(o) for w, o in zip(air.mean(max(ft * FOOT_M, 10.0)), off))
        speed = round(math.hypot(east, north) / KNOT_MPS)
        rows.append((ft, float(speed), float(round(math.degrees(math.atan2(-east, -north)) / 5.0) * 5 % 360)))
    return tuple(rows)


def demo_setup(
    seed: int,
    plan: DemoPlan,
    air: Air,
    *,
    height_error_ft: Sequence[float] = (0.0, 0.0, 0.0, 0.0),
    entry_error_m: tuple[float, float] = (0.0, 0.0),
) -> Setup:
    """A jump at the invented field by a pilot who sees the drift and flies the plan but for the given errors.

    ``height_error_ft`` by gate in the order flown, positive = turned higher.
    """
    base = draw_setup(seed)
    legs = tuple(leg for leg in LEGS if leg in plan.heights_ft)
    heights = [plan.heights_ft[leg] for leg in legs]
    rng = np.random.default_rng(np.random.SeedSequence([seed, 71]))
    return replace(
        base,
        lat_deg=FIELD.lat_deg,
        lon_deg=FIELD.lon_deg,
        elevation_m=FIELD.elevation_m,
        air=air,
        assumed=air_from_points([(ft * FOOT_M, kt * KNOT_MPS, deg) for ft, kt, deg in plan.wind]),
        canopy=plan.wing.model(),
        habits=Habits(wander_deg=1.5, brake_share=0.3, final_brake_share=0.15),
        landing_deg=plan.landing_deg,
        side=1 if plan.hand == "right" else -1,
        legs=legs,
        planned_m=tuple(h * FOOT_M for h in heights),
        flown_m=tuple((h + e) * FOOT_M for h, e in zip(heights, height_error_ft)),
        heading_errors_deg=tuple(rng.normal(0.0, 2.0, len(legs)).tolist()),
        turn_bank_deg=0.85 * plan.wing.bank_deg,
        entry_error_m=entry_error_m,
        sees_drift=1.0,
        hangar_m=FIELD.runway_m,
        runway_deg=FIELD.runway_deg,
        climb_s=600.0,
        wait_s=45.0,
        after_s=75.0,
    )


def plan_toml(plan: DemoPlan, *, site: bool = True) -> bytes:
    """The plan file of a demo jump."""
    rows = ["# invented: no such field, jumper or canopy exists"]
    if site:
        rows += _site_rows(FIELD)
    rows += [
        "",
        "[jumper]",
        f'name = "{plan.jumper}"',
        "",
        "[canopy]",
        f'name = "{plan.wing.name}"',
        f"area_ft2 = {plan.wing.area_ft2:g}",
        f"exit_weight_lb = {plan.wing.exit_weight_lb:g}",
        f"airspeed_mps = {plan.wing.airspeed_mps:g}",
        f"sink_mps = {plan.wing.sink_mps:g}",
        "",
        "[pattern]",
        f'hand = "{plan.hand}"',
        f"landing_deg = {plan.landing_deg:g}",
        *(f"{name}_ft = {feet:g}" for name, feet in plan.heights_ft.items()),
    ]
    for feet, knots, deg in plan.wind:
        rows += ["", "[[wind]]", f"agl_ft = {feet:g}", f"speed_kt = {knots:g}", f"from_deg = {deg:g}"]
    return ("\n".join(rows) + "\n").encode()


def _site_rows(field: Field) -> list[str]:
    corners = ", ".join(f"[{lat:.6f}, {lon:.6f}]" for lat, lon in field.runway_polygon())
    return [
        "",
        "[site]",
        f'name = "{field.name}"',
        f"target = [{field.lat_deg:.6f}, {field.lon_deg:.6f}]",
        f"elevation_m = {field.elevation_m:g}",
        "min_final_turn_ft = 200",
        "",
        "[[site.keep_out]]",
        'name = "runway"',
        "below_ft = 1000",
        f"polygon = [{corners}]",
    ]


def site_toml(*, fixed: bool = False) -> bytes:
    """The plan file that holds only the invented field; ``fixed``: with the two directions it may be landed in."""
    rows = ["# invented: no such field exists", *_site_rows(FIELD)]
    for deg, hand in (
        ((FIELD.runway_deg, "right"), ((FIELD.runway_deg + 180.0) % 360.0, "left")) if fixed else ()
    ):
        rows += ["", "[[site.direction]]", f"landing_deg = {deg:g}", f'hand = "{hand}"']
    return ("\n".join(rows) + "\n").encode()
