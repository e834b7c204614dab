"""The turns between straight stretches: when and how high they begin and end, how steep they are, how well that is known."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.atmosphere import G_MPS2
from analyser.legs.edges import edge_of_turn
from analyser.legs.heading import AirHeading, Stretch
from analyser.legs.thresholds import LEGS
from analyser.pattern import Turn
from analyser.phases.signals import runs
from analyser.track import Track

__all__ = ["Heights", "TurnFound", "heights_of", "refine_turns"]

Vector = NDArray[np.float64]

# A barometer's height is off by the share by which the air is warmer or colder than the standard's (hypsometric equation):
# 10 K of some 280 K from day to day (ours); receivers that do not say what they measure with are seldom barometers.
_SCALE_SD = {"barometric": LEGS.barometer_scale_sd, "unknown": LEGS.unsaid_scale_sd, "gps": 0.0}


class Heights(NamedTuple):
    """Smoothed heights of a flight and what is known of their error.

    ``t`` [s], ``agl`` [m above the landing area], ``sink`` [m/s], all (n,); ``noise_m`` white error of one smoothed height;
    ``drift_m`` standard deviation of the change of the slow error over a minute; ``ground_sd_m`` error of the level of the ground,
    ``scale_sd`` of the scale of the heights above it.
    """

    t: Vector
    agl: Vector
    sink: Vector
    noise_m: float
    drift_m: float
    ground_sd_m: float
    scale_sd: float = 0.0

    def at(self, t_s: float) -> float:
        """Height at a time [m]."""
        return float(np.interp(t_s, self.t, self.agl))

    def sink_at(self, t_s: float) -> float:
        """Rate of descent at a time [m/s]."""
        return float(np.interp(t_s, self.t, self.sink))

    def sd(self, t_s: float, timing_sd_s: float, landing_s: float) -> float:
        """Standard deviation of a turn's height [m]: noise, drift until the level at rest was taken, timing times sink."""
        minutes = max(landing_s + 20.0 - t_s, 0.0) / 60.0
        drift = self.drift_m * math.sqrt(min(minutes, 3.0))
        return math.sqrt(
            self.noise_m**2
            + drift**2
            + self.ground_sd_m**2
            + (self.scale_sd * self.at(t_s)) ** 2
            + (timing_sd_s * max(self.sink_at(t_s), 1.0)) ** 2
        )


class TurnFound(NamedTuple):
    """A turn with the errors of its two times [s, 1 sigma]."""

    turn: Turn
    start_sd_s: float
    end_sd_s: float


def heights_of(track: Track, part: slice, landing_s: float) -> Heights:
    """Heights of the fixes ``part`` smoothed by a moving line, and the errors estimated from the recording itself."""
    t, h = track.t_s[part], track.agl_m[part]
    known = np.isfinite(h)
    t, h = t[known], h[known]
    step = float(np.median(np.diff(t)))
    half = max(1.0, 1.1 * step)
    smooth, slope, used = _moving_line(t, h, half)
    rest = h - smooth
    white = float(np.median(np.abs(rest))) / 0.6745
    noise = white / math.sqrt(max(used - 2.0, 1.0))
    level = track.agl_sd_m if track.quality.heights_doubted else LEGS.level_sd_m
    return Heights(
        t, smooth, -slope, noise, _drift(track, landing_s), level, _SCALE_SD[track.quality.altitude]
    )


def _moving_line(t: Vector, y: Vector, half_s: float) -> tuple[Vector, Vector, float]:
    """Value and slope of the least-squares line of the fixes within ``half_s``, and how many these are (median)."""
    low = np.searchsorted(t, t - half_s - 1e-6)
    high = np.searchsorted(t, t + half_s + 1e-6)
    few = high - low < 3
    low = np.where(few, np.maximum(low - 1, 0), low)
    high = np.where(few, np.minimum(high + 1, t.shape[0]), high)
    x, v = t - t.mean(), y - y.mean()
    sums = [np.concatenate([[0.0], np.cumsum(a)]) for a in (x, v, x * x, x * v)]
    sx, sy, sxx, sxy = (s[high] - s[low] for s in sums)
    count = high - low
    slope = (sxy - sx * sy / count) / np.maximum(sxx - sx * sx / count, 1e-9)
    return sy / count + slope * (x - sx / count) + y.mean(), slope, float(np.median(count))


def _drift(track: Track, landing_s: float) -> float:
    """Change of the slow height error over a minute [m, 1 sigma]: what the height does while the jumper stands, over 30 s.

    The few independent half minutes of a recording are weighed with a prior of 2 m that counts as three of them (ours; trade
    figures are 4–7 m absolute, of which most is constant over a jump).
    """
    prior, weight = 2.0**2, 3.0
    total, count = prior * weight, weight
    slow = (
        (np.hypot(track.v_east, track.v_north) < LEGS.rests_mps)
        & (np.abs(track.v_up) < LEGS.rests_sink_mps)
        & np.isfinite(track.agl_m)
    )
    for a, b in runs(slow):
        t, h = track.t_s[a:b], track.agl_m[a:b]
        if t[-1] - t[0] < LEGS.rest_s or (t[0] < landing_s and t[-1] > landing_s):
            continue
        since = t - t[0]
        window = np.floor(since / 30.0)
        use = (since - 30.0 * window < 4.0) & (30.0 * window < since[-1] - 4.0)
        firsts = np.flatnonzero(np.diff(window[use], prepend=-1.0))
        means = np.add.reduceat(h[use], firsts) / np.diff(firsts, append=int(np.count_nonzero(use)))
        steps = np.diff(means)
        total += float(np.sum(steps**2)) * 2.0
        count += steps.shape[0]
    return math.sqrt(total / count)


def refine_turns(heading: AirHeading, stretches: list[Stretch], heights: Heights) -> list[TurnFound]:
    """The turns among alternating stretches, with edges finer than the sampling."""
    found: list[TurnFound] = []
    for k, s in enumerate(stretches):
        if s.turning:
            before = stretches[k - 1] if k else None
            after = stretches[k + 1] if k + 1 < len(stretches) else None
            found.append(_refine(heading, s, before, after, heights))
    return found


def _refine(
    heading: AirHeading, s: Stretch, before: Stretch | None, after: Stretch | None, heights: Heights
) -> TurnFound:
    middle = 0.5 * (s.start_s + s.end_s)
    reach = max(0.5 * s.seconds, 1.0)
    start, start_sd = s.start_s + 0.5 * heading.box_s, 1.0
    if before is not None and before.seconds > LEGS.straight_s:
        level = max(before.start_s, s.start_s - 6.0)
        start, start_sd = edge_of_turn(heading, level, s.start_s, min(s.start_s + 4.0, middle + 0.6 * reach))
    end, end_sd = s.end_s - 0.5 * heading.box_s, 1.0
    if after is not None and after.seconds > LEGS.straight_s:
        level = min(after.end_s, s.end_s + 6.0)
        end, end_sd = edge_of_turn(heading, level, s.end_s, max(s.end_s - 4.0, middle - 0.6 * reach))
    end = max(end, start + 0.5)
    first = before.end_deg if before else s.start_deg
    last = after.start_deg if after else s.end_deg
    turn = _details(heading, start, end, last - first, heights)
    swing_s = min(heading.swing_deg / max(abs(turn.rate_dps), 1.0), 0.5 * heading.box_s)
    other_s = math.hypot(LEGS.edge_sd_s, swing_s)
    return TurnFound(turn, math.hypot(start_sd, other_s), math.hypot(end_sd, other_s))


def _details(heading: AirHeading, start_s: float, end_s: float, change: float, heights: Heights) -> Turn:
    """Rate over the middle of the turn; bank of the coordinated turn with that rate, tan φ = V ω / g."""
    quarter = 0.25 * (end_s - start_s)
    middle = np.interp([start_s + quarter, end_s - quarter], heading.t, heading.deg)
    rate = float(middle[1] - middle[0]) / max(2.0 * quarter, 0.25)
    if rate * change <= 0.0:
        rate = change / max(end_s - start_s, 0.5)
    inside = (heading.t >= start_s) & (heading.t <= end_s)
    speed = float(np.median(heading.speed[inside])) if inside.any() else 0.0
    bank = math.degrees(math.atan(speed * math.radians(abs(rate)) / G_MPS2))
    return Turn(start_s, end_s, heights.at(start_s), heights.at(end_s), change, rate, bank)
