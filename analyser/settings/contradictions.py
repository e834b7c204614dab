"""check_plan: plans that contradict themselves, explained."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analyser.angles import signed_difference_deg
from analyser.errors import SettingsError
from analyser.settings.model import Settings
from analyser.settings.read_keys import Entry, Given
from analyser.units import FOOT_M, KNOT_MPS

__all__ = ["check_plan", "inside"]

DIRECTION_TOLERANCE_DEG = 15.0  # ours: a planned landing direction this near to one of the site's is that one
HIGHEST_GATE_M = 500.0  # common practice: patterns begin below it
LOWEST_LONE_FINAL_M = (
    100 * FOOT_M
)  # common practice: no final alone is planned below it, so its unit is asked for


def check_plan(settings: Settings, given: Given) -> None:
    """Raise SettingsError where the merged keys contradict each other; the text names both sides."""
    _check_gates(settings, given)
    _check_wind_heights(given)
    _check_direction(settings, given)
    _check_target(settings, given)
    _check_wind(settings, given)


def inside(lat: float, lon: float, polygon: tuple[tuple[float, float], ...]) -> bool:
    """Whether a position lies inside a polygon of (lat, lon) degrees that spans less than 180° of longitude (ray casting)."""
    x = [(p[1] - lon + 180.0) % 360.0 - 180.0 for p in polygon]
    y = [p[0] - lat for p in polygon]
    odd = False
    for i in range(len(polygon)):
        if (y[i] > 0) != (y[i - 1] > 0):
            crossing = x[i] + (x[i - 1] - x[i]) * y[i] / (y[i] - y[i - 1])
            odd ^= crossing > 0
    return odd


def _feet(metres: float) -> str:
    return f"{metres / FOOT_M:.0f} ft"


def _shown(given: Given, key: str, fallback: str) -> str:
    entry = given.get(key)
    return f"{entry.key} = {entry.shown}" if entry else fallback


def _fail(entries: list[Entry | None], what: str, hint: str) -> None:
    known = [entry for entry in entries if entry is not None]
    if known:
        known[-1].fail(what, hint)
    raise SettingsError(what, hint)


def _check_gates(settings: Settings, given: Given) -> None:
    setup = settings.pattern
    origin = f"preset {setup.preset}" if setup.preset else "the default"
    for (high, upper), (low, lower) in pairwise(setup.heights_m.items()):
        if upper <= lower:
            first = _shown(given, f"pattern.{high}", f"{high} at {_feet(upper)} ({origin})")
            raised = low == "final" and "pattern.final" not in given and "site.min_final_turn" in given
            lower_key = "site.min_final_turn" if raised else f"pattern.{low}"
            second = _shown(given, lower_key, f"{low} at {_feet(lower)} ({origin})")
            _fail(
                [given.get(f"pattern.{high}"), given.get(lower_key)],
                f"gates out of order: {first} is not above {second}",
                _or_metres(
                    "the heights go down from crosswind over downwind and base to final", settings, given
                ),
            )
    minimum = settings.site.min_final_turn_m
    if setup.final_m < minimum - 1e-6:
        _fail(
            [given.get("site.min_final_turn"), given.get("pattern.final")],
            f"{_shown(given, 'pattern.final', f'final at {_feet(setup.final_m)}')} is below "
            f"{_shown(given, 'site.min_final_turn', f'the lowest final turn of {_feet(minimum)} (the default)')}",
            _or_metres("plan the final turn at or above the lowest the site allows", settings, given),
        )


def _or_metres(hint: str, settings: Settings, given: Given) -> str:
    """The hint, after the question whether metres were typed as feet where the same numbers in metres are an ordinary pattern."""
    heights = settings.pattern.heights_m
    typed = [name for name in heights if _in_feet(given.get(f"pattern.{name}"))]
    meant = [height / FOOT_M if name in typed else height for name, height in heights.items()]
    alone = typed == ["final"] and heights["final"] >= LOWEST_LONE_FINAL_M
    falling = all(upper > lower for upper, lower in pairwise(meant))
    ordinary = falling and meant[0] <= HIGHEST_GATE_M and meant[-1] >= settings.site.min_final_turn_m
    if not typed or alone or not ordinary:
        return hint
    first = f"{heights[typed[0]] / FOOT_M:.0f} m"
    return f"were metres typed as feet ({first} = {heights[typed[0]] / FOOT_M**2:.0f} ft)? Otherwise {hint}"


def _in_feet(entry: Entry | None) -> bool:
    return entry is not None and entry.key.endswith("_ft")


def _check_wind_heights(given: Given) -> None:
    entry = given.get("wind")
    heights = [row["agl"] for row in entry.value if "agl" in row] if entry else []
    rising = len(heights) > 1 and heights[1].value > heights[0].value
    for before, here in pairwise(heights):
        if here.value == before.value:
            here.fail(f"{here.key} = {here.shown} gives that height twice", "keep one wind per height")
        if (here.value > before.value) != rising:
            here.fail(
                f"{here.key} = {here.shown} is out of order after {before.shown}",
                "let the heights of [[wind]] only rise, or only fall",
            )


def _check_direction(settings: Settings, given: Given) -> None:
    wanted, entry = settings.pattern.landing_deg, given.get("pattern.landing")
    directions = settings.site.directions
    if wanted is None or entry is None or not directions:
        return
    off = [abs(float(signed_difference_deg(d.landing_deg, wanted))) for d in directions]
    if min(off) > DIRECTION_TOLERANCE_DEG:
        allowed = ", ".join(f"{d.landing_deg:.0f}" for d in directions)
        entry.fail(
            f"{entry.key} = {entry.shown} is none of the landing directions of the site ({allowed} deg)",
            "choose one of them or change [[site.direction]]",
        )
    fixed, hand = directions[off.index(min(off))].hand, settings.pattern.hand
    if fixed is not None and hand not in ("as flown", fixed):
        given["pattern.hand"].fail(
            f'pattern.hand = "{hand}" contradicts the site, where landings to {wanted:.0f} deg are flown {fixed}-handed',
            "change one of the two",
        )


def _check_target(settings: Settings, given: Given) -> None:
    target = settings.site.target
    if target is None:
        return
    for area in settings.site.keep_outs:
        if area.below_m > 0.0 and inside(*target, area.polygon):
            _fail(
                [given.get("site.keep_out"), given.get("site.target")],
                f'the target lies inside "{area.name}", which may not be overflown below {_feet(area.below_m)}',
                "move the target or mend the polygon ([latitude, longitude] each)",
            )


def _check_wind(settings: Settings, given: Given) -> None:
    airspeed, profile = given.get("canopy.airspeed"), settings.wind_profile
    if airspeed is None or profile is None:
        return
    top_m = settings.pattern.final_m  # above it a plan may drift, and says so itself
    heights = np.append(profile.agl_m[profile.agl_m < top_m], top_m)
    speeds = np.hypot(*profile.vector(heights))
    worst = int(np.argmax(speeds))
    if speeds[worst] >= airspeed.value:
        _fail(
            [airspeed, given.get("wind")],
            f"the wind assumed at {_feet(float(heights[worst]))} ({speeds[worst] / KNOT_MPS:.0f} kt) is not below the "
            f"airspeed of the canopy ({airspeed.shown}): no final into it can be planned",
            "check both numbers and their units; in such a wind the plan is to stay on the ground",
        )
