"""WindProfile: wind by height with its joint covariance; true, recovered and forecast winds alike.

Vectors are the velocity of the air, *to* which it goes (east, north).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.angles import wind_from_deg, wind_vector

__all__ = ["WindAt", "WindProfile", "WindStatus"]

WindStatus = Literal["measured", "bridged", "undetermined"]
Vector = NDArray[np.float64]
CALM_MPS = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class WindAt:
    """The wind at one height: ``east``, ``north`` [m/s], ``covariance`` (2, 2) [m²/s²], status and reason."""

    agl_m: float
    east: float
    north: float
    covariance: Vector
    status: WindStatus
    reason: str

    @property
    def speed(self) -> float:
        """Wind speed [m/s]."""
        return float(np.hypot(self.east, self.north))

    @property
    def from_deg(self) -> float:
        """Where the wind comes from [deg true]."""
        return float(wind_from_deg(self.east, self.north))

    @property
    def speed_sd(self) -> float:
        """Standard deviation of the speed [m/s], from the error along the wind; in no wind that of the worst axis."""
        if self.speed < 1e-6:
            return self.worst_sd
        along = np.array([self.east, self.north]) / self.speed
        return float(np.sqrt(max(float(along @ self.covariance @ along), 0.0)))

    @property
    def from_sd_deg(self) -> float | None:
        """Standard deviation of the direction [deg], from the error across the wind; None where the wind is nearly calm."""
        if self.speed < CALM_MPS:
            return None
        across = np.array([-self.north, self.east]) / self.speed
        return math.degrees(math.sqrt(max(float(across @ self.covariance @ across), 0.0)) / self.speed)

    @property
    def worst_sd(self) -> float:
        """Standard deviation along the worst axis [m/s]."""
        return float(np.sqrt(max(np.linalg.eigvalsh(self.covariance)[-1], 0.0)))


@dataclass(frozen=True, slots=True, eq=False)
class WindProfile:
    """Piecewise linear wind on ``k`` heights above the landing area, with its joint covariance.

    Parameters
    ----------
    agl_m : ndarray, shape (k,)
        Heights [m], increasing. Beyond the first and last the nearest value holds.
    east, north : ndarray, shape (k,)
        Where the air goes [m/s].
    covariance : ndarray, shape (2k, 2k)
        Of (east_0…east_k-1, north_0…north_k-1) [m²/s²].
    status : tuple of str
        "measured", "bridged" or "undetermined", per height.
    reason : tuple of str
        Why, where undetermined.

    Raises
    ------
    ValueError
        For shapes that do not fit or heights that do not increase.

    Examples
    --------
    >>> forecast = WindProfile.from_points([(0, 4, 270), (300, 8, 270)])
    >>> round(forecast.at(150).speed, 3), round(forecast.at(150).from_deg, 1)
    (6.0, 270.0)
    """

    agl_m: Vector
    east: Vector
    north: Vector
    covariance: Vector
    status: tuple[WindStatus, ...]
    reason: tuple[str, ...]

    def __repr__(self) -> str:
        """One line."""
        told = ", ".join(f"{self.status.count(s)} {s}" for s in dict.fromkeys(self.status))
        return f"<WindProfile of {len(self.status)} heights from {self.agl_m[0]:.0f} to {self.agl_m[-1]:.0f} m: {told}>"

    def __post_init__(self) -> None:
        k = self.agl_m.shape[0]
        if self.east.shape != (k,) or self.north.shape != (k,) or self.covariance.shape != (2 * k, 2 * k):
            raise ValueError(
                f"a profile of {k} heights needs ({k},) winds and a ({2 * k}, {2 * k}) covariance"
            )
        if len(self.status) != k or len(self.reason) != k:
            raise ValueError(f"a profile of {k} heights needs {k} status and reason entries")
        if k == 0 or (k > 1 and not bool(np.all(np.diff(self.agl_m) > 0))):
            raise ValueError("the heights of a profile must increase strictly")
        for values in (self.agl_m, self.east, self.north, self.covariance):
            values.setflags(write=False)

    @classmethod
    def from_points(cls, points: Iterable[tuple[float, float, float]], sd_mps: float = 0.0) -> WindProfile:
        """A profile from single winds, such as a forecast.

        Parameters
        ----------
        points : iterable of tuple
            (height [m], speed [m/s], from [deg true]) in any order.
        sd_mps : float
            Standard deviation of each component [m/s], independent of the others.

        Returns
        -------
        WindProfile

        Examples
        --------
        >>> WindProfile.from_points([(0, 5, 90)]).vector(100.0)[0].round(6).item()
        -5.0
        """
        rows = sorted(points)
        agl = np.array([r[0] for r in rows], dtype=np.float64)
        east, north = wind_vector([r[1] for r in rows], [r[2] for r in rows])
        k = agl.shape[0]
        return cls(agl, east, north, np.eye(2 * k) * sd_mps**2, ("measured",) * k, ("",) * k)

    def _weights(self, agl_m: ArrayLike) -> Vector:
        h = np.atleast_1d(np.asarray(agl_m, dtype=np.float64))
        k = self.agl_m.shape[0]
        weights = np.zeros((h.shape[0], k))
        if k == 1:
            weights[:, 0] = 1.0
            return weights
        i = np.clip(np.searchsorted(self.agl_m, h, side="right") - 1, 0, k - 2)
        f = np.clip((h - self.agl_m[i]) / (self.agl_m[i + 1] - self.agl_m[i]), 0.0, 1.0)
        rows = np.arange(h.shape[0])
        weights[rows, i] = 1.0 - f
        weights[rows, i + 1] += f
        return weights

    def weights(self, agl_m: float) -> Vector:
        """How much each height of the profile counts (k,) for the wind at ``agl_m``; adds up to 1."""
        row: Vector = self._weights(agl_m)[0]
        return row

    def vector(self, agl_m: ArrayLike) -> tuple[Vector, Vector]:
        """The wind at many heights.

        Parameters
        ----------
        agl_m : array_like
            Heights [m] of any shape.

        Returns
        -------
        tuple of ndarray
            East and north velocity of the air [m/s], of the same shape.

        Examples
        --------
        >>> east, north = WindProfile.from_points([(0, 5, 180)]).vector([0.0, 50.0])
        >>> north.tolist()
        [5.0, 5.0]
        """
        h = np.asarray(agl_m, dtype=np.float64)
        return np.interp(h, self.agl_m, self.east), np.interp(h, self.agl_m, self.north)

    def at(self, agl_m: float) -> WindAt:
        """The wind at one height.

        Parameters
        ----------
        agl_m : float
            Height [m]; NaN is undetermined.

        Returns
        -------
        WindAt
            ``east``, ``north``, ``speed`` [m/s], ``from_deg``, ``covariance`` (2, 2) [m²/s²], ``status`` and ``reason``, of which
            the worse of the two neighbours rules.

        Examples
        --------
        >>> WindProfile.from_points([(0, 5, 180)], sd_mps=0.5).at(20.0).worst_sd
        0.5
        """
        if not np.isfinite(agl_m):
            none = np.full((2, 2), np.nan)
            return WindAt(np.nan, np.nan, np.nan, none, "undetermined", "the height is not known")
        weights = self._weights(agl_m)[0]
        k = self.agl_m.shape[0]
        w2 = np.zeros((2, 2 * k))
        w2[0, :k], w2[1, k:] = weights, weights
        used = [i for i in range(k) if weights[i] > 1e-9]
        order = ("measured", "bridged", "undetermined")
        worst = max(used, key=lambda i: order.index(self.status[i]))
        return WindAt(
            float(agl_m),
            float(weights @ self.east),
            float(weights @ self.north),
            w2 @ self.covariance @ w2.T,
            self.status[worst],
            self.reason[worst],
        )

    def mean_below(self, top_m: float) -> tuple[float, float] | None:
        """Mean of the determined winds from the ground up to a height.

        Parameters
        ----------
        top_m : float
            Above the landing area [m].

        Returns
        -------
        tuple of float or None
            Toward east and north [m/s]; None where no wind is determined.

        Examples
        --------
        >>> wind = WindProfile.from_points([(0.0, 4.0, 270.0), (300.0, 8.0, 270.0)])
        >>> round(wind.mean_below(300.0)[0], 1)
        6.0
        """
        use = (self.agl_m <= top_m + 1e-6) & np.array([s != "undetermined" for s in self.status])
        return (float(self.east[use].mean()), float(self.north[use].mean())) if use.any() else None

    def mixed(self, other: WindProfile, share: float) -> WindProfile:
        """One of two profiles is right, and which is not known: mean and covariance of the mixture.

        Parameters
        ----------
        other : WindProfile
            On whatever heights; the mixture stands on those of both.
        share : float
            Probability of ``other`` [1].

        Returns
        -------
        WindProfile
            The covariance holds the difference of the two as well (law of total covariance); of two states the worse rules.

        Examples
        --------
        >>> calm, windy = (WindProfile.from_points([(0.0, v, 270.0)], sd_mps=1.0) for v in (2.0, 6.0))
        >>> even = calm.mixed(windy, 0.5)
        >>> even.east.round(6).tolist(), even.covariance[0, 0].round(6).item()
        ([4.0], 5.0)
        """
        agl = np.union1d(self.agl_m, other.agl_m)
        (mean, covariance), (mean_2, covariance_2) = self._on(agl), other._on(agl)
        apart = mean_2 - mean
        both = (1.0 - share) * covariance + share * covariance_2
        both = both + share * (1.0 - share) * np.outer(apart, apart)
        middle = mean + share * apart
        order = ("measured", "bridged", "undetermined")
        worst = [max(self.at(h), other.at(h), key=lambda w: order.index(w.status)) for h in agl]
        k = agl.shape[0]
        return WindProfile(
            agl, middle[:k], middle[k:], both, tuple(w.status for w in worst), tuple(w.reason for w in worst)
        )

    def _on(self, agl_m: Vector) -> tuple[Vector, Vector]:
        """Mean (2n,) and covariance (2n, 2n) on other heights."""
        rows = np.kron(np.eye(2), self._weights(agl_m))
        return rows @ np.concatenate([self.east, self.north]), rows @ self.covariance @ rows.T

    def draw(self, rng: np.random.Generator, n: int) -> tuple[Vector, Vector]:
        """``n`` random profiles from mean and covariance: east (n, k), north (n, k)."""
        k = self.agl_m.shape[0]
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        sample = np.concatenate([self.east, self.north]) + rng.standard_normal((n, 2 * k)) @ root.T
        return sample[:, :k], sample[:, k:]
