"""Heights that are none: zeros, constants, spikes; heights that look like feet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.importers.leaps import distance_m
from analyser.importers.recording import AltitudeSource, Note

__all__ = ["Altitudes", "mend_altitude"]

Vector = NDArray[np.float64]
Flags = NDArray[np.bool_]

LOWEST_M, HIGHEST_M = -600.0, 30_000.0  # ours: nobody jumps outside
FASTEST_FALL_MPS = 110.0  # ours: kept up for ten seconds; flat-flying falls at 50-60, head-down at 70-90
STEEPEST_CANOPY_MPS = 11.0  # ours: kept up for the last 90 s before the ground at canopy speed


@dataclass(frozen=True, slots=True, eq=False)
class Altitudes:
    """Heights (n,) with NaN where there is none, the satellite height beside or None, their source, notes."""

    altitude_m: Vector
    gps_altitude_m: Vector | None
    source: AltitudeSource
    notes: tuple[Note, ...]


def mend_altitude(
    time: Vector, lat: Vector, lon: Vector, altitude: Vector, gps: Vector | None, source: AltitudeSource
) -> Altitudes:
    """Take out impossible heights, drop a column that carries none, say what looks like feet. Nothing is corrected."""
    notes: list[Note] = []
    wide = _extent_m(lat, lon) > 200.0
    altitude = _possible(time, altitude, notes, wide)
    gps = None if gps is None else _possible(time, gps, [], wide)
    if gps is not None and not np.any(np.isfinite(gps)):
        gps = None
    if gps is not None and not np.any(np.isfinite(altitude)):
        altitude, gps, source = gps, None, "gps"
    notes.extend(_feet_note(time, lat, lon, altitude, gps))
    return Altitudes(altitude, gps, source, tuple(notes))


def _extent_m(lat: Vector, lon: Vector) -> float:
    at = np.zeros(lat.size, dtype=np.intp)
    return float(np.max(distance_m(lat, lon, at, np.arange(lat.size))))


def _possible(time: Vector, altitude: Vector, notes: list[Note], wide: bool) -> Vector:
    """The heights with what can not be one set to NaN."""
    z = altitude.copy()
    known = np.isfinite(z)
    if known.any() and not np.any(z[known]):
        notes.append(Note("zero-altitude", "every altitude is zero: taken as none"))
        return np.full_like(z, np.nan)
    if wide and np.count_nonzero(known) > 10 and float(np.ptp(z[known])) == 0.0:
        notes.append(Note("constant-altitude", f"every altitude is {z[known][0]:.6g} m: taken as none"))
        return np.full_like(z, np.nan)
    for code, text, find in (
        ("bad-altitude", "altitudes outside any jump were left out", _outside),
        ("zero-altitude", "altitudes of zero among others were left out", _zero),
        ("altitude-spike", "altitudes far off their neighbours were left out", _spike),
    ):
        bad = find(time, z)
        count = int(np.count_nonzero(bad))
        if count:
            notes.append(Note(code, f"{count} {text}", count))
            z[bad] = np.nan
    return z


def _outside(time: Vector, z: Vector) -> Flags:
    with np.errstate(invalid="ignore"):
        return np.asarray((z < LOWEST_M) | (z > HIGHEST_M))


def _zero(time: Vector, z: Vector) -> Flags:
    """Exact zeros whose nearest other height, before or after, lies more than 50 m away."""
    zero = z == 0.0
    other = np.flatnonzero(np.isfinite(z) & ~zero)
    if not zero.any() or other.size == 0:
        return np.zeros(z.shape, dtype=bool)
    place = np.searchsorted(other, np.arange(z.size))
    before, after = other[np.clip(place - 1, 0, other.size - 1)], other[np.clip(place, 0, other.size - 1)]
    return np.asarray(zero & ((np.abs(z[before]) > 50.0) | (np.abs(z[after]) > 50.0)))


def _spike(time: Vector, z: Vector) -> Flags:
    """One or two heights in a row more than 40 m off both neighbours on the same side, faster than 150 m/s there and back."""
    bad = np.zeros(z.shape, dtype=bool)
    at = np.flatnonzero(np.isfinite(z))
    for length in (1, 2):
        if at.size < length + 2:
            break
        a, i, j, b = (at[k : at.size - length - 1 + k] for k in (0, 1, length, length + 1))
        into, out = z[i] - z[a], z[j] - z[b]
        hit = (
            (into * out > 0)
            & (np.minimum(np.abs(into), np.abs(out)) > 40.0)
            & (np.abs(into) > 150.0 * (time[i] - time[a]))
            & (np.abs(out) > 150.0 * (time[b] - time[j]))
        )
        bad[i[hit]] = True
        bad[j[hit]] = True
    return bad


def _feet_note(time: Vector, lat: Vector, lon: Vector, z: Vector, gps: Vector | None) -> list[Note]:
    """Whether the heights look like feet taken for metres: by a second height, by the fall, or by the canopy's sink."""
    why = ""
    if gps is not None and _ratio(z, gps) > 2.5:
        why = "they are three times the satellite heights"
    elif _kept_up(time, z, 10.0) > FASTEST_FALL_MPS:
        why = f"a fall of {_kept_up(time, z, 10.0):.0f} m/s"
    else:
        sink, ground = _last_descent(time, lat, lon, z)
        if sink > STEEPEST_CANOPY_MPS and ground < 15.0:
            why = f"a sink of {sink:.0f} m/s down to the ground at canopy speed"
    if not why:
        return []
    return [
        Note("altitude-maybe-feet", f"the altitudes may be feet, not metres ({why}); they were not changed")
    ]


def _ratio(z: Vector, gps: Vector) -> float:
    good = np.isfinite(z) & np.isfinite(gps)
    if np.count_nonzero(good) < 20 or float(np.ptp(gps[good])) < 300.0:
        return 1.0
    x = gps[good] - np.mean(gps[good])
    return float(np.sum(x * z[good]) / np.sum(x * x))


def _kept_up(time: Vector, z: Vector, seconds: float) -> float:
    """Greatest mean rate of descent [m/s] over ``seconds``."""
    good = np.isfinite(z)
    t, h = time[good], z[good]
    if t.size < 3 or t[-1] - t[0] < seconds:
        return 0.0
    later = np.minimum(np.searchsorted(t, t + seconds), t.size - 1)
    span = t[later] - t
    whole = (span >= seconds) & (span < 2.0 * seconds)
    return float(np.max((h - h[later])[whole] / span[whole])) if whole.any() else 0.0


def _last_descent(time: Vector, lat: Vector, lon: Vector, z: Vector) -> tuple[float, float]:
    """Mean sink and ground speed [m/s] over the 90 s before the height comes within 30 m of the lowest after it."""
    good = np.flatnonzero(np.isfinite(z))
    h = z[good]
    above = np.flatnonzero(h - np.minimum.accumulate(h[::-1])[::-1] > 30.0)
    if above.size == 0:
        return 0.0, 0.0
    last = good[above[-1]]
    first = int(np.searchsorted(time, time[last] - 90.0))
    span = float(time[last] - time[first])
    if span < 80.0 or not np.isfinite(z[first]):
        return 0.0, 0.0
    way = distance_m(lat, lon, np.arange(first, last), np.arange(first + 1, last + 1))
    return float(z[first] - z[last]) / span, float(np.sum(way)) / span
