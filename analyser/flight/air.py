"""Air: ``n`` versions of wind and trim, as every flight takes them; the steady turn, and what is known of the wind."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.atmosphere import G_MPS2, true_airspeed_factor
from analyser.wind.profile import WindProfile

__all__ = ["Air", "Trim", "turn_figures", "wind_known", "wind_over_airspeed"]

Vector = NDArray[np.float64]

KNOWN_HEIGHTS = 13


@dataclass(frozen=True, slots=True)
class Trim:
    """Full-flight trim at sea-level density: horizontal airspeed and sink [m/s], usual bank in pattern turns [deg], field elevation [m].

    ``roll_lag_s``: how late the bank answers the toggles (first order; ours, about what a wing takes). ``standard_air`` False: the speeds hold at every height, as the tables of the handbooks take them.
    ``airspeed_wind`` (2k,) covariance of the airspeed with the wind (east…, north…) found with it [m²/s²]; empty: independent.
    """

    airspeed_mps: float
    sink_mps: float
    bank_deg: float = 30.0
    elevation_m: float = 0.0
    airspeed_sd_mps: float = 0.0
    sink_sd_mps: float = 0.0
    standard_air: bool = True
    roll_lag_s: float = 0.5
    airspeed_wind: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not (self.airspeed_mps > 0.0 and self.sink_mps > 0.0 and 0.0 < self.bank_deg < 80.0):
            raise ValueError(
                f"a trim needs airspeed and sink above 0 and a bank between 0 and 80°, got {self.airspeed_mps} m/s, "
                f"{self.sink_mps} m/s, {self.bank_deg}°"
            )

    @property
    def glide(self) -> float:
        """Horizontal over vertical speed in still air."""
        return self.airspeed_mps / self.sink_mps

    def factor(self, agl_m: ArrayLike) -> Vector:
        """True airspeed (and sink) over its sea-level value, at heights above the landing area."""
        h = np.asarray(agl_m, dtype=np.float64)
        return true_airspeed_factor(h + self.elevation_m) if self.standard_air else np.ones_like(h)


def turn_figures(airspeed: ArrayLike, sink: ArrayLike, bank_deg: ArrayLike) -> tuple[Vector, Vector, Vector]:
    """Horizontal airspeed, sink [m/s] and rate of turn [deg/s] of a steady turn, from straight-flight airspeed and sink.

    Steady gliding turn, no sideslip, constant lift coefficient: tan γ = tan γ0 / cos φ, V² = V0² cos γ / (cos γ0 cos φ),
    ω = g tan φ / V (V the speed along the flight path).
    """
    v_h, s = np.asarray(airspeed, dtype=np.float64), np.asarray(sink, dtype=np.float64)
    bank = np.radians(np.asarray(bank_deg, dtype=np.float64))
    gamma0, v0 = np.arctan2(s, v_h), np.hypot(v_h, s)
    gamma = np.arctan(np.tan(gamma0) / np.cos(bank))
    v = v0 * np.sqrt(np.cos(gamma) / (np.cos(gamma0) * np.cos(bank)))
    return v * np.cos(gamma), v * np.sin(gamma), np.degrees(G_MPS2 * np.tan(bank) / v)


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """``n`` versions of the air and of the trim: winds ``east``, ``north`` (n, k) on heights ``agl_m`` (k,), speeds (n,)."""

    trim: Trim
    agl_m: Vector
    east: Vector
    north: Vector
    airspeed: Vector
    sink: Vector

    @classmethod
    def still(cls, trim: Trim, wind: WindProfile, n: int = 1) -> Air:
        """``n`` times the mean wind and trim."""
        k = wind.agl_m.shape[0]
        east, north = np.broadcast_to(wind.east, (n, k)), np.broadcast_to(wind.north, (n, k))
        return cls(trim, wind.agl_m, east, north, np.full(n, trim.airspeed_mps), np.full(n, trim.sink_mps))

    @classmethod
    def drawn(
        cls, trim: Trim, wind: WindProfile, rng: np.random.Generator, n: int, *, central: bool = False
    ) -> Air:
        """``n`` draws from the covariance of the wind and the errors of the trim speeds; ``central`` puts the means before them.

        Wind and airspeed are drawn together where the trim says how they hang together at the heights of ``wind``.
        """
        east, north, v = _wind_and_airspeed(trim, wind, rng, n)
        s = trim.sink_mps + trim.sink_sd_mps * rng.standard_normal(n)
        v, s = np.maximum(v, 0.3 * trim.airspeed_mps), np.maximum(s, 0.3 * trim.sink_mps)
        if central:
            east, north = np.vstack([wind.east, east]), np.vstack([wind.north, north])
            v, s = np.append(trim.airspeed_mps, v), np.append(trim.sink_mps, s)
        return cls(trim, wind.agl_m, east, north, v, s)

    def repeat(self, n: int) -> Air:
        """The first version ``n`` times."""
        rows = np.zeros(n, dtype=np.intp)
        return Air(
            self.trim, self.agl_m, self.east[rows], self.north[rows], self.airspeed[rows], self.sink[rows]
        )

    def with_speeds(self, airspeed_mps: float, sink_mps: float) -> Air:
        """The same winds with one trim for all versions (sea-level speeds)."""
        n = len(self)
        return replace(self, airspeed=np.full(n, airspeed_mps), sink=np.full(n, sink_mps))

    def with_wind(self, wind: WindProfile) -> Air:
        """The same trims in one wind."""
        shape = (len(self), wind.agl_m.shape[0])
        east, north = np.broadcast_to(wind.east, shape), np.broadcast_to(wind.north, shape)
        return replace(self, agl_m=wind.agl_m, east=east, north=north)

    def __len__(self) -> int:
        return int(self.airspeed.shape[0])

    def wind(self, agl_m: Vector) -> tuple[Vector, Vector]:
        """East and north wind [m/s] at heights (n, m): linear between the heights of the profile, constant beyond."""
        k = self.agl_m.shape[0]
        if k == 1:
            return np.broadcast_to(self.east, agl_m.shape), np.broadcast_to(self.north, agl_m.shape)
        i = np.clip(np.searchsorted(self.agl_m, agl_m, side="right") - 1, 0, k - 2)
        f = np.clip((agl_m - self.agl_m[i]) / (self.agl_m[i + 1] - self.agl_m[i]), 0.0, 1.0)
        first = k * np.arange(self.east.shape[0])[:, None] + i

        def at(values: Vector) -> Vector:
            low, high = (values.reshape(-1).take(first + more) for more in (0, 1))
            return np.asarray(low + f * (high - low))

        return at(self.east), at(self.north)

    def holding(
        self, track_deg: Vector, agl_m: Vector, off_deg: Vector | float = 0.0
    ) -> tuple[Vector, Vector, Vector]:
        """Heading [deg], and ground velocity along and across (right of) the track [m/s], at heights (n, m).

        The nose crabs into the wind so that the track is held; where the cross wind is stronger than the airspeed the nose
        points straight into it and the rest is drift. ``off_deg``: so far right of that heading instead.
        """
        v = self.airspeed[:, None] * self.trim.factor(agl_m)
        east, north = self.wind(agl_m)
        sin, cos = np.sin(np.radians(track_deg)), np.cos(np.radians(track_deg))
        cross, along = east * cos - north * sin, east * sin + north * cos
        sine = np.clip(-cross / v, -1.0, 1.0)
        crab = np.arcsin(sine) + np.radians(off_deg)
        return track_deg + np.degrees(crab), v * np.cos(crab) + along, v * np.sin(crab) + cross


def _wind_and_airspeed(
    trim: Trim, wind: WindProfile, rng: np.random.Generator, n: int
) -> tuple[Vector, Vector, Vector]:
    """Drawn winds (n, k) and airspeeds (n,): normal, with the covariance of the two where it is known."""
    k = wind.agl_m.shape[0]
    if len(trim.airspeed_wind) != 2 * k:
        east, north = wind.draw(rng, n)
        return east, north, trim.airspeed_mps + trim.airspeed_sd_mps * rng.standard_normal(n)
    joint = np.empty((2 * k + 1, 2 * k + 1))
    joint[:-1, :-1], joint[-1, -1] = wind.covariance, trim.airspeed_sd_mps**2
    joint[-1, :-1] = joint[:-1, -1] = trim.airspeed_wind
    values, vectors = np.linalg.eigh(joint)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    mean = np.concatenate([wind.east, wind.north, [trim.airspeed_mps]])
    sample = mean + rng.standard_normal((n, 2 * k + 1)) @ root.T
    return sample[:, :k], sample[:, k : 2 * k], sample[:, -1]


def wind_over_airspeed(trim: Trim, wind: WindProfile, top_m: float) -> tuple[float, float]:
    """The largest share of the canopy's airspeed that the wind reaches between the ground and ``top_m``, where it is known.

    Returns the share and its standard deviation, from the errors of the wind along itself and of the airspeed; (0, 0) in no known wind.
    """
    best = (0.0, 0.0)
    for height in np.linspace(0.0, top_m, 21):
        here = wind.at(float(height))
        airspeed = trim.airspeed_mps * float(trim.factor(height))
        if here.status != "undetermined" and here.speed / airspeed > best[0]:
            share = here.speed / airspeed
            best = (
                share,
                math.hypot(here.speed_sd / airspeed, share * trim.airspeed_sd_mps / trim.airspeed_mps),
            )
    return best


def wind_known(wind: WindProfile, top_m: float, bottom_m: float = 0.0) -> bool:
    """Whether the wind is determined at half or more of the heights between ``bottom_m`` and ``top_m`` [m]."""
    heights = np.linspace(bottom_m, max(top_m, bottom_m), KNOWN_HEIGHTS)
    return sum(wind.at(float(h)).status != "undetermined" for h in heights) >= KNOWN_HEIGHTS / 2.0
