"""holding: the stretches between opening and pattern entry, named as the trade names them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.angles import circular_mean_deg, compass_deg, signed_difference_deg, to_vector, wind_from_deg
from analyser.flight import Trim
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["Stretch", "StretchName", "WindCheck", "every_second", "name_stretches"]

Vector = NDArray[np.float64]
StretchName = Literal[
    "wind check", "holding", "running", "crabbing across the wind line", "backing up", "spiral", "straight"
]
SMOOTH_S = 3.0
SHORTEST_FLIGHT_S = 10.0
MOST_SECONDS = 7200.0


@dataclass(frozen=True, slots=True)
class WindCheck:
    """What a wind check told the jumper, beside the wind that was there at that height.

    Told: where the nose pointed while the ground stood nearly still, and the airspeed that the sink lets expect there (brakes slow
    both together) less what ground speed was left. [m/s], [deg true].
    """

    told_speed_mps: float
    told_speed_sd_mps: float
    told_from_deg: float
    wind_speed_mps: float
    wind_speed_sd_mps: float
    wind_from_deg: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """One named stretch: track times [s], heights [m], displacement over the ground and the part the wind carried [m, east north]."""

    name: StretchName
    start_s: float
    end_s: float
    start_agl_m: float
    end_agl_m: float
    heading_deg: float | None
    ground_speed_mps: float
    moved_east_m: float
    moved_north_m: float
    drift_east_m: float
    drift_north_m: float
    turned_deg: float = 0.0
    wind_check: WindCheck | None = None

    @property
    def drift_m(self) -> float:
        """How far the wind alone carried the jumper [m]."""
        return float(np.hypot(self.drift_east_m, self.drift_north_m))


@dataclass(frozen=True, slots=True, eq=False)
class _Seconds:
    """The flight on a grid of about one second, all (m,)."""

    t: Vector
    east: Vector
    north: Vector
    agl: Vector
    v_east: Vector
    v_north: Vector
    sink: Vector
    wind_east: Vector
    wind_north: Vector
    heading: Vector
    airspeed: Vector
    rate: Vector
    known: NDArray[np.bool_]


def name_stretches(
    track: Track, start: int, stop: int, wind: WindProfile, trim: Trim, *, method: Method | None = None
) -> tuple[Stretch, ...]:
    """The named stretches of the canopy fixes ``start:stop`` (end it at the pattern entry); turns of less than a full circle stay unnamed.

    By the air heading (the wind taken out) and the ground speed: into the wind within 45° it is a wind check where the wing was
    slowed and the ground nearly stood still, backing up where the ground went backwards, else holding; with the wind running;
    between them crabbing. In light wind everything straight is just straight; where the
    wind is undetermined nothing is named.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    start, stop : int
        Range of its fixes.
    wind : WindProfile
        With its covariance.
    trim : Trim
        Of the wing, for what counts as slowed.
    method : Method, optional
        The thresholds ``holding_…`` and ``light_wind``.

    Returns
    -------
    tuple of Stretch
        In the order flown: name, times [track s], heights [m], movement over ground [m].
    """
    method = method or Method()
    flight = _grid(track, start, stop, wind)
    if flight is None:
        return ()
    labels = _labels(flight, trim, method)
    rows = []
    for label, a, b in _runs(labels, flight):
        if flight.t[b - 1] - flight.t[a] >= method.holding_shortest.value:
            rows.append(_stretch(label, a, b, flight, wind, trim, method))
    return tuple(rows)


def _grid(track: Track, start: int, stop: int, wind: WindProfile) -> _Seconds | None:
    part = slice(start, stop)
    good = np.isfinite(track.agl_m[part])
    t0 = track.t_s[part][good]
    if t0.shape[0] < 5 or t0[-1] - t0[0] < SHORTEST_FLIGHT_S:
        return None
    t = every_second(float(t0[0]), float(t0[-1]))
    rows = (track.east_m, track.north_m, track.agl_m, track.v_east, track.v_north, -track.v_up)
    east, north, agl, v_east, v_north, sink = (_smooth(t, t0, v[part][good]) for v in rows)
    wind_east, wind_north = wind.vector(agl)
    air_east, air_north = v_east - wind_east, v_north - wind_north
    heading = np.degrees(np.unwrap(np.radians(compass_deg(air_east, air_north))))
    rate = np.gradient(heading, t)
    unknown = np.array([status == "undetermined" for status in wind.status], dtype=np.float64)
    known = np.interp(agl, wind.agl_m, unknown) == 0.0
    return _Seconds(
        t,
        east,
        north,
        agl,
        v_east,
        v_north,
        sink,
        wind_east,
        wind_north,
        heading,
        np.hypot(air_east, air_north),
        rate,
        known,
    )


def every_second(first_s: float, last_s: float) -> Vector:
    """Times from ``first_s`` up to ``last_s``, a second apart; farther apart where the flight lasts for hours."""
    return np.arange(first_s, last_s, max(1.0, (last_s - first_s) / MOST_SECONDS))


def _smooth(at: Vector, t: Vector, values: Vector) -> Vector:
    """Mean over three seconds about each time, from the running integral of the linear interpolant."""
    area = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(t))])
    low, high = np.maximum(at - SMOOTH_S / 2.0, t[0]), np.minimum(at + SMOOTH_S / 2.0, t[-1])

    def integral(x: Vector) -> Vector:
        i = np.clip(np.searchsorted(t, x, side="right") - 1, 0, t.shape[0] - 2)
        step = x - t[i]
        slope = (values[i + 1] - values[i]) / (t[i + 1] - t[i])
        total: Vector = area[i] + values[i] * step + 0.5 * slope * step**2
        return total

    mean: Vector = (integral(high) - integral(low)) / np.maximum(high - low, 1e-9)
    return mean


def _labels(f: _Seconds, trim: Trim, method: Method) -> list[str]:
    up_deg = wind_from_deg(f.wind_east, f.wind_north)
    off = np.abs(signed_difference_deg(f.heading, up_deg))
    nose_east, nose_north = to_vector(1.0, f.heading)
    forward = f.v_east * nose_east + f.v_north * nose_north
    slow = f.airspeed < method.holding_slowed.value * trim.airspeed_mps * trim.factor(f.agl)
    light = np.hypot(f.wind_east, f.wind_north) < method.light_wind.value
    into = method.holding_into.value
    names: list[str] = []
    for i in range(f.t.shape[0]):
        if not f.known[i]:
            names.append("")
        elif abs(f.rate[i]) > method.turning_rate.value:
            names.append("right" if f.rate[i] > 0.0 else "left")
        elif light[i]:
            names.append("straight")
        elif off[i] <= into:
            nil = np.hypot(f.v_east[i], f.v_north[i]) < method.holding_nil.value and slow[i]
            names.append(
                "wind check"
                if nil
                else "backing up"
                if forward[i] < -method.holding_backing.value
                else "holding"
            )
        else:
            names.append("running" if off[i] >= 180.0 - into else "crabbing across the wind line")
    return names


def _runs(labels: Sequence[str], f: _Seconds) -> list[tuple[StretchName, int, int]]:
    """Runs of one label; turns become spirals where they add up to a full circle, and are dropped otherwise."""
    runs: list[tuple[str, int, int]] = []
    for i, label in enumerate(labels):
        if runs and runs[-1][0] == label:
            runs[-1] = (label, runs[-1][1], i + 1)
        elif len(runs) > 1 and runs[-2][0] == label and i - runs[-1][1] <= 2:
            runs[-2:] = [(label, runs[-2][1], i + 1)]
        else:
            runs.append((label, i, i + 1))
    named: list[tuple[StretchName, int, int]] = []
    for label, a, b in runs:
        if label in ("left", "right"):
            if abs(f.heading[b - 1] - f.heading[a]) >= 300.0:
                named.append(("spiral", a, b))
        elif label:
            named.append((label, a, b))  # type: ignore[arg-type]
    return named


def _stretch(
    name: StretchName, a: int, b: int, f: _Seconds, wind: WindProfile, trim: Trim, method: Method
) -> Stretch:
    t = f.t[a:b]
    moved = float(f.east[b - 1] - f.east[a]), float(f.north[b - 1] - f.north[a])
    drift = float(np.trapezoid(f.wind_east[a:b], t)), float(np.trapezoid(f.wind_north[a:b], t))
    return Stretch(
        name,
        float(t[0]),
        float(t[-1]),
        float(f.agl[a]),
        float(f.agl[b - 1]),
        None if name == "spiral" else circular_mean_deg(f.heading[a:b]),
        float(np.mean(np.hypot(f.v_east[a:b], f.v_north[a:b]))),
        *moved,
        *drift,
        turned_deg=float(f.heading[b - 1] - f.heading[a]),
        wind_check=_check(f, a, b, wind, trim, method) if name == "wind check" else None,
    )


def _check(f: _Seconds, a: int, b: int, wind: WindProfile, trim: Trim, method: Method) -> WindCheck:
    slope, slope_sd = method.wind_check_brake_slope.value, method.wind_check_brake_slope_sd.value
    agl = float(np.mean(f.agl[a:b]))
    at = wind.at(agl)
    heading = circular_mean_deg(f.heading[a:b])
    nose_east, nose_north = to_vector(1.0, heading)
    forward = float(np.mean(f.v_east[a:b] * nose_east + f.v_north[a:b] * nose_north))
    factor = float(trim.factor(agl))
    loss = 1.0 - float(np.mean(f.sink[a:b])) / (trim.sink_mps * factor)
    full = trim.airspeed_mps * factor
    sd = np.hypot(full * slope_sd * loss, trim.airspeed_sd_mps * factor)
    return WindCheck(
        told_speed_mps=full * (1.0 - slope * loss) - forward,
        told_speed_sd_mps=float(sd),
        told_from_deg=heading,
        wind_speed_mps=at.speed,
        wind_speed_sd_mps=at.worst_sd,
        wind_from_deg=at.from_deg,
    )
