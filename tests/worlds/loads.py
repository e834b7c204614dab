"""Made-up loads: jumpers who leave one aeroplane, each with a wing, a pilot and a receiver of the families, in one air that changes with time.

What they share: the aeroplane's way up and its run, the mean wind and how it changes, the day, the thermals' strength. What each has alone:
turbulence, wing, pilot, place of the landing, receiver and its clock. As in the families, none of the numbers was chosen by
what an estimator makes of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from worlds.families.around import PLANE_MPS, after_landing, climb, free_fall, standing_and_roll
from worlds.families.craft import DT_S
from worlds.families.devices import Device, Path, draw_device, record
from worlds.families.jump import WorldJump
from worlds.families.make import FIRST_DAY_UTC_S, MAKERS, Flown, fly
from worlds.families.mean_winds import GRID_M
from worlds.families.persona import draw_persona
from worlds.families.sky import Change, Sky, draw_sky
from worlds.families.tell import tell
from worlds.families.turbulence import Dryden

__all__ = ["CLOCK_S", "WorldLoad", "make_day", "make_load"]

Vector = NDArray[np.float64]
Piece = tuple[Vector, Vector, Vector]

CLOCK_S = 2.0
CUT_SHARE = 0.15
CLOSE_SHARE = 0.5
CLOSEST_M, CLOSE_M = 2.0, 12.0
MOST_LATER_S = 40.0


@dataclass(frozen=True, slots=True)
class Later(Change):
    """The change of a load's wind as a canopy meets it that opens ``begins_s`` after the first."""

    begins_s: float = 0.0

    def at(self, t_s: ArrayLike) -> tuple[Vector, Vector]:
        """What is added to the wind at times since this canopy's line stretch."""
        return Change.at(self, np.asarray(t_s, dtype=np.float64) + self.begins_s)


@dataclass(frozen=True, slots=True, eq=False)
class WorldLoad:
    """The jumps of one load, by their exits; ``clock_s`` what each receiver's clock is ahead; ``planted`` pairs made to pass close."""

    seed: int
    jumps: tuple[WorldJump, ...]
    clock_s: tuple[float, ...]
    exit_utc_s: tuple[float, ...]
    planted: tuple[tuple[int, int], ...]

    def true_places(self, k: int, utc_s: Vector) -> Vector:
        """Where jumper ``k`` was (3, n) [m from the target, above the ground] at true times under canopy."""
        truth = self.jumps[k].truth
        return np.stack(
            [np.interp(utc_s, truth.t_utc_s, v) for v in (truth.east_m, truth.north_m, truth.agl_m)]
        )


@dataclass(slots=True)
class _Jumper:
    """One jumper on the way to a track: ``exit_s`` and ``stretch_s`` since the first exit."""

    family: str
    seed: int
    sky: Sky
    fall: Piece
    flown: Flown
    exit_s: float
    device: Device
    rng: np.random.Generator
    landing: tuple[float, float] = (0.0, 0.0)

    @property
    def stretch_s(self) -> float:
        return self.exit_s + self.fall[0].size * DT_S

    def at(self, t_s: float) -> tuple[float, float, float]:
        """East and north from line stretch, and height, at a time since the first exit."""
        rows = self.flown.rows
        e, n, h = (float(np.interp(t_s - self.stretch_s, rows[:, 0], rows[:, k])) for k in (1, 2, 3))
        return e, n, h

    @property
    def shift(self) -> tuple[float, float]:
        """Where line stretch lies, metres from the target."""
        craft = self.flown.craft
        return self.landing[0] - craft.east, self.landing[1] - craft.north


def make_load(
    seed: int,
    jumpers: int | None = None,
    families: tuple[str, ...] = ("glider", "kinematic"),
    *,
    close: bool = True,
    clock_s: float = CLOCK_S,
    cut_share: float = CUT_SHARE,
    start_utc_s: float | None = None,
    place: tuple[float, float] | None = None,
) -> WorldLoad:
    """The load of that seed: 4 to 8 ``jumpers`` of the ``families``; ``close``: half of the loads hold a pair made to pass within 12 m.

    ``clock_s`` how far a receiver's clock may be off; ``cut_share`` of the recordings begin shortly before the exit. ``start_utc_s`` and
    ``place`` (latitude, longitude of the target) where several loads belong to one day.
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, 77]))
    base = draw_sky(rng)
    aloft = float(rng.uniform(0.2, 1.1))
    count = int(rng.integers(4, 9)) if jumpers is None else jumpers
    exit_agl = (
        float(rng.uniform(3000.0, 4300.0)) if rng.random() < 0.9 else float(rng.uniform(1700.0, 2200.0))
    )
    run_in = math.atan2(*(-float(v) for v in base.mean(2500.0, 0.0))) + float(rng.normal(0.0, 0.2))
    lat, lon = place or (float(rng.uniform(-60.0, 60.0)), float(rng.uniform(-179.0, 179.0)))
    start = start_utc_s or (
        FIRST_DAY_UTC_S + 86400.0 * int(rng.integers(60, 300)) + float(rng.integers(28800, 64800))
    )
    exits = np.cumsum(np.concatenate([[0.0], rng.uniform(3.0, 9.0, count - 1)]))
    found: list[_Jumper] = []
    first_stretch: float | None = None
    for k, stream in enumerate(np.random.SeedSequence([seed, 78]).spawn(count)):
        own = np.random.default_rng(stream)
        jumper = _jumper(
            own, base, aloft, exit_agl, run_in, float(exits[k]), families, seed * 16 + k, first_stretch
        )
        first_stretch = jumper.stretch_s if first_stretch is None else first_stretch
        jumper.landing = (float(own.normal(0.0, 30.0)), float(own.normal(0.0, 30.0)))
        found.append(jumper)
    planted = ()
    if close and rng.random() < CLOSE_SHARE:
        planted = _bring_together(rng, found)
    plane = _plane(rng, exit_agl, run_in, max(j.exit_s for j in found), _run_origin(found, run_in))
    jumps, clocks, times = [], [], []
    for jumper in found:
        jump, clock, left = _record(jumper, plane, base, (lat, lon), start, clock_s, cut_share)
        jumps.append(jump)
        clocks.append(clock)
        times.append(left)
    return WorldLoad(seed, tuple(jumps), tuple(clocks), tuple(times), planted)


def make_day(seed: int, loads: int = 3, **more: object) -> tuple[WorldLoad, ...]:
    """Some loads of one field on one day, 12 to 25 minutes apart; the second aeroplane of a busy field drops 2 to 6 minutes after the first."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 79]))
    place = (float(rng.uniform(-60.0, 60.0)), float(rng.uniform(-179.0, 179.0)))
    start = FIRST_DAY_UTC_S + 86400.0 * int(rng.integers(60, 300)) + float(rng.integers(28800, 50000))
    gaps = [
        float(rng.uniform(720.0, 1500.0) if rng.random() < 0.7 else rng.uniform(120.0, 360.0))
        for _ in range(loads - 1)
    ]
    starts = start + np.cumsum([0.0, *gaps])
    return tuple(
        make_load(seed * 8 + k, start_utc_s=float(t), place=place, **more) for k, t in enumerate(starts)
    )  # type: ignore[arg-type]


def _jumper(
    own: np.random.Generator,
    base: Sky,
    aloft: float,
    exit_agl: float,
    run_in: float,
    exit_s: float,
    families: tuple[str, ...],
    seed: int,
    first_stretch: float | None,
) -> _Jumper:
    family = str(own.choice(families))
    deploy = float(own.uniform(950.0, min(1500.0, exit_agl - 250.0)))
    fall = free_fall(base, exit_agl, deploy, run_in, float(own.normal(54.0, 3.0)))
    stretch = exit_s + fall.east_m.size * DT_S
    begins = 0.0 if first_stretch is None else stretch - first_stretch
    change = Later(base.change.ramp, base.change.swing, base.change.period_s, base.change.phase, begins)
    w20 = float(np.hypot(*(np.interp(6.1, GRID_M, p) for p in base.profile)))
    sky = Sky(base.name, base.profile, base.day, change, Dryden(own, w20, aloft), base.thermals)
    sky.air_e, sky.air_n = (float(v) for v in own.uniform(0.0, 3000.0, 2))
    person = np.random.default_rng(own.integers(2**63))
    craft = MAKERS[family](
        own, sky, float(fall.agl_m[-1]), float(own.uniform(0.0, 2.0 * math.pi)), fall.down_mps
    )
    flown = fly(craft, draw_persona(person), person)
    return _Jumper(family, seed, sky, fall[:3], flown, exit_s, draw_device(own), own)


def _bring_together(rng: np.random.Generator, found: list[_Jumper]) -> tuple[tuple[int, int], ...]:
    """One pair made to pass within some metres: the second one's exit and landing are moved, as little as it takes."""
    order = rng.permutation(len(found))
    for i, j in pairwise(order.tolist()):
        a, b = found[i], found[j]
        height = float(rng.uniform(40.0, 700.0))
        rows_a, rows_b = a.flown.rows, b.flown.rows
        met = [int(np.argmax(rows[:, 3] < height)) for rows in (rows_a, rows_b)]
        at_a = a.stretch_s + float(rows_a[met[0], 0])
        later = at_a - (b.stretch_s + float(rows_b[met[1], 0]))
        if not (abs(later) <= MOST_LATER_S and b.exit_s + later >= 0.0):
            continue
        b.exit_s += later
        apart = float(rng.uniform(CLOSEST_M, CLOSE_M))
        up, way = float(rng.uniform(-0.6, 0.6)), float(rng.uniform(0.0, 2.0 * math.pi))
        b.exit_s += up * apart / max(-float(rows_b[met[1], 6]), 2.0)
        level = apart * math.sqrt(1.0 - up * up)
        (ea, na, _), (eb, nb, _) = a.at(at_a), b.at(at_a)
        sa = a.shift
        want = (sa[0] + ea + level * math.sin(way) - eb, sa[1] + na + level * math.cos(way) - nb)
        craft = b.flown.craft
        b.landing = (want[0] + craft.east, want[1] + craft.north)
        return ((min(i, j), max(i, j)),)
    return ()


def _run_origin(found: list[_Jumper], run_in: float) -> tuple[float, float]:
    """Where the aeroplane is at the first exit, so that all get where they open with the least tracking."""
    east, north = [], []
    for jumper in found:
        shift, fall = jumper.shift, jumper.fall
        way = PLANE_MPS * jumper.exit_s
        east.append(shift[0] - float(fall[0][-1]) - way * math.sin(run_in))
        north.append(shift[1] - float(fall[1][-1]) - way * math.cos(run_in))
    return float(np.mean(east)), float(np.mean(north))


def _plane(
    rng: np.random.Generator, exit_agl: float, run_in: float, last_s: float, origin: tuple[float, float]
) -> tuple[Piece, tuple[int, int, int]]:
    """The aeroplane's way until the last exit, and the rows where climb and run begin and the first one leaves."""
    up, heading = climb(
        exit_agl / float(rng.uniform(4.0, 6.5)), exit_agl, run_in, 1 if rng.random() < 0.5 else -1
    )
    ground = standing_and_roll(float(rng.uniform(40.0, 120.0)), heading, (float(up[0][0]), float(up[1][0])))
    more = np.arange(1, int(last_s / DT_S) + 2) * DT_S * PLANE_MPS
    pieces = (ground, up, (more * math.sin(run_in), more * math.cos(run_in), np.full(more.size, exit_agl)))
    east, north, agl = (np.concatenate([p[i] for p in pieces]) for i in range(3))
    first = ground[0].size + up[0].size
    return (east + origin[0], north + origin[1], agl), (ground[0].size, first, first)


def _record(
    jumper: _Jumper,
    plane: tuple[Piece, tuple[int, int, int]],
    base: Sky,
    place: tuple[float, float],
    start_utc_s: float,
    clock_s: float,
    cut_share: float,
) -> tuple[WorldJump, float, float]:
    """The track of one jumper: in the aeroplane to the exit, tracking to where the canopy opens, canopy, ground."""
    (east, north, agl), (climbs, _, first) = plane
    leaves = first + round(jumper.exit_s / DT_S)
    seat = jumper.rng.uniform(-1.5, 1.5, 2)
    shift, fall = jumper.shift, jumper.fall
    begin = (float(east[leaves - 1]), float(north[leaves - 1]))
    part = np.linspace(0.0, 1.0, fall[0].size)
    ease = part * part * (3.0 - 2.0 * part)
    falling = tuple(begin[i] + fall[i] + ease * (shift[i] - begin[i] - float(fall[i][-1])) for i in range(2))
    craft, rows = jumper.flown.craft, jumper.flown.rows
    after = after_landing(jumper.rng, jumper.landing, (craft.ve, craft.vn))
    canopy = (rows[:, 1] + shift[0], rows[:, 2] + shift[1], rows[:, 3])
    ridden = (east[:leaves] + seat[0], north[:leaves] + seat[1], agl[:leaves])
    path = Path(
        start_utc_s,
        np.concatenate([ridden[0], falling[0], canopy[0], after[0]]),
        np.concatenate([ridden[1], falling[1], canopy[1], after[1]]),
        np.concatenate([ridden[2], fall[2], canopy[2], after[2]]),
        place[0],
        place[1],
        base.day,
    )
    starts = [
        ("ground before", 0),
        ("climb", climbs),
        ("free fall", leaves),
        ("opening", leaves + fall[0].size),
    ]
    truth = tell(jumper.family, jumper.seed, jumper.flown, path, starts, shift, jumper.device)
    recording = record(jumper.rng, jumper.device, path, f"load-{jumper.seed}")
    clock = float(jumper.rng.uniform(-clock_s, clock_s))
    recording = replace(recording, time_s=np.round(recording.time_s + clock, 3))
    left = start_utc_s + leaves * DT_S
    if jumper.rng.random() < cut_share:
        begins = left + clock - float(jumper.rng.uniform(20.0, 50.0))
        recording = recording.slice(int(np.searchsorted(recording.time_s, begins)), len(recording))
    return WorldJump(recording, truth), clock, left
