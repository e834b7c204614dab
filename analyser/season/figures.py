"""What a group of jumps looks like, without judgement: accuracy, levels by condition, gates, causes, trim, currency."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from analyser.logbook.jump_columns import CAUSES
from analyser.pattern import LEG_NAMES
from analyser.season.jumps import Jumps
from analyser.season.pooling import Pooled, pool
from analyser.season.robust import (
    Level,
    Line,
    level,
    line,
    quantile_interval,
    robust_sd,
    share_interval,
)
from analyser.units import FOOT_M, KNOT_MPS

__all__ = [
    "LEAST",
    "WIND_EDGES_MPS",
    "Accuracy",
    "Band",
    "Currency",
    "GateFigures",
    "Share",
    "TurnHeight",
    "accuracy",
    "by_condition",
    "causes",
    "currency",
    "gates",
    "rolling",
    "trim",
    "turn_height",
]

LEAST: Final = 10  # jumps below which nothing is said: common practice for regressions over jumps, no source
LEAST_R95: Final = 20  # ours: below it the 95th percentile is little more than the worst jump
WIND_EDGES_MPS: Final = tuple(kt * KNOT_MPS for kt in (0.0, 5.0, 10.0, 15.0))
RINGS_M: Final = (100.0, 50.0, 20.0, 10.0)  # published accuracy standards not finer than a receiver can tell
HEIGHT_EDGE_M: Final = 25.0 * FOOT_M  # ours: a turn this near its planned height counts as on it


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Offsets from the target [m]: levels (bias) and robust spreads along and across, radii with 95 % intervals, shares.

    ``r50``, ``r95`` about the target; ``own_r50`` about the group's own centre (precision). ``shares``: ring radius →
    (share, low, high).
    """

    n: int
    along: Level
    across: Level
    along_sd: float
    across_sd: float
    correlation: float
    r50: tuple[float, float, float]
    r95: tuple[float, float, float] | None
    own_r50: tuple[float, float, float]
    shares: dict[float, tuple[float, float, float]]


def _offsets(jumps: Jumps) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    good = np.isfinite(jumps["along_m"]) & np.isfinite(jumps["across_m"])
    return jumps["along_m"][good], jumps["across_m"][good]


def accuracy(jumps: Jumps) -> Accuracy | None:
    """Bias, spread and radii; None below ten jumps with a target."""
    along, across = _offsets(jumps)
    n = along.size
    if n < LEAST:
        return None
    radius = np.hypot(along, across)
    a, c = level(along), level(across)
    own = np.hypot(along - a.value, across - c.value)
    shares = {}
    for ring in RINGS_M:
        hits = int(np.sum(radius <= ring))
        shares[ring] = (hits / n, *share_interval(hits, n))
    return Accuracy(
        n,
        a,
        c,
        robust_sd(along),
        robust_sd(across),
        _correlation(along, across),
        quantile_interval(radius, 0.5),
        quantile_interval(radius, 0.95) if n >= LEAST_R95 else None,
        quantile_interval(own, 0.5),
        shares,
    )


def _correlation(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Correlation by signs about the medians (quadrant correlation), mapped to that of a normal sample."""
    signs = np.sign(x - np.median(x)) * np.sign(y - np.median(y))
    return float(np.clip(math.sin(math.pi / 2.0 * float(np.mean(signs))), -0.98, 0.98))


@dataclass(frozen=True, slots=True)
class Band:
    """Jumps of one condition: its name, how many, and level and spread along and across where there are ten or more."""

    name: str
    low: float | None
    high: float | None
    n: int
    along: Level | None
    across: Level | None
    along_sd: float | None


def _band(name: str, jumps: Jumps, low: float | None = None, high: float | None = None) -> Band:
    along, across = _offsets(jumps)
    if along.size < LEAST:
        return Band(name, low, high, int(along.size), None, None, None)
    return Band(name, low, high, int(along.size), level(along), level(across), robust_sd(along))


def by_condition(jumps: Jumps) -> dict[str, tuple[Band, ...]]:
    """Levels by wind band, hand, site and height of the turn to final; conditions nobody met are left out."""
    found: dict[str, list[Band]] = {"wind": [], "hand": [], "site": [], "final turn": []}
    edges = (*WIND_EDGES_MPS, math.inf)
    wind = jumps["wind_speed_mps"]
    for low, high in pairwise(edges):
        part = jumps.where((wind >= low) & (wind < high))
        found["wind"].append(_band("wind", part, low, high if math.isfinite(high) else None))
    for hand in ("left", "right"):
        found["hand"].append(_band(hand, jumps.where(jumps.is_text("hand", hand))))
    for site in sorted({s for s in jumps.text["site"] if s is not None}):
        found["site"].append(_band(site, jumps.where(jumps.is_text("site", site))))
    error = jumps["final_agl_error_m"]
    found["final turn"] = [
        _band("lower than planned", jumps.where(error < -HEIGHT_EDGE_M)),
        _band("as planned", jumps.where(np.abs(error) <= HEIGHT_EDGE_M)),
        _band("higher than planned", jumps.where(error > HEIGHT_EDGE_M)),
    ]
    return {name: tuple(b for b in bands if b.n) for name, bands in found.items()}


@dataclass(frozen=True, slots=True)
class GateFigures:
    """Height of one turn: flown minus planned [m], its robust spread, and how well one height is measured."""

    gate: str
    n: int
    error: Level | None
    spread: float | None
    measured_sd: float | None
    planned_m: float | None


def gates(jumps: Jumps) -> tuple[GateFigures, ...]:
    """Turn heights against the plan, for the gates that were planned and flown."""
    rows = []
    for gate in LEG_NAMES:
        error = jumps[f"{gate}_agl_error_m"]
        good = np.isfinite(error)
        n = int(np.sum(good))
        if n == 0:
            continue
        sd = jumps[f"{gate}_turn_agl_sd_m"][good]
        planned = jumps[f"{gate}_planned_agl_m"][good]
        known = bool(np.any(np.isfinite(sd)))
        rows.append(
            GateFigures(
                gate,
                n,
                level(error) if n >= LEAST else None,
                robust_sd(error) if n >= LEAST else None,
                float(np.nanmedian(sd)) if known else None,
                float(np.nanmedian(planned)) if bool(np.any(np.isfinite(planned))) else None,
            )
        )
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class Share:
    """A cause of the miss: its part of all metres missed (the parts add up to 1) with a 95 % interval, its levels [m]."""

    cause: str
    part: float
    low: float
    high: float
    along: Level
    across: Level


def causes(jumps: Jumps, *, draws: int = 1000) -> tuple[Share, ...]:
    """How much of the miss each cause brought, over all jumps with a whole budget; empty below ten of them.

    The part of a cause in one jump is its projection on the miss; parts are sums of these metres over the sum of misses.
    """
    names = [f"cause_{cause.replace(' ', '_')}" for cause in CAUSES]
    along = np.array([jumps[f"{name}_along_m"] for name in names])
    across = np.array([jumps[f"{name}_across_m"] for name in names])
    good = np.all(np.isfinite(along) & np.isfinite(across), axis=0)
    along, across = along[:, good], across[:, good]
    n = along.shape[1]
    if n < LEAST:
        return ()
    total_a, total_c = along.sum(axis=0), across.sum(axis=0)
    miss = np.hypot(total_a, total_c)
    toward = (along * total_a + across * total_c) / np.maximum(miss, 1e-9)
    draws = max(200, min(draws, 500_000 // n))
    picks = np.random.default_rng(n).integers(0, n, (draws, n))
    missed = np.maximum(miss[picks].sum(axis=1), 1e-9)
    parts = np.array([row[picks].sum(axis=1) / missed for row in toward])
    low, high = np.quantile(parts, (0.025, 0.975), axis=1)
    whole = toward.sum(axis=1) / max(float(miss.sum()), 1e-9)
    return tuple(
        Share(cause, float(whole[i]), float(low[i]), float(high[i]), level(along[i]), level(across[i]))
        for i, cause in enumerate(CAUSES)
    )


@dataclass(frozen=True, slots=True)
class TurnHeight:
    """Does the height of the turn to final explain the miss along? Fitted slope [m per m], the one physics predicts.

    ``predicted`` = (airspeed - headwind) / sink, median and spread over the jumps; ``reliability`` the part of the scatter
    of the heights that is real: errors of the heights flatten the fitted slope by about that factor.
    """

    n: int
    fitted: Line
    predicted: float
    predicted_sd: float
    reliability: float


def turn_height(jumps: Jumps) -> TurnHeight | None:
    """Relation of the height error of the turn to final and the offset along; None below ten jumps."""
    x, y = jumps["final_agl_error_m"], jumps["along_m"]
    slope = (jumps["airspeed_mps"] - jumps["headwind_mps"]) / jumps["sink_mps"]
    good = np.isfinite(x) & np.isfinite(y) & np.isfinite(slope)
    if int(np.sum(good)) < LEAST:
        return None
    found = line(x[good], y[good])
    if found is None:
        return None
    noise = jumps["final_turn_agl_sd_m"][good]
    variance = max(robust_sd(x[good]) ** 2, 1e-9)
    known = float(np.nanmedian(noise)) ** 2 if bool(np.any(np.isfinite(noise))) else 0.0
    return TurnHeight(
        int(np.sum(good)),
        found,
        float(np.median(slope[good])),
        robust_sd(slope[good]),
        float(np.clip(1.0 - known / variance, 0.0, 1.0)),
    )


@dataclass(frozen=True, slots=True)
class TrimFigures:
    """Trim of a canopy over its jumps, at sea-level density: airspeed, sink [m/s] and glide, pooled."""

    airspeed: Pooled
    sink: Pooled
    glide: float
    wing_loading: float | None


def trim(jumps: Jumps) -> TrimFigures | None:
    """Pooled trim speeds; None where no jump gave them."""
    airspeed = pool(jumps["airspeed_mps"], jumps["airspeed_sd_mps"])
    sink = pool(jumps["sink_mps"], jumps["sink_sd_mps"])
    if airspeed is None or sink is None:
        return None
    loading = jumps["wing_loading_lb_ft2"]
    known = loading[np.isfinite(loading)]
    return TrimFigures(
        airspeed, sink, airspeed.mean / sink.mean, float(np.median(known)) if known.size else None
    )


def rolling(values: NDArray[np.float64], window: int = LEAST) -> NDArray[np.float64]:
    """Median of the last ``window`` finite values at each place, NaN before there are so many."""
    found = np.full(values.shape, np.nan)
    places = np.flatnonzero(np.isfinite(values))
    if places.size >= window:
        found[places[window - 1 :]] = np.median(sliding_window_view(values[places], window), axis=1)
    return found


@dataclass(frozen=True, slots=True)
class Currency:
    """When a jumper jumped: first and last landing [s since 1970], jumps per month, the longest gap [days] and its begin."""

    n: int
    first_s: float
    last_s: float
    per_month: dict[str, int]
    longest_gap_days: float
    gap_from_s: float | None


def currency(t_s: NDArray[np.float64]) -> Currency | None:
    """How often and how regularly, from the times of landing in order; None without a jump."""
    if t_s.size == 0:
        return None
    months = Counter(datetime.fromtimestamp(float(t), UTC).strftime("%Y-%m") for t in t_s)
    gaps = np.diff(t_s) / 86400.0
    longest = int(np.argmax(gaps)) if gaps.size else None
    return Currency(
        int(t_s.size),
        float(t_s[0]),
        float(t_s[-1]),
        dict(sorted(months.items())),
        float(gaps[longest]) if longest is not None else 0.0,
        float(t_s[longest]) if longest is not None else None,
    )
