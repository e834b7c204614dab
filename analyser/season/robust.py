"""Robust levels, differences, change points and lines for small samples: arrays in, numbers with errors out.

Where scipy.stats has the method it is scipy's; the error of a trimmed mean and of a difference of two, Pettitt's change point,
Klotz's scores, Holm's steps and the robust line with its error are ours, for scipy has none of them.

Sources: trimmed mean with winsorised variance: Tukey & McLaughlin, Sankhya A 25 (1963) 331; two samples: Yuen,
Biometrika 61 (1974) 165; their tests by ranks: Wilcoxon, Biometrics
Bulletin 1 (1945) 80; change point: Pettitt, Applied Statistics 28 (1979) 126; scatter: Klotz, Ann. Math. Statist. 33
(1962) 498; several tests: Holm, Scand. J. Statist.
6 (1979) 65; share: Wilson, JASA 22 (1927) 209; robust line: Huber, Ann. Math. Statist. 35 (1964) 73, with errors that
allow unequal scatter: MacKinnon & White, J. Econometrics 29 (1985) 305 (HC3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ChangePoint",
    "Level",
    "Line",
    "change_point",
    "difference",
    "half_95",
    "holm",
    "level",
    "line",
    "p_difference",
    "p_level",
    "quantile_interval",
    "robust_sd",
    "share_interval",
    "size_scores",
]

Vector = NDArray[np.float64]
TRIM: Final = 0.2
HUBER_K: Final = 1.345  # 95 % efficiency for normal errors
NORMAL_975: Final = 1.959964  # 97.5 % quantile of the normal law


@dataclass(frozen=True, slots=True)
class Level:
    """A level (or a difference of two) with its standard error, degrees of freedom and number of values."""

    value: float
    se: float
    df: float
    n: int

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Two-sided interval by Student's t."""
        half = t_quantile(0.5 + confidence / 2.0, self.df) * self.se
        return self.value - half, self.value + half

    @property
    def half(self) -> float:
        """Half of the 95 % interval: what is printed behind ±."""
        return t_quantile(0.975, self.df) * self.se


@overload
def half_95(sd: float) -> float: ...
@overload
def half_95(sd: None) -> None: ...
@overload
def half_95(sd: float | None) -> float | None: ...
def half_95(sd: float | None) -> float | None:
    """Half of the 95 % interval of one estimate with this standard deviation: what is printed behind ± wherever many jumps are told of.

    >>> half_95(3.0)
    5.879892
    """
    return None if sd is None else NORMAL_975 * sd


def _finite(values: ArrayLike) -> Vector:
    x = np.asarray(values, dtype=np.float64)
    return x[np.isfinite(x)]


def level(values: ArrayLike) -> Level:
    """20 % trimmed mean of at least five values (NaN left out), with the error its winsorised variance gives.

    Raises ValueError below five values.
    """
    from scipy.stats import trim_mean

    x = np.sort(_finite(values))
    n = x.size
    if n < 5:
        raise ValueError(f"a robust level needs five values, got {n}")
    g = int(TRIM * n)
    h = n - 2 * g
    winsorised = np.clip(x, x[g], x[n - 1 - g])
    variance = float(np.var(winsorised, ddof=1)) * (n - 1) / (h * (h - 1))
    return Level(float(trim_mean(x, TRIM)), math.sqrt(variance), float(h - 1), n)


def difference(first: ArrayLike, second: ArrayLike) -> Level:
    """Trimmed mean of ``second`` minus that of ``first``; scatter may differ (Yuen–Welch)."""
    a, b = level(first), level(second)
    va, vb = a.se**2, b.se**2
    if va + vb == 0.0:
        return Level(b.value - a.value, 0.0, a.df + b.df, a.n + b.n)
    df = (va + vb) ** 2 / (va**2 / a.df + vb**2 / b.df)
    return Level(b.value - a.value, math.sqrt(va + vb), df, a.n + b.n)


def p_level(values: ArrayLike, margin: float) -> float:
    """Two-sided p value against "the level lies within ±margin": signed ranks beyond the margin, normal approximation."""
    from scipy.stats import wilcoxon

    x = _finite(values)
    side = math.copysign(1.0, float(np.median(x)))
    beyond = side * x - margin
    if not np.any(beyond):
        return 1.0
    found = wilcoxon(beyond, alternative="greater", method="approx", correction=True)
    return min(1.0, 2.0 * float(found.pvalue))


def p_difference(first: ArrayLike, second: ArrayLike, margin: float) -> float:
    """Two-sided p value against "the levels differ by at most ``margin``": rank sums, normal approximation."""
    from scipy.stats import mannwhitneyu

    a, b = _finite(first), _finite(second)
    side = math.copysign(1.0, float(np.median(b) - np.median(a)))
    found = mannwhitneyu(side * b - margin, side * a, alternative="greater", method="asymptotic")
    return min(1.0, 2.0 * float(found.pvalue))


def t_quantile(p: float, df: float) -> float:
    """Quantile of Student's t."""
    from scipy.special import stdtrit  # only a season needs it; 0.1 s that a single debrief need not pay

    return float(stdtrit(df, p))


def robust_sd(values: ArrayLike) -> float:
    """1.4826… × median absolute deviation: the standard deviation of a normal sample, deaf to outliers; NaN if empty."""
    from scipy.stats import median_abs_deviation

    x = _finite(values)
    return float(median_abs_deviation(x, scale="normal")) if x.size else math.nan


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """The first index of the later part, Pettitt's p value, and the difference later minus earlier."""

    index: int
    p: float
    step: Level


def change_point(values: ArrayLike, least: int = 5) -> ChangePoint | None:
    """Where an ordered series most likely changed its level; None where it is shorter than twice ``least``.

    Pettitt's rank test with its printed approximation p = 2 exp(-6 K² / (n³ + n²)), which errs to the safe side for
    small n. The step is that of the split found, so it tends to be a little too large.
    """
    from scipy.stats import rankdata

    x = _finite(values)
    n = x.size
    if n < 2 * least:
        return None
    ranks = rankdata(x)
    k = np.arange(1, n)
    u = 2.0 * np.cumsum(ranks)[:-1] - k * (n + 1.0)
    inside = slice(least - 1, n - least)
    best = least - 1 + int(np.argmax(np.abs(u[inside])))
    peak = abs(float(u[best]))
    p = min(1.0, 2.0 * math.exp(-6.0 * peak**2 / (n**3 + n**2)))
    index = best + 1
    return ChangePoint(index, p, difference(x[:index], x[index:]))


def size_scores(values: ArrayLike) -> Vector:
    """Klotz's scores of the sizes of ``values``: ranks turned into squared normal quantiles, so that no outlier counts much.

    The correlation of such scores with the order of the jumps has variance 1 / (n - 1) where the scatter does not change.
    """
    from scipy.stats import norm, rankdata

    ranks = rankdata(np.abs(np.asarray(values, dtype=np.float64)))
    return np.asarray(norm.ppf(0.5 + 0.5 * ranks / (ranks.size + 1.0)) ** 2, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope · x; the slope as a Level."""

    intercept: float
    slope: Level


def line(x: ArrayLike, y: ArrayLike) -> Line | None:
    """Huber's robust line with HC3 errors; None where x does not vary or there are fewer than five points."""
    a, b = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    n = a.size
    if n < 5 or float(np.ptp(a)) < 1e-9:
        return None
    design = np.column_stack([np.ones(n), a])
    weights = np.ones(n)
    beta = np.zeros(2)
    for _ in range(50):
        root = np.sqrt(weights)
        new = np.linalg.lstsq(design * root[:, None], b * root, rcond=None)[0]
        rest = b - design @ new
        scale = max(robust_sd(rest), 1e-9)
        weights = np.minimum(1.0, HUBER_K * scale / np.maximum(np.abs(rest), 1e-12))
        done = bool(np.allclose(new, beta, rtol=1e-8, atol=1e-10))
        beta = new
        if done:
            break
    inner = np.where(weights >= 1.0, 1.0, 0.0)  # the derivative of Huber's psi
    inverse = np.linalg.pinv(design.T @ (design * inner[:, None]))
    leverage = np.clip(np.einsum("ij,jk,ik->i", design, inverse, design) * inner, 0.0, 0.9)
    score = design * (weights * (b - design @ beta) / (1.0 - leverage))[:, None]
    covariance = inverse @ (score.T @ score) @ inverse
    return Line(float(beta[0]), Level(float(beta[1]), math.sqrt(float(covariance[1, 1])), n - 2.0, n))


def holm(p: ArrayLike) -> Vector:
    """Holm's adjusted p values: those below α hold together with a probability of error of at most α in all."""
    values = np.asarray(p, dtype=np.float64)
    n = values.size
    order = np.argsort(values, kind="stable")
    steps = np.maximum.accumulate(values[order] * np.arange(n, 0, -1))
    adjusted = np.empty(n)
    adjusted[order] = np.minimum(steps, 1.0)
    return adjusted


def share_interval(hits: int, n: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    from scipy.stats import binomtest

    if n == 0:
        return 0.0, 1.0
    found = binomtest(hits, n).proportion_ci(method="wilson")
    return float(found.low), float(found.high)


def quantile_interval(values: ArrayLike, q: float, *, draws: int = 1000) -> tuple[float, float, float]:
    """A quantile with its 95 % bootstrap interval (percentiles; a fixed seed, so that equal data give equal numbers)."""
    from scipy.stats import bootstrap

    x = np.sort(_finite(values))

    def quantile(sample: Vector, axis: int = -1) -> Vector:
        return np.asarray(np.quantile(sample, q, axis=axis))

    found = bootstrap(
        (x,),
        quantile,
        n_resamples=max(200, min(draws, 20_000_000 // max(x.size, 1))),
        batch=max(1, 500_000 // max(x.size, 1)),
        method="percentile",
        random_state=np.random.default_rng(x.size),
    ).confidence_interval
    return float(np.quantile(x, q)), float(found.low), float(found.high)
