"""Straight stretches and turns of an air heading: penalised change-point search, then edges finer than the sampling."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.legs.heading import AirHeading, Stretch
from analyser.legs.pauses import split_at_pauses
from analyser.legs.thresholds import LEGS

__all__ = ["find_stretches"]

Vector = NDArray[np.float64]


def _grid(heading: AirHeading, step_s: float) -> tuple[Vector, Vector]:
    """Means over bins of ``step_s``; the values themselves where these lie wider apart."""
    t, y = heading.t, heading.deg
    index = np.floor((t - t[0]) / step_s + 1e-6).astype(np.intp)
    count = np.bincount(index)
    some = count > 0
    return (np.bincount(index, t)[some] / count[some], np.bincount(index, y)[some] / count[some])


def _costs(t: Vector, y: Vector) -> tuple[Vector, Vector]:
    """Sum of squares about the mean and about the best line of every stretch i…j of the grid, (n, n), infinite for j < i.

    A line that hardly bends is none: two steady headings either side of a small turn would hide in it.
    """
    x, v = t - t.mean(), y - y.mean()
    sums = [np.concatenate([[0.0], np.cumsum(a)]) for a in (np.ones_like(x), x, v, x * x, x * v, v * v)]
    n, sx, sy, sxx, sxy, syy = (s[None, 1:] - s[:-1, None] for s in sums)
    n = np.where(n > 0, n, np.inf)
    flat = syy - sy * sy / n
    spread = np.maximum(sxx - sx * sx / n, 1e-9)
    slope = (sxy - sx * sy / n) / spread
    line = np.where(np.abs(slope) < LEGS.bend_dps, np.inf, flat - slope**2 * spread)
    below = np.tril(np.ones(flat.shape, dtype=bool), -1)
    flat[below], line[below] = np.inf, np.inf
    return np.maximum(flat, 0.0), np.maximum(line, 0.0)


def _partition(t: Vector, y: Vector, sigma: float, price: float) -> list[tuple[int, int]]:
    """The stretches ``i…j`` (inclusive) of least cost: squares over ``sigma``², plus a price for each, higher for a sloping one."""
    flat, line = _costs(t, y)
    straight = flat / sigma**2 + price
    long_enough = t[None, :] - t[:, None] > LEGS.shortest_s
    straight[~long_enough] = np.inf
    cost = np.minimum(straight, line / sigma**2 + 1.3 * price)
    n = t.shape[0]
    best = np.zeros(n + 1)
    origin = np.zeros(n, dtype=np.intp)
    for j in range(n):
        total = best[: j + 1] + cost[: j + 1, j]
        origin[j] = int(np.argmin(total))
        best[j + 1] = total[origin[j]]
    parts: list[tuple[int, int]] = []
    j = n - 1
    while j >= 0:
        parts.append((int(origin[j]), j))
        j = int(origin[j]) - 1
    return parts[::-1]


def _noise(t: Vector, y: Vector) -> float:
    """Scatter of the heading about its neighbours [deg], from the median second difference."""
    if y.shape[0] < 5:
        return 4.0
    second = y[2:] - 2.0 * y[1:-1] + y[:-2]
    return float(np.median(np.abs(second)) / 0.6745 / math.sqrt(6.0))


def find_stretches(heading: AirHeading, *, wander_deg: float = 4.0, price: float = 9.0) -> list[Stretch]:
    """Straight stretches and turns, alternating, tiling the time of the heading.

    ``wander_deg`` is how far a straight stretch may sway (gusts, pilot) without being cut; ``price`` of one more
    stretch in units of the squared noise. Optimal partitioning (Jackson et al. 2005, IEEE Signal Processing Letters
    12:105) over constants and lines.
    """
    t, y = _grid(heading, 0.5)
    if t.shape[0] < 4:
        return [Stretch(float(t[0]), float(t[-1]), float(y.mean()), float(y.mean()), False)]
    sigma = math.hypot(wander_deg, _noise(t, y))
    parts = [_fit(t, y, i, j) for i, j in _partition(t, y, sigma, price)]
    return [q for p in _alternate(_with_jumps(parts)) for q in _arc_or_turns(heading, p)]


def _arc_or_turns(heading: AirHeading, p: Stretch) -> list[Stretch]:
    """One long, slow bend is no turn; a turn may be several."""
    slow = p.seconds > 2.0 * LEGS.arc_s and abs(p.change_deg) / max(p.seconds, 1.0) < LEGS.arc_dps
    if p.turning and slow and abs(p.change_deg) > LEGS.arc_deg:
        return [p._replace(turning=False)]
    return split_at_pauses(heading, p)


def _fit(t: Vector, y: Vector, i: int, j: int) -> Stretch:
    if i == j:
        return Stretch(float(t[i]), float(t[i]), float(y[i]), float(y[i]), False)
    x = t[i : j + 1]
    slope, level = np.polyfit(x - x.mean(), y[i : j + 1], 1)
    half = 0.5 * float(x[-1] - x[0])
    bend = abs(slope) * 2.0 * half > 4.0 * LEGS.turn_deg and abs(slope) > LEGS.bend_dps
    if abs(slope) < LEGS.turn_dps and not bend:
        mean = float(np.mean(y[i : j + 1]))
        return Stretch(float(x[0]), float(x[-1]), mean, mean, False)
    return Stretch(float(x[0]), float(x[-1]), float(level - slope * half), float(level + slope * half), True)


def _with_jumps(parts: list[Stretch]) -> list[Stretch]:
    """The time between two parts belongs to a turn that joins them."""
    joined: list[Stretch] = []
    for part in parts:
        if joined:
            last = joined[-1]
            joined.append(Stretch(last.end_s, part.start_s, last.end_deg, part.start_deg, True))
        joined.append(part)
    return joined


def _alternate(parts: list[Stretch]) -> list[Stretch]:
    """Join neighbours until straight stretches and real turns alternate."""
    merged = _join_turns(parts)
    while True:
        small = [k for k, p in enumerate(merged) if p.turning and abs(p.change_deg) < LEGS.turn_deg]
        short = [k for k, p in enumerate(merged) if _is_short(merged, k)]
        if small:
            k = min(small, key=lambda m: abs(merged[m].change_deg))
            merged = _join_turns(_drop_turn(merged, k))
        elif short:
            k = min(short, key=lambda m: merged[m].seconds)
            s = merged[k]
            merged = _join_turns([*merged[:k], s._replace(turning=True), *merged[k + 1 :]])
        else:
            return merged


def _is_short(parts: list[Stretch], k: int) -> bool:
    if parts[k].turning or parts[k].curved or not 0 < k < len(parts) - 1 or parts[k].seconds >= LEGS.short_s:
        return False
    return parts[k - 1].change_deg * parts[k + 1].change_deg > 0.0


def _join_turns(parts: list[Stretch]) -> list[Stretch]:
    out: list[Stretch] = []
    for p in parts:
        same = bool(out) and out[-1].turning and p.turning
        if same and _is_arc(out[-1], p):
            out[-1] = out[-1]._replace(turning=False)
            out.append(p)
        elif same and (
            out[-1].change_deg * p.change_deg >= 0.0
            or min(abs(out[-1].change_deg), abs(p.change_deg)) < LEGS.sway_deg
        ):
            out[-1] = Stretch(out[-1].start_s, p.end_s, out[-1].start_deg, p.end_deg, True)
        elif out and not out[-1].turning and not p.turning and not (out[-1].curved or p.curved):
            out[-1] = _join_straight(out[-1], p)
        elif same:
            middle = Stretch(p.start_s, p.start_s, p.start_deg, p.start_deg, False)
            out += [middle, p]
        else:
            out.append(p)
    return out


def _is_arc(slow: Stretch, fast: Stretch) -> bool:
    """A long bend that goes over into a turn of the same hand is a stretch of its own, no part of the turn."""
    if (
        slow.seconds < LEGS.arc_s
        or slow.change_deg * fast.change_deg <= 0.0
        or abs(fast.change_deg) < LEGS.pause_deg
    ):
        return False
    rate = abs(slow.change_deg) / slow.seconds
    return rate < LEGS.arc_dps and abs(fast.change_deg) / max(fast.seconds, 1.0) > 1.8 * rate


def _join_straight(a: Stretch, b: Stretch) -> Stretch:
    wa, wb = a.seconds + 0.25, b.seconds + 0.25
    mean = (wa * a.start_deg + wb * b.start_deg) / (wa + wb)
    return Stretch(a.start_s, b.end_s, mean, mean, False)


def _drop_turn(parts: list[Stretch], k: int) -> list[Stretch]:
    """A turn too small to be one becomes part of the straight flight around it."""
    p = parts[k]
    mean = 0.5 * (p.start_deg + p.end_deg)
    straight = Stretch(p.start_s, p.end_s, mean, mean, False)
    return [*parts[:k], straight, *parts[k + 1 :]]
