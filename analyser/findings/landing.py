"""Rules about the landing: on target, long or short, off the line, into the wind, the last seconds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.angles import signed_difference_deg, wind_from_deg
from analyser.findings.model import Finding, Values, clearly
from analyser.findings.thresholds import FINDINGS
from analyser.jump import Debrief
from analyser.plan.areas import to_edge_m

__all__ = ["air_heading_deg", "into_wind_error_deg", "landing_rules"]


def landing_rules(x: Debrief) -> Iterator[Finding]:
    """Every rule about the landing."""
    yield from _offset(x)
    yield from _landing_area(x)
    yield from _into_wind(x)
    yield from _straight(x)
    yield from _s_turns(x)


def _offset(x: Debrief) -> Iterator[Finding]:
    spot, method = x.landing, x.settings.method
    if spot is None or spot.offset_m is None:
        return
    sd, sure = spot.offset_sd_m or 0.0, method.certainty.value
    radius = method.on_target.value
    values: Values = {"offset_m": spot.offset_m, "offset_sd_m": sd, "radius_m": radius}
    if spot.offset_m + sure * sd <= radius:
        yield Finding(
            "on_target", "good", "Landed {offset_m:distance} from the target.", values, group="landing"
        )
        return
    for key, value, axis_sd, plus, minus, group in (
        ("along", spot.along_m, spot.along_sd_m, "long", "short", "along"),
        ("across", spot.across_m, spot.across_sd_m, "right of the line", "left of the line", "wind line"),
    ):
        sd = spot.offset_sd_m or 0.0 if axis_sd is None else axis_sd
        if value is None or not clearly(abs(value), sd, method.cause_metres.value, sure):
            continue
        word = plus if value > 0 else minus
        code = f"landed_{word.split()[0]}" if key == "along" else "off_wind_line"
        text = (
            "Landed {miss_m:distance} "
            + word
            + ("." if key == "along" else " through the target along the final.")
        )
        evidence: Values = {"miss_m": abs(value), "miss_sd_m": sd, f"{key}_m": value}
        yield Finding(code, "note", text, evidence, group=f"landing {group}")


def _landing_area(x: Debrief) -> Iterator[Finding]:
    """In one of the field's landing areas or outside all of them; nothing where the error of the place leaves it open."""
    spot, areas = x.landing, x.settings.site.landing_areas
    if spot is None or not areas:
        return
    rows = []
    for area in areas:
        corners = np.asarray(area.polygon, dtype=np.float64)
        polygon = np.stack(x.track.frame.to_local(corners[:, 0], corners[:, 1]), axis=1)
        rows.append((to_edge_m(spot.east_m, spot.north_m, polygon), area.name))
    edge, name = max(rows)
    sd = x.track.position_sd_m
    if not clearly(abs(edge), sd, 0.0, x.settings.method.certainty.value):
        return
    values: Values = {"area": name, "edge_m": abs(edge), "edge_sd_m": sd}
    if edge > 0.0:
        text = "The touchdown lies in {area:text}."
        yield Finding("in_landing_area", "note", text, values, group="landing area")
    else:
        text = "The touchdown lies outside the landing areas, {edge_m:distance} from {area:text}."
        yield Finding("outside_landing_areas", "note", text, values, group="landing area")


def air_heading_deg(x: Debrief) -> float | None:
    """Air heading of the landing: of the flown final, else the landing direction where that is an air heading."""
    final = x.flown.leg("final") if x.flown else None
    if final is not None:
        return final.heading_deg
    if x.landing is not None and x.landing.landing_deg_from == "air heading":
        return x.landing.landing_deg
    return None


def into_wind_error_deg(x: Debrief) -> tuple[float, float] | None:
    """Air heading on final minus straight into the lowest wind [deg, right positive] and its sd; None in light or unknown wind.

    Parameters
    ----------
    x : Debrief
        With wind, legs and landing.

    Returns
    -------
    tuple of float, or None
        The angle and its standard deviation [deg].
    """
    heading = air_heading_deg(x)
    if heading is None or x.profile is None:
        return None
    at = x.profile.at(FINDINGS.surface_m)
    if at.status == "undetermined" or at.speed <= x.settings.method.light_wind.value:
        return None
    return float(signed_difference_deg(heading, wind_from_deg(at.east, at.north))), math.degrees(
        math.atan2(at.worst_sd, at.speed)
    )


def _into_wind(x: Debrief) -> Iterator[Finding]:
    off = into_wind_error_deg(x)
    if off is None or x.profile is None:
        return
    at, method = x.profile.at(FINDINGS.surface_m), x.settings.method
    limit, sure = method.into_wind.value, method.certainty.value
    values: Values = {
        "off_deg": abs(off[0]),
        "off_sd_deg": off[1],
        "wind_mps": at.speed,
        "wind_sd_mps": at.worst_sd,
    }
    wind = "a wind of {wind_mps:speed} over the lowest part of the final"
    if abs(off[0]) <= method.into_wind_good.value and abs(off[0]) + sure * off[1] <= limit:
        text = "Landed into the wind, within {off_deg:angle} of it."
        yield Finding("into_wind", "good", text, values, group="landing direction")
    elif clearly(abs(off[0]), off[1], 180.0 - limit, sure):
        text = f"Landed down the wind: {{off_deg:angle}} from straight into {wind}."
        yield Finding("landed_down_wind", "note", text, values, group="landing direction")
    elif clearly(abs(off[0]), off[1], limit, sure):
        text = f"Landed across the wind: {{off_deg:angle}} from straight into {wind}."
        yield Finding("landed_across_wind", "note", text, values, group="landing direction")


def _straight(x: Debrief) -> Iterator[Finding]:
    final = x.flown.leg("final") if x.flown else None
    if final is None or x.landing is None:
        return
    seconds, limit = x.landing.t_s - final.start_s, x.settings.method.straight_before_touchdown.value
    sure = x.settings.method.certainty.value
    values: Values = {"straight_s": seconds, "straight_sd_s": FINDINGS.straight_sd_s, "limit_s": limit}
    if clearly(seconds, FINDINGS.straight_sd_s, limit, sure):
        if next(_s_turns(x), None) is not None:
            return
        text = "Straight on final for {straight_s:seconds~} before touchdown."
        yield Finding("straight_final", "good", text, values, group="final")
    elif seconds + sure * FINDINGS.straight_sd_s < limit:
        text = (
            "The last turn ended {straight_s:seconds} before touchdown; {limit_s:seconds~} straight are one "
            "instructor's rule."
        )
        yield Finding("short_final", "caution", text, values, group="final")


def swings_deg(x: Debrief) -> list[float]:
    """Signed swings of the air heading on final between its turning points [deg], those above the threshold of an S-turn."""
    final = x.flown.leg("final") if x.flown else None
    if final is None or x.profile is None or x.landing is None:
        return []
    track = x.track
    use = (track.t_s >= final.start_s) & (track.t_s <= x.landing.t_s)
    use &= track.agl_m >= x.settings.method.flare_height.value
    if int(np.count_nonzero(use)) < 4:
        return []
    wind_east, wind_north = x.profile.vector(track.agl_m[use])
    east, north = track.v_east[use] - wind_east, track.v_north[use] - wind_north
    heading = np.degrees(np.unwrap(np.arctan2(east, north)))
    noise = math.degrees(track.velocity_sd / max(float(np.mean(np.hypot(east, north))), 1.0))
    method = x.settings.method
    return zigzag(heading, method.s_turn.value + method.certainty.value * noise)


def zigzag(values: Sequence[float] | NDArray[np.float64], limit: float) -> list[float]:
    """The signed swings between turning points of a series, leaving out what swings back by less than ``limit``."""
    low = high = furthest = float(values[0])
    pivots: list[float] = []
    way = 0
    for value in (float(v) for v in values):
        low, high = min(low, value), max(high, value)
        if way == 0 and max(value - low, high - value) > limit:
            way = 1 if value - low > limit else -1
            pivots, furthest = [low if way > 0 else high], value
        elif way * (value - furthest) > 0.0:
            furthest = value
        elif way * (furthest - value) > limit:
            pivots.append(furthest)
            way, furthest = -way, value
    return [b - a for a, b in pairwise([*pivots, furthest])] if way else []


def _s_turns(x: Debrief) -> Iterator[Finding]:
    swings = swings_deg(x)
    if len(swings) < 2:
        return
    values: Values = {"swings": float(len(swings)), "largest_deg": max(abs(s) for s in swings)}
    text = (
        "S-turns on final: {swings:count} changes of heading, the largest of {largest_deg:angle~}. A flight straight to clear "
        "ground is worth more than the target."
    )
    yield Finding("s_turns", "caution", text, values, group="final")
