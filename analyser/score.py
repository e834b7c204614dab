"""score: the landing against the target, and which published accuracy standard it would meet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

import numpy as np

from analyser.angles import compass_deg
from analyser.pattern import Leg, Pattern, to_landing_frame
from analyser.phases import Phases
from analyser.phases.thresholds import PHASES
from analyser.settings import AccuracyStandard, Method, Settings
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["Landing", "Standard", "find_landing", "judge"]

LONGEST_S, SHORTEST_S = 10.0, 5.0
CIRCLE_95 = math.sqrt(-2.0 * math.log(0.05))
ONE_SIDED_95 = 1.645
AxisFrom = Literal["final track", "air heading", "ground track"]
# Ours: over ground a final is pushed aside by gusts and steering by so much on the mean; slower than this its nose says more.
ASIDE_MPS, SLOW_MPS = 0.7, 3.0
STRAIGHT_DEG = 3.0
DELAY_SD_S = 0.35  # ours: satellite positions are written 0 to 1.2 s late, anything between


class _Axis(NamedTuple):
    """A direction of landing [deg true], what it was taken from, and its standard deviation [deg]."""

    deg: float
    source: AxisFrom
    sd_deg: float


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

    ``along_m`` positive = long (past the target in the direction of landing), ``across_m`` positive = right of it, both
    about ``landing_deg`` [deg true]: the track of the flown final, its air heading where it hardly moved over the ground, else the
    air heading, else the ground track of the last seconds (``landing_deg_from`` says which). ``landing_deg_sd`` is that
    direction's error; ``along_sd_m`` and ``across_sd_m`` hold it beside the place's. ``bearing_deg`` from the target to the landing.
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
    landing_deg: float | None = None
    landing_deg_from: AxisFrom | None = None
    landing_deg_sd: float | None = None
    along_sd_m: float | None = None
    across_sd_m: float | None = None


def find_landing(
    track: Track,
    phases: Phases,
    *,
    flown: Pattern | None = None,
    wind: WindProfile | None = None,
    has_target: bool = False,
    settings: Settings | None = None,
) -> Landing | None:
    """The touchdown of the jump, or None where the recording holds none.

    ``ground_speed_mps`` and ``sink_before_flare_mps`` are means over the last 5 to 10 s of flight above the height where a flare
    begins: the touchdown itself is shorter than a receiver can see. With ``has_target`` the frame's origin is the target, and
    offset, along, across and the standards are filled in.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    phases : Phases
        Where climb, fall, canopy flight and landing are.
    flown : Pattern, optional
        For the landing direction: that of its final.
    wind : WindProfile, optional
        For the head wind, and the direction where the final does not say it.
    has_target : bool
        Whether the origin of the track's frame is the target.
    settings : Settings, optional
        Its standards.

    Returns
    -------
    Landing or None
        Place [m], direction [deg true], speeds [m/s], each with its error.
    """
    settings = settings or Settings()
    if phases.landing_s is None:
        return None
    t = phases.landing_s
    east, north = _place(track, t)
    lat, lon = track.frame.to_geodetic(east, north)
    window = _before_flare(track, t, settings.method)
    speed, sink = _speeds(track, window)
    axis = _axis(track, window, flown, wind)
    bare = Landing(
        t,
        east,
        north,
        float(lat),
        float(lon),
        speed,
        sink,
        landing_deg=axis.deg if axis else None,
        landing_deg_from=axis.source if axis else None,
        landing_deg_sd=axis.sd_deg if axis else None,
    )
    slides = _slid_m(track, phases)
    return _against_target(bare, track.position_sd_m, slides, settings.standards) if has_target else bare


def _slid_m(track: Track, phases: Phases) -> float:
    """How far along its way the place of touchdown may be off [m, 1 sd]: the moment's error times the ground speed then.

    The error of the receiver's clock is left out: it moves place and time together. A barometer is read without the
    delay of the satellite positions.
    """
    moment = math.sqrt(max((phases.landing_sd_s or 0.0) ** 2 - PHASES.clock_sd_s**2, 0.0))
    if track.quality.altitude == "barometric":
        moment = math.hypot(moment, DELAY_SD_S)
    return phases.landing_speed_mps * moment


def _against_target(
    landing: Landing, place_sd: float, slid_m: float, standards: Sequence[AccuracyStandard]
) -> Landing:
    offset = math.hypot(landing.east_m, landing.north_m)
    sd = place_sd
    along: float | None = None
    across: float | None = None
    along_sd: float | None = None
    across_sd: float | None = None
    if landing.landing_deg is not None:
        along, across = to_landing_frame(landing.east_m, landing.north_m, landing.landing_deg)
        turn = math.sin(math.radians(min(landing.landing_deg_sd or 0.0, 90.0)))
        along_sd, across_sd = math.hypot(sd, slid_m, turn * across), math.hypot(sd, turn * along)
        sd = math.hypot(sd, slid_m * along / max(offset, 1e-9))
    judged = judge(offset, sd, standards)
    return replace(
        landing,
        offset_m=offset,
        offset_sd_m=sd,
        along_m=along,
        across_m=across,
        along_sd_m=along_sd,
        across_sd_m=across_sd,
        bearing_deg=float(compass_deg(landing.east_m, landing.north_m)),
        standards=judged,
        score_text=_text(judged, sd),
    )


def judge(offset_m: float, offset_sd_m: float, standards: Sequence[AccuracyStandard]) -> tuple[Standard, ...]:
    """Each standard, widest first, with ``met`` True or False only where 95 % of the position error agrees.

    A ring smaller than the 95 % circle of the position error (2.45 sd per axis) is never called met, and called missed only
    where that circle is missed too.
    """
    rows = []
    for row in sorted(standards, key=lambda r: (-r.radius_m, r.name)):
        finest = max(row.radius_m, CIRCLE_95 * offset_sd_m)
        met: bool | None = None
        if offset_m - ONE_SIDED_95 * offset_sd_m > finest:
            met = False
        elif row.radius_m >= finest and offset_m + ONE_SIDED_95 * offset_sd_m <= row.radius_m:
            met = True
        rows.append(Standard(row.name, row.radius_m, row.source, met))
    return tuple(rows)


def _text(standards: tuple[Standard, ...], sd: float) -> str:
    met = [s for s in standards if s.met]
    open_ = [s for s in standards if s.met is None]
    parts = [
        f"inside the ring of {met[-1].name} ({met[-1].radius_m:.0f} m)"
        if met
        else "inside no ring for certain"
    ]
    if open_:
        names = ", ".join(f"{s.name} ({s.radius_m:.0f} m)" for s in open_)
        parts.append(f"the position error of ±{sd:.0f} m leaves open: {names}")
    return "; ".join(parts) + ". A witness signs licences, not this tool."


def _place(track: Track, t: float) -> tuple[float, float]:
    """Mean place of the fixes about ``t``, as many before as after it (the feet may still be running), else interpolated in time."""
    near = np.abs(track.t_s - t) <= 0.5
    if int(np.count_nonzero(near)) >= 4:
        return float(np.mean(track.east_m[near])), float(np.mean(track.north_m[near]))
    return float(np.interp(t, track.t_s, track.east_m)), float(np.interp(t, track.t_s, track.north_m))


def _before_flare(track: Track, t: float, method: Method) -> tuple[float, float] | None:
    """Start and end [s] of the last 5 to 10 s of flight above the height where a flare begins, or None where too short."""
    flying = (track.t_s < t) & (track.t_s > t - LONGEST_S - 15.0)
    high = flying & (track.agl_m >= method.flare_height.value)
    if not bool(np.any(high)):
        return None
    end = float(track.t_s[np.flatnonzero(high)[-1]])
    start = max(end - LONGEST_S, float(track.t_s[np.flatnonzero(flying)[0]]))
    return (start, end) if end - start >= SHORTEST_S else None


def _speeds(track: Track, window: tuple[float, float] | None) -> tuple[float | None, float | None]:
    """Ground speed and sink [m/s] over the window, from displacement and a line through the heights."""
    if window is None:
        return None, None
    use = (track.t_s >= window[0]) & (track.t_s <= window[1])
    t, agl = track.t_s[use], track.agl_m[use]
    speed = float(np.mean(np.hypot(track.v_east[use], track.v_north[use])))
    if t.shape[0] < 3 or not bool(np.all(np.isfinite(agl))):
        return speed, None
    x = t - t.mean()
    return speed, -float(np.sum(x * agl) / np.sum(x * x))


def _axis(
    track: Track, window: tuple[float, float] | None, flown: Pattern | None, wind: WindProfile | None
) -> _Axis | None:
    """The direction of landing, what it was taken from, and its error."""
    final = flown.leg("final") if flown else None
    if final is not None and flown is not None:
        known = wind is not None and wind.at(final.end_agl_m).status != "undetermined"
        if wind is not None and known and final.ground_speed_mps < SLOW_MPS:
            return _nose(final.heading_deg, wind, final.end_agl_m, _airspeed(final, wind))
        deg = flown.landing_deg if flown.landing_deg is not None else final.track_deg
        return _over_ground(deg, "final track", final.ground_speed_mps)
    if window is None:
        return None
    use = (track.t_s >= window[0]) & (track.t_s <= window[1])
    east, north = float(np.mean(track.v_east[use])), float(np.mean(track.v_north[use]))
    agl = float(np.mean(track.agl_m[use]))
    if wind is not None and wind.at(agl).status != "undetermined":
        east, north = east - float(wind.vector(agl)[0]), north - float(wind.vector(agl)[1])
        return _nose(float(compass_deg(east, north)), wind, agl, math.hypot(east, north))
    if math.hypot(east, north) < 1.0:
        return None
    return _over_ground(float(compass_deg(east, north)), "ground track", math.hypot(east, north))


def _over_ground(deg: float, source: AxisFrom, speed: float) -> _Axis:
    return _Axis(deg, source, math.degrees(math.atan2(ASIDE_MPS, speed)))


def _nose(deg: float, wind: WindProfile, agl_m: float, airspeed: float) -> _Axis:
    """An air heading: as good as the wind that was taken out, and as straight as pilots fly."""
    by_wind = math.degrees(math.atan2(wind.at(agl_m).worst_sd, max(airspeed, 1.0)))
    return _Axis(deg, "air heading", math.hypot(STRAIGHT_DEG, by_wind))


def _airspeed(final: Leg, wind: WindProfile) -> float:
    """Airspeed along the ground track of a final [m/s]."""
    angle, at = math.radians(final.track_deg), wind.at(final.end_agl_m)
    east = final.ground_speed_mps * math.sin(angle) - at.east
    north = final.ground_speed_mps * math.cos(angle) - at.north
    return math.hypot(east, north)
