"""One jump of a family: draw everything, fly it, record it, write down the truth."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .around import after_landing, climb, free_fall, standing_and_roll
from .craft import DT_S, Craft
from .devices import Path, draw_device, record
from .glider import Glider, draw_wing
from .jump import WorldJump
from .kinematic import Kinematic, draw_tables
from .ours import our_jump
from .parafoil import Parafoil, draw_ram
from .persona import OPEN_STYLES, Persona, draw_persona
from .pilots import Marks, Pilot, fly_jump
from .sky import Sky, draw_sky
from .tell import tell

__all__ = ["FAMILIES", "OPEN_STYLES", "Flown", "fly", "make_jump"]

Vector = NDArray[np.float64]

LONGEST_S = 1500.0
FIRST_DAY_UTC_S = 1_767_225_600.0  # 2026-01-01
Maker = Callable[[np.random.Generator, Sky, float, float, float], Craft]


class Flown(NamedTuple):
    """A canopy flight from line stretch to touchdown, one row a step (columns of ``rows``: see :func:`fly`), and what was noted."""

    craft: Craft
    rows: Vector
    marks: Marks
    who: Persona


def _glider(rng: np.random.Generator, sky: Sky, agl: float, heading: float, fall: float) -> Craft:
    return Glider(draw_wing(rng), sky, agl, heading, fall)


def _kinematic(rng: np.random.Generator, sky: Sky, agl: float, heading: float, fall: float) -> Craft:
    return Kinematic(draw_tables(rng), sky, agl, heading, rng, fall)


def _parafoil(rng: np.random.Generator, sky: Sky, agl: float, heading: float, fall: float) -> Craft:
    ram, swing = draw_ram(rng)
    return Parafoil(ram, sky, agl, heading, swing, fall)


MAKERS: dict[str, Maker] = {"glider": _glider, "parafoil": _parafoil, "kinematic": _kinematic}
FAMILIES: tuple[str, ...] = ("ours", *MAKERS)


def make_jump(
    family: str, seed: int, style: str | None = None, change: Callable[[Persona], Persona] | None = None
) -> WorldJump:
    """The jump with that seed of a family of :data:`FAMILIES`; raises ``KeyError`` for another name.

    ``style`` one of :data:`OPEN_STYLES` instead of the drawn way of holding: few headings, and no turns to check the controls.
    ``change`` (not of ``ours``) makes another pilot of the drawn one, who flies in the same air under the same canopy.
    """
    if family == "ours":
        return our_jump(seed, style)
    maker = MAKERS[family]
    streams = np.random.SeedSequence([seed, zlib.crc32(family.encode())]).spawn(5)
    air, wing, person, device, place = (np.random.default_rng(s) for s in streams)
    sky, who = draw_sky(air), draw_persona(person, style)
    who = who if change is None else change(who)
    deploy, exit_agl = _heights(place)
    run_in = math.atan2(*(-float(v) for v in sky.mean(2500.0, 0.0))) + float(place.normal(0.0, 0.2))
    fall = free_fall(sky, exit_agl, deploy, run_in, float(place.normal(54.0, 3.0)))
    craft = maker(wing, sky, float(fall.agl_m[-1]), float(place.uniform(0.0, 2.0 * math.pi)), fall.down_mps)
    flown = fly(craft, who, person)
    miss = place.normal(0.0, 25.0, 2)
    # the target is where the pilot would have landed without the miss
    shift = (float(miss[0]) - craft.east, float(miss[1]) - craft.north)
    before, starts = _before(place, sky, fall, exit_agl, run_in, shift)
    after = after_landing(place, (craft.east + shift[0], craft.north + shift[1]), (craft.ve, craft.vn))
    canopy = (flown.rows[:, 1] + shift[0], flown.rows[:, 2] + shift[1], flown.rows[:, 3])
    path = Path(
        FIRST_DAY_UTC_S + 86400.0 * int(place.integers(60, 300)) + int(place.integers(28800, 64800)),
        *(np.concatenate([*(p[i] for p in before), canopy[i], after[i]]) for i in range(3)),
        float(place.uniform(-60.0, 60.0)),
        float(place.uniform(-179.0, 179.0)),
        sky.day,
    )
    receiver = draw_device(device)
    recording = record(device, receiver, path, f"{family}-{seed}")
    return WorldJump(recording, tell(family, seed, flown, path, starts, shift, receiver))


def _heights(rng: np.random.Generator) -> tuple[float, float]:
    """Heights of line stretch and exit: mostly from full height, some short falls, some high pulls."""
    deploy = float(rng.uniform(950.0, 1600.0))
    what = rng.random()
    if what < 0.04:
        deploy = float(rng.uniform(2000.0, 3000.0))
    if what > 0.94:
        return deploy, deploy + float(rng.uniform(90.0, 300.0))
    return deploy, float(rng.uniform(max(3000.0, deploy + 700.0), 4300.0))


def fly(craft: Craft, who: Persona, rng: np.random.Generator, longest_s: float = LONGEST_S) -> Flown:
    """Step pilot and wing until the ground; rows: t, east, north, agl, ve, vn, vu, mean e, n, gust e, n, up, heading, bank, brake, riser, ρ."""
    pilot = Pilot(craft, who, rng)
    sky = craft.sky
    east, north = sky.mean(np.array([30.0, 600.0]), 150.0)
    guess = [
        (float(e) + who.misread[0] * s, float(n) + who.misread[1] * s)
        for e, n, s in zip(east, north, (0.5, 1.0))
    ]

    def upwind(agl: float) -> float:
        e, n = guess[0] if agl < 200.0 else guess[1]
        return math.atan2(-e, -n)

    steps = fly_jump(pilot, upwind)
    rows = []
    while craft.agl > 0.0 and craft.t < longest_s:
        next(steps)
        craft.move(DT_S)
        rows.append(
            (
                craft.t, craft.east, craft.north, craft.agl, craft.ve, craft.vn, craft.vu, sky.mean_e, sky.mean_n,
                sky.gust_e, sky.gust_n, sky.up, craft.heading, craft.bank, craft.brake, craft.riser, sky.rho,
            )
        )  # fmt: skip
    if craft.agl > 0.0:
        raise RuntimeError("the canopy never came down")
    return Flown(craft, np.array(rows), pilot.marks, who)


def _before(
    rng: np.random.Generator,
    sky: Sky,
    fall: tuple[Vector, Vector, Vector, float],
    exit_agl: float,
    run_in: float,
    shift: tuple[float, float],
) -> tuple[list[tuple[Vector, Vector, Vector]], list[tuple[str, int]]]:
    """Ground, climb and fall that end where the canopy flight begins (the place of line stretch is ``shift``), and the first row of each phase."""
    e0, n0 = shift[0] - float(fall[0][-1]), shift[1] - float(fall[1][-1])
    up, heading = climb(
        exit_agl / float(rng.uniform(4.0, 6.5)), exit_agl, run_in, 1 if rng.random() < 0.5 else -1
    )
    up = (up[0] + e0, up[1] + n0, up[2])
    ground = standing_and_roll(float(rng.uniform(40.0, 120.0)), heading, (float(up[0][0]), float(up[1][0])))
    falling = (fall[0] + e0, fall[1] + n0, fall[2])
    sizes = np.cumsum([0, ground[0].size, up[0].size, falling[0].size])
    names = ("ground before", "climb", "free fall", "opening")
    return [ground, up, falling], list(zip(names, sizes.tolist()))
