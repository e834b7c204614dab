"""Rules about turns near the ground and in the pattern: a low turn to final, a large last one, headings that still change, full turns."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from analyser.findings.model import Finding, Values, clearly
from analyser.findings.thresholds import FINDINGS
from analyser.holding import every_second
from analyser.jump import Debrief

__all__ = ["left_open", "longest_turn_deg", "turn_rules"]


Vector = NDArray[np.float64]


def turn_rules(x: Debrief) -> Iterator[Finding]:
    """Every rule about a turn that is low or large."""
    yield from _last_turn(x)
    yield from _low_turn(x)
    yield from _full_turns(x)


def _last_turn(x: Debrief) -> Iterator[Finding]:
    method = x.settings.method
    final = x.flown.leg("final") if x.flown else None
    if x.flown is None or final is None or final.turn is None:
        return
    if min(final.confidence, x.flown.confidence) < method.pattern_confidence.value:
        return
    change = abs(final.turn.change_deg)
    if clearly(change, 2.0 * FINDINGS.change_sd_deg, method.last_turn.value, method.certainty.value):
        values: Values = {
            "change_deg": change,
            "change_sd_deg": 2.0 * FINDINGS.change_sd_deg,
            "limit_deg": method.last_turn.value,
        }
        text = "The turn onto final changed the heading by {change_deg:angle}, more than {limit_deg:angle~}."
        yield Finding("large_last_turn", "caution", text, values, group="turns")


def left_open(x: Debrief) -> Iterator[tuple[str, Values]]:
    """Cautions whose limit lies within the error, so that nobody can say: the code of each and the numbers."""
    below, values = _below_minimum(x)
    if below is None:
        yield "final_turn_below_minimum", values


def _below_minimum(x: Debrief) -> tuple[bool | None, Values]:
    """Whether the turn onto final began below the lowest height set for it, None where its error leaves that open; and the numbers."""
    final = x.flown.leg("final") if x.flown else None
    if final is None or final.turn_agl_m is None or final.turn is None:
        return False, {}
    sd = max(x.track.agl_sd_m, final.turn_agl_sd_m or 0.0)
    low, sure = x.settings.site.min_final_turn_m, x.settings.method.certainty.value
    values: Values = {"turn_agl_m": final.turn_agl_m, "turn_agl_sd_m": sd, "limit_m": low}
    if final.turn_agl_m + sure * sd < low:
        return True, values
    return None if final.turn_agl_m - sure * sd < low else False, values


def _low_turn(x: Debrief) -> Iterator[Finding]:
    method = x.settings.method
    below, values = _below_minimum(x)
    if below:
        text = (
            "The turn onto final began at {turn_agl_m:height}, below the {limit_m:height~} set for this site."
        )
        yield Finding("final_turn_below_minimum", "caution", text, values, group="low turn")
    slow = x.track.agl_sd_m
    change = _change_below(x, method.low_turn.value - method.certainty.value * slow)
    if clearly(change, FINDINGS.change_sd_deg, method.low_turn_change.value, method.certainty.value):
        values = {
            "change_deg": change,
            "change_sd_deg": FINDINGS.change_sd_deg,
            "limit_m": method.low_turn.value,
        }
        text = (
            "Below {limit_m:height~} the heading still changed by {change_deg:angle}. Near the ground level wings come before the "
            "direction of landing."
        )
        yield Finding("low_turn", "caution", text, values, group="low turn")


def _headings(x: Debrief, low_m: float, high_m: float) -> tuple[Vector, Vector] | None:
    """Times and unwrapped air headings of the canopy fixes between two heights."""
    if x.profile is None or x.canopy_fixes is None:
        return None
    track, part = x.track, slice(*x.canopy_fixes)
    h = track.agl_m[part]
    use = (h >= low_m) & (h <= high_m)
    if x.landing is not None:
        use &= track.t_s[part] <= x.landing.t_s
    if int(np.count_nonzero(use)) < 4:
        return None
    wind_east, wind_north = x.profile.vector(h[use])
    east, north = track.v_east[part][use] - wind_east, track.v_north[part][use] - wind_north
    return track.t_s[part][use], np.degrees(np.unwrap(np.arctan2(east, north)))


def _change_below(x: Debrief, height_m: float) -> float:
    found = _headings(x, x.settings.method.flare_height.value, height_m)
    return 0.0 if found is None else float(np.max(found[1]) - np.min(found[1]))


def _full_turns(x: Debrief) -> Iterator[Finding]:
    method = x.settings.method
    sd = x.track.agl_sd_m
    limit = method.no_spiral_below.value
    found = _headings(x, method.flare_height.value, limit - method.certainty.value * sd)
    if found is None:
        return
    largest = longest_turn_deg(*found, method.turning_rate.value)
    if clearly(largest, 2.0 * FINDINGS.change_sd_deg, method.full_turn.value, method.certainty.value / 2.0):
        values: Values = {
            "change_deg": largest,
            "change_sd_deg": 2.0 * FINDINGS.change_sd_deg,
            "limit_m": limit,
        }
        text = "Below {limit_m:height~} one turn went on for {change_deg:angle~}: a full turn or more at pattern height."
        yield Finding("full_turn_low", "caution", text, values, group="turns")


def longest_turn_deg(t: Vector, heading_deg: Vector, turning_dps: float) -> float:
    """The largest change of heading in one turn that never stops for two seconds [deg]; headings unwrapped."""
    if t[-1] - t[0] < 4.0:
        return 0.0
    seconds = every_second(float(t[0]), float(t[-1]))
    step = float(seconds[1] - seconds[0])
    rate = np.gradient(np.interp(seconds, t, heading_deg), step)
    rate = np.convolve(np.pad(rate, 1, mode="edge"), np.full(3, 1.0 / 3.0), mode="valid")
    largest = 0.0
    for way in (1.0, -1.0):
        total = pause = 0.0
        for value in (way * float(r) for r in rate):
            pause = pause + step if value < turning_dps else 0.0
            total = total + value * step if pause < 2.0 else 0.0
            largest = max(largest, total)
    return largest
