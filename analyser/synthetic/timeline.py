"""The pieces of a made-up recording on one clock: waiting, climb, fall, opening, canopy, walk."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Joined",
    "PhaseSpan",
    "Piece",
    "chain",
    "join",
    "rest",
    "stand",
    "take_off_roll",
    "ticks",
    "walk_back",
]

Vector = NDArray[np.float64]

DT_S = 0.1
WALK_MPS = 1.3


class PhaseSpan(NamedTuple):
    """A phase with its UTC seconds; names as in the debrief's JSON."""

    name: str
    start_utc_s: float
    end_utc_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A stretch of one phase, every 0.1 s: time from its own start, metres from the target, height above the landing area."""

    name: str
    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector

    def moved(self, east_m: float, north_m: float) -> Piece:
        """The same piece elsewhere."""
        return replace(self, east_m=self.east_m + east_m, north_m=self.north_m + north_m)


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """All pieces on one even clock (0.1 s) and the phases [s on that clock] in ``spans``."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    spans: tuple[PhaseSpan, ...]

    def start(self, name: str, which: int = -1) -> float:
        """Start of the last (or ``which``) phase of that name."""
        return [s for s in self.spans if s.name == name][which].start_utc_s


def ticks(n: int) -> Vector:
    """``n`` times from 0, 0.1 s apart."""
    return np.arange(n, dtype=np.float64) * DT_S


def chain(pieces: Iterable[Piece]) -> list[Piece]:
    """Each piece moved so that it begins where the one before ended."""
    out: list[Piece] = []
    for piece in pieces:
        if out:
            last = out[-1]
            piece = piece.moved(
                float(last.east_m[-1] - piece.east_m[0]), float(last.north_m[-1] - piece.north_m[0])
            )
        out.append(piece)
    return out


def join(pieces: list[Piece]) -> Joined:
    """Put the pieces one after the other; neighbours of the same name become one phase."""
    spans: list[PhaseSpan] = []
    rows: list[tuple[Vector, Vector, Vector, Vector]] = []
    clock = 0.0
    for i, piece in enumerate(pieces):
        cut = slice(None) if i == len(pieces) - 1 else slice(0, -1)
        rows.append((clock + piece.t_s[cut], piece.east_m[cut], piece.north_m[cut], piece.agl_m[cut]))
        end = clock + float(piece.t_s[-1])
        if spans and spans[-1].name == piece.name:
            spans[-1] = spans[-1]._replace(end_utc_s=end)
        else:
            spans.append(PhaseSpan(piece.name, clock, end))
        clock = end
    t, east, north, agl = (np.concatenate(column) for column in zip(*rows))
    even = np.arange(0.0, float(t[-1]), DT_S)
    return Joined(
        even, np.interp(even, t, east), np.interp(even, t, north), np.interp(even, t, agl), tuple(spans)
    )


def stand(name: str, east_m: float, north_m: float, agl_m: float, seconds: float) -> Piece:
    """Standing still."""
    clock = np.arange(0.0, seconds + 1e-9, DT_S)
    return Piece(
        name, clock, np.full(clock.shape, east_m), np.full(clock.shape, north_m), np.full(clock.shape, agl_m)
    )


def rest(
    name: str, start: tuple[float, float], end: tuple[float, float], seconds: float, agl_m: float = 0.0
) -> Piece:
    """A stay on the ground that begins at one place, walks to another and waits there."""
    clock = np.arange(0.0, seconds + 1e-9, DT_S)
    distance = math.hypot(end[0] - start[0], end[1] - start[1])
    part = np.clip((clock - 20.0) * WALK_MPS / max(distance, 1.0), 0.0, 1.0)
    return Piece(
        name,
        clock,
        start[0] + part * (end[0] - start[0]),
        start[1] + part * (end[1] - start[1]),
        np.full(clock.shape, agl_m),
    )


def take_off_roll(east_m: float, north_m: float, runway_deg: float, agl_m: float, *, wait_s: float) -> Piece:
    """Waiting, then the roll along the runway up to 45 m/s."""
    roll_s, speed = 18.0, 45.0
    clock = np.arange(0.0, wait_s + roll_s + 1e-9, DT_S)
    along = 0.5 * speed / roll_s * np.maximum(clock - wait_s, 0.0) ** 2
    a = math.radians(runway_deg)
    return Piece(
        "ground before",
        clock,
        east_m + along * math.sin(a),
        north_m + along * math.cos(a),
        np.full(clock.shape, agl_m),
    )


def walk_back(landed: Piece, seconds: float, rng: np.random.Generator) -> Piece:
    """Sliding to a stop, gathering the canopy, a walk in some direction, standing."""
    clock = np.arange(0.0, seconds + 1e-9, DT_S)
    v_e = float(landed.east_m[-1] - landed.east_m[-6]) / 0.5
    v_n = float(landed.north_m[-1] - landed.north_m[-6]) / 0.5
    slide = 0.7 * (1.0 - np.exp(-clock / 0.7))
    stay = float(rng.uniform(15.0, 35.0))
    away = float(rng.uniform(0.0, 2.0 * math.pi))
    walked = WALK_MPS * np.clip(clock - stay, 0.0, max(seconds - stay - 30.0, 0.0))
    return Piece(
        "ground after",
        clock,
        float(landed.east_m[-1]) + v_e * slide + walked * math.sin(away),
        float(landed.north_m[-1]) + v_n * slide + walked * math.cos(away),
        np.zeros(clock.shape),
    )
