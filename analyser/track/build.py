"""build_track: Recording -> Track (local metres, height above the landing area, velocity, quality)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.errors import NoFixesError
from analyser.frame import LocalFrame
from analyser.importers.recording import AltitudeSource, Note, Recording
from analyser.track.ground import Ground, find_ground
from analyser.track.level import find_level
from analyser.track.motion import find_motion
from analyser.track.steps import find_steps
from analyser.track.velocity import gap_threshold_s, local_velocity

__all__ = ["Gap", "Quality", "Track", "build_track", "grade_of", "local_velocity"]

Vector = NDArray[np.float64]

# Slow error of a position against a surveyed target, per axis. Standalone GPS: "typical open sky ~4.9 m" radius
# (GPS Standard Positioning Service Performance Standard, 2020, as cited on coordinately.org); read as a 95 % radius
# of two equal axes it is 4.9 / 2.45 = 2.0 m; rounded up for a receiver worn on the body.
POSITION_SD_M = 2.5
LOW_M = 1500.0  # ours: a gap that begins lower can touch the canopy flight


class Gap(NamedTuple):
    """A hole in the recording: start [s since the epoch, UTC] and length [s]."""

    start_s: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Quality:
    """How far the numbers can be trusted. The rules of the grade are written at ``grade_of``."""

    grade: Literal["good", "usable", "poor"]
    altitude: AltitudeSource
    gaps: tuple[Gap, ...]
    notes: tuple[Note, ...]
    rate_hz: float

    @property
    def heights_doubted(self) -> bool:
        """Whether the heights may be feet: then no result may lean on them."""
        return any(note.code == "altitude-maybe-feet" for note in self.notes)


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A recording in local metres. All arrays (n,) float64, ``t_s`` strictly increasing.

    ``t_s`` seconds since ``start_utc_s`` (the first fix); ``east_m``, ``north_m`` from the frame's origin;
    ``agl_m`` height above the landing area (NaN where the file has no altitude for
    longer than a gap); ``v_east``, ``v_north`` ground
    velocity and ``v_up`` climb [m/s]; ``velocity_sd`` standard deviation of one horizontal velocity component [m/s]
    (white noise, and what filters, slow errors and turns leave); ``velocity_source`` "position" or "doppler";
    ``agl_sd_m`` slow (common) error of the heights [m, 1 sigma];
    ``position_sd_m`` slow error of the position per axis [m, 1 sigma].
    """

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    v_east: Vector
    v_north: Vector
    v_up: Vector
    start_utc_s: float
    frame: LocalFrame
    ground_elevation_m: float
    ground_elevation_sd_m: float
    agl_sd_m: float
    position_sd_m: float
    velocity_sd: float
    velocity_source: Literal["position", "doppler"]
    quality: Quality

    def __repr__(self) -> str:
        """One line."""
        seconds = float(self.t_s[-1] - self.t_s[0]) if len(self) else 0.0
        return f"<Track of {len(self)} fixes over {seconds:.0f} s, {self.quality.grade}, velocity from {self.velocity_source}>"

    def __post_init__(self) -> None:
        shape = self.t_s.shape
        for name in ("t_s", "east_m", "north_m", "agl_m", "v_east", "v_north", "v_up"):
            values = getattr(self, name)
            if values.shape != shape:
                raise ValueError(f"track array {name} has shape {values.shape}, expected {shape}")
            values.setflags(write=False)

    def __len__(self) -> int:
        return int(self.t_s.shape[0])

    def index(self, t_s: float) -> int:
        """Index of the fix nearest in time."""
        return int(np.argmin(np.abs(self.t_s - t_s)))


def grade_of(
    *,
    has_ground: bool,
    interval_s: float,
    longest_gap_s: float,
    noise_m: float,
    levels_differ_m: float,
    dropped: float,
) -> Literal["good", "usable", "poor"]:
    """The grade of a track; thresholds are ours (common practice, no source).

    ``good``: heights with a level at rest after the landing, fixes at most 1.1 s apart (median; or
    nine tenths of them 2.2 s), no gap that
    begins below 1500 m on the way down longer than 5 s, position noise at most 1.5 m, levels before and after within 10 m of each other (NaN:
    not known or another field, allowed), and at most 2 % of the fixes dropped (exact copies of kept ones and the repeats of a log faster than its receiver are no loss).
    ``usable``: fixes at most 2.5 s (5 s) apart, no such gap longer than 20 s, noise at most 5 m, levels within
    30 m, at most 10 % dropped, and a level of the ground.
    ``poor``: anything else, and heights that may be feet.
    """
    differ = 0.0 if math.isnan(levels_differ_m) else abs(levels_differ_m)
    measured = (interval_s, longest_gap_s, noise_m, differ, dropped)
    if has_ground and all(m <= rule for m, rule in zip(measured, (1.1, 5.0, 1.5, 10.0, 0.02))):
        return "good"
    if has_ground and all(m <= rule for m, rule in zip(measured, (2.5, 20.0, 5.0, 30.0, 0.10))):
        return "usable"
    return "poor"


def build_track(
    recording: Recording,
    *,
    origin: tuple[float, float] | None = None,
    elevation_m: float | None = None,
) -> Track:
    """Local metres, velocity and height above the landing area.

    Parameters
    ----------
    recording : Recording
        The fixes as read, in degrees, metres and seconds.
    origin : tuple of float, optional
        Latitude and longitude [deg, WGS 84] of the local frame; by default the last resting place.
    elevation_m : float, optional
        Of the landing area above sea level, in the file's own altitude reference [m]; by default from the resting fixes
        after landing, else before take-off.

    Returns
    -------
    Track
        ``t_s`` [s since the first fix], ``east_m``, ``north_m``, ``agl_m`` [m], ``v_east``, ``v_north``, ``v_up`` [m/s], all
        of shape (n,), with their standard deviations and the ``quality``. A recording without altitude has NaN for heights
        and climb.

    Raises
    ------
    NoFixesError
        For an empty recording.

    Notes
    -----
    Velocities are slopes of local cubics through the positions (Fan & Gijbels, Local Polynomial Modelling, 1996), or as the
    receiver measured them where that is the better source; docs/method.md.

    Examples
    --------
    >>> from analyser.importers.read import read
    >>> track = build_track(read("sample_tracks/steady_breeze.fit"))
    >>> track.east_m.shape == track.agl_m.shape == track.v_up.shape
    True
    """
    if len(recording) == 0:
        raise NoFixesError("the recording holds no fix", "record with position and time")
    start = float(recording.time_s[0])
    t = recording.time_s - start
    interval = float(np.median(np.diff(t))) if t.size > 1 else math.inf
    gap_s = gap_threshold_s(t)
    frame, east, north = _local(recording, origin)
    steps = find_steps(t, recording.altitude_m, gap_s)
    altitude = _bridged(t, recording.altitude_m + steps.offset_m, gap_s)
    motion = find_motion(recording, t, east, north, altitude, gap_s)
    ground = find_ground(t, east, north, altitude, (motion.v_east, motion.v_north, motion.v_up))
    if origin is None:
        frame, east, north = _at_rest(recording, ground)
    lowest = float(np.nanmin(altitude)) if np.any(np.isfinite(altitude)) else math.nan
    level = find_level(recording, ground, elevation_m, lowest)
    agl = altitude - level.zero_m
    gaps = _gaps(t, start, gap_s, ground)
    notes = (*recording.notes, *motion.notes, *steps.notes, *level.notes)
    feet = any(n.code == "altitude-maybe-feet" for n in notes)
    grade = grade_of(
        has_ground=level.known and not feet,
        interval_s=max(interval, _long_interval(t) / 2.0),
        longest_gap_s=_longest_low_gap(t, agl, gap_s, ground),
        noise_m=motion.noise_m,
        levels_differ_m=ground.difference_m if ground.same_place else math.nan,
        dropped=recording.lost / (len(recording) + 1.0),
    )
    return Track(
        t_s=t,
        east_m=east,
        north_m=north,
        agl_m=agl,
        v_east=motion.v_east,
        v_north=motion.v_north,
        v_up=motion.v_up,
        start_utc_s=start,
        frame=frame,
        ground_elevation_m=level.elevation_m,
        ground_elevation_sd_m=level.elevation_sd_m,
        agl_sd_m=math.hypot(level.agl_sd_m, 2.0 * math.sqrt(steps.found), _feet_sd(agl) if feet else 0.0),
        position_sd_m=POSITION_SD_M,
        velocity_sd=motion.velocity_sd,
        velocity_source=motion.source,
        quality=Quality(
            grade, recording.altitude_source, gaps, notes, 1.0 / interval if interval > 0 else 0.0
        ),
    )


def _bridged(t: Vector, altitude: Vector, gap_s: float) -> Vector:
    """The altitudes with holes no wider than a gap filled by straight lines; wider ones, and the ends, stay NaN."""
    known = np.flatnonzero(np.isfinite(altitude))
    if known.size in (0, altitude.size):
        return altitude
    after = np.clip(np.searchsorted(known, np.arange(t.size)), 0, known.size - 1)
    before = np.clip(after - 1, 0, known.size - 1)
    inside = (t >= t[known[0]]) & (t <= t[known[-1]]) & (t[known[after]] - t[known[before]] <= gap_s)
    return np.where(np.isfinite(altitude) | ~inside, altitude, np.interp(t, t[known], altitude[known]))


def _feet_sd(agl: Vector) -> float:
    """Error [m] of heights that may be feet taken for metres: 70 % of each, as one figure for the lower half of the flight."""
    high = agl[np.isfinite(agl) & (agl > LOW_M / 10.0)]
    return 0.7 * float(np.percentile(high, 25.0)) if high.size else 0.0


def _long_interval(t: Vector) -> float:
    """The interval [s] that nine tenths of the intervals do not exceed."""
    return float(np.percentile(np.diff(t), 90.0)) if t.size > 1 else math.inf


def _local(recording: Recording, origin: tuple[float, float] | None) -> tuple[LocalFrame, Vector, Vector]:
    lat, lon = origin or (float(recording.lat_deg[-1]), float(recording.lon_deg[-1]))
    frame = LocalFrame(lat, lon)
    return frame, *frame.to_local(recording.lat_deg, recording.lon_deg)


def _at_rest(recording: Recording, ground: Ground) -> tuple[LocalFrame, Vector, Vector]:
    """The frame moved to where the track rests after landing; else to its lower end."""
    z = recording.altitude_m
    if ground.after is not None:
        a, b = ground.after.start, ground.after.stop
    else:
        low = 0 if np.isfinite(z[0]) and np.isfinite(z[-1]) and z[0] < z[-1] - 60.0 else len(z) - 1
        a, b = low, low + 1
    first = float(recording.lon_deg[a])
    apart = float(np.mean(np.mod(recording.lon_deg[a:b] - first + 180.0, 360.0) - 180.0))
    place = (float(np.mean(recording.lat_deg[a:b])), (first + apart + 180.0) % 360.0 - 180.0)
    return _local(recording, place)


def _longest_low_gap(t: Vector, agl: Vector, gap_s: float, ground: Ground) -> float:
    """The longest gap [s] of the flight that begins below 1500 m: under canopy, not in free fall."""
    steps = np.diff(t)
    low = np.nan_to_num(agl[:-1], nan=0.0) < LOW_M
    low[: max(ground.flight[0], int(np.argmax(np.nan_to_num(agl, nan=0.0))))] = False
    low[ground.flight[1] :] = False
    found = steps[low & (steps > gap_s)]
    return float(np.max(found)) if found.size else 0.0


def _gaps(t: Vector, start: float, gap_s: float, ground: Ground) -> tuple[Gap, ...]:
    steps = np.diff(t)
    low, high = ground.flight
    return tuple(
        Gap(start + float(t[i]), float(steps[i]))
        for i in np.flatnonzero(steps > gap_s)
        if low - 1 <= i < high
    )
