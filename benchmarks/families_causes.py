"""One planted cause in flights of another hand: ``python benchmarks/families_causes.py [JUMPS] [FIRST_SEED] [FAMILY …]``.

The families share neither canopy, air nor pilots with the package. Every jump is flown twice in the same air: once with the error and
once without; the difference of the two landings is the truth, and so is what the flight without misses the target by: all other
departures together, gusts among them. Where they outweigh the planted error it is not the main cause; those are counted by themselves.
The plan has the heights of the flight without, and its target lies where that flight entered the pattern at the plan's place within
8 m, as a good pilot would. The wind leaves room for a pattern; the plan's is the true mean wind within 0.3 m/s. Kinds:
a turn begun 40 to 120 ft too high or low, the nose 15 to 25° off on base, brakes on final, a wind misread by 3 to 8 kt, and the target
40 to 100 m away, which is a place of the entry.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import tests_path  # noqa: F401
from causes import LEAST_M, parts_of
from one_error import HEIGHTS, MOST_WIND
from worlds.families import WorldJump, make_jump
from worlds.families.persona import Persona

from analyser.angles import rotate
from analyser.debrief import Debrief, debrief_recording
from analyser.frame import LocalFrame
from analyser.pattern import to_landing_frame
from analyser.settings import Canopy, PatternSetup, Settings, Site, WindPoint

OTHERS = ("glider", "parafoil", "kinematic")
KINDS = ("height", "place", "direction", "speed", "wind")
FOOT, KNOT, TOP_M, FLARE_M = 0.3048, 0.514444, 350.0, 6.0
GOOD_WIND_MPS, GOOD_PLACE_M = 0.3, 8.0
PLAN_HEIGHTS_M = (0.0, 100.0, 200.0, 300.0, 400.0)
Change = Callable[[Persona], Persona]
Wind = tuple[float, float]


class Planted(NamedTuple):
    """Row and part of the planted cause, its true metres along and across, and the debrief."""

    row: str
    kind: str
    true_m: tuple[float, float]
    debrief: Debrief

    @property
    def rest_m(self) -> float:
        """By how much the flight without the error misses the same target: all other departures together [m]."""
        spot = self.debrief.landing
        if spot is None or spot.along_m is None or spot.across_m is None:
            return float("inf")
        return float(np.hypot(spot.along_m - self.true_m[0], spot.across_m - self.true_m[1]))

    @property
    def off_target(self) -> bool:
        """Whether the landing lies off the target: on it nothing has to be explained, and nothing is named."""
        spot = self.debrief.landing
        offset = None if spot is None else spot.offset_m
        return offset is not None and offset > self.debrief.settings.method.on_target.value

    @property
    def outweighs(self) -> bool:
        """Whether the planted error moved the landing by more than all other departures together."""
        return float(np.hypot(*self.true_m)) > self.rest_m


def good(who: Persona) -> Persona:
    """The drawn pilot made a good one: crabs, no brakes, no weaves, no far too short base, headings within a good pilot's spread."""
    gates = list(who.gates_m)
    gates[-2] = max(gates[-2], gates[-1] + 50.0)
    for k in range(len(gates) - 2, 0, -1):
        gates[k - 1] = max(gates[k - 1], gates[k] + 70.0)
    return replace(
        who,
        braking="none",
        weaves=0,
        cruise_brake=0.0,
        by_track=False,
        crabs=True,
        wander=[0.3 * w for w in who.wander],
        gates_m=tuple(gates),
        off_deg=tuple(0.3 * off for off in who.off_deg),
        off_wind_deg=0.5 * who.off_wind_deg,
    )


class Error(NamedTuple):
    """The row, what it makes of a good pilot, by how much the target lies elsewhere [m] and the plan's wind is misread [m/s] (east, north)."""

    row: str
    other: Change = lambda who: who
    aside: tuple[float, float] = (0.0, 0.0)
    misread: Wind = (0.0, 0.0)


def errors(kind: str, rng: np.random.Generator) -> Error:
    """One error of a kind."""
    sign = float(rng.choice([-1.0, 1.0]))
    if kind == "height":
        late, last = sign * float(rng.uniform(40.0, 120.0)) * FOOT, bool(rng.random() < 0.5)
        late = min(late, 28.0) if last else late

        def other(who: Persona) -> Persona:
            gates = list(who.gates_m)
            gates[-1 if last else -2] -= late
            return replace(who, gates_m=tuple(gates))

        return Error("base leg" if last else "downwind leg", other)
    if kind in ("place", "wind"):
        way, least, most = (
            float(rng.uniform(0.0, 2.0 * np.pi)),
            *((40.0, 100.0) if kind == "place" else (3.0 * KNOT, 8.0 * KNOT)),
        )
        size = float(rng.uniform(least, most))
        vector = size * np.sin(way), size * np.cos(way)
        return Error("entry", aside=vector) if kind == "place" else Error("wind", misread=vector)
    if kind == "direction":
        off = sign * float(rng.uniform(15.0, 25.0))
        return Error("base leg", lambda who: replace(who, off_deg=(*who.off_deg[:-2], off, who.off_deg[-1])))
    brake = float(rng.uniform(0.35, 0.55))
    return Error("final leg", lambda who: replace(who, braking="final", brake=brake))


def planted(seed: int, family: str, kind: str) -> Planted | None:
    """One jump; None where the planted error moves the landing by less than 25 m, or the wind leaves no room for a pattern."""
    rng = np.random.default_rng([seed, 97])
    error = errors(kind, rng)
    spread, placed = rng.normal(0.0, GOOD_WIND_MPS, 2), rng.normal(0.0, GOOD_PLACE_M, 2)
    twin = make_jump(family, seed, change=good)
    if strongest(twin) > MOST_WIND * twin.truth.airspeed_mps:
        return None
    jump = make_jump(family, seed, change=lambda who: error.other(good(who)))
    moved = np.subtract(way_of(jump), way_of(twin))
    east, north = jump.truth.landing_east_m - moved[0], jump.truth.landing_north_m - moved[1]
    frame = LocalFrame(jump.truth.target_lat, jump.truth.target_lon)
    meant = entered(twin, frame, (east, north), spread + error.misread)
    effect = moved - error.aside
    if kind == "place":
        effect = effect - placed
    if kind == "wind":
        effect = effect + entered(twin, frame, (east, north), np.zeros(2)) - meant
    if float(np.hypot(*effect)) < LEAST_M:
        return None
    lat, lon = frame.to_geodetic(*(np.add(meant, error.aside) + placed).tolist())
    found = debrief_recording(jump.recording, told(twin, (float(lat), float(lon)), spread + error.misread))
    if found.landing is None or found.landing.landing_deg is None:
        return Planted(error.row, kind, (0.0, 0.0), found)
    return Planted(error.row, kind, to_landing_frame(*effect.tolist(), found.landing.landing_deg), found)


def entered(
    twin: WorldJump, frame: LocalFrame, landing: tuple[float, float], off: np.ndarray
) -> tuple[float, float]:
    """The target (east, north) [m] for which the flight without the error entered the pattern at the place of the plan for a wind that is
    ``off`` by so much; its landing where that is not known.

    ``landing`` is where the flight without would have landed in the frame of the flight with the error.
    """
    truth = twin.truth
    own = LocalFrame(truth.target_lat, truth.target_lon).to_geodetic(
        truth.landing_east_m, truth.landing_north_m
    )
    found = debrief_recording(twin.recording, told(twin, (float(own[0]), float(own[1])), off))
    row = next((r for r in found.budget if r.cause == "entry"), None)
    entry = row.part("place") if row else None
    if entry is None or found.landing is None or found.landing.landing_deg is None:
        return landing
    off_east, off_north = rotate(entry.across_m, entry.along_m, found.landing.landing_deg)
    return landing[0] + float(off_east), landing[1] + float(off_north)


def strongest(jump: WorldJump) -> float:
    """The strongest mean wind of the pattern's heights [m/s]."""
    return float(np.max(np.hypot(*jump.truth.wind(HEIGHTS[HEIGHTS <= TOP_M]))))


def way_of(jump: WorldJump) -> tuple[float, float]:
    """From line stretch to touchdown [m]."""
    truth = jump.truth
    return float(truth.east_m[-1] - truth.east_m[0]), float(truth.north_m[-1] - truth.north_m[0])


def told(twin: WorldJump, target: tuple[float, float], off: np.ndarray | None = None) -> Settings:
    """What the jumper would have typed: target, heights, hand and direction of landing, the trim of the canopy, and with ``off`` the
    plan's wind, by so much beside the true mean wind (east, north) [m/s]."""
    truth = twin.truth
    heights = {f"{g.name}_m": g.agl_m for g in truth.gates}
    pattern = PatternSetup(hand=truth.hand or "as flown", landing_deg=meant_deg(twin), given=True, **heights)
    canopy = Canopy(
        airspeed_mps=truth.airspeed_mps,
        sink_mps=truth.sink_mps,
        airspeed_sd_mps=0.2,
        sink_sd_mps=0.1,
        bank_deg=usual_bank(twin),
    )
    return Settings(
        site=Site(target=target), canopy=canopy, pattern=pattern, wind=() if off is None else typed(twin, off)
    )


def typed(twin: WorldJump, off: np.ndarray) -> tuple[WindPoint, ...]:
    """The true mean wind of the plan's heights, off by a vector."""
    heights = np.array(PLAN_HEIGHTS_M)
    east, north = (v + o for v, o in zip(twin.truth.wind(heights), off, strict=True))
    rows = zip(heights, np.hypot(east, north), np.degrees(np.arctan2(-east, -north)) % 360.0, strict=True)
    return tuple(WindPoint(*(float(v) for v in row)) for row in rows)


def meant_deg(twin: WorldJump) -> float | None:
    """The direction of landing the pilot meant: what the nose on final makes good in the mean wind, gusts left out [deg]."""
    truth, gate = twin.truth, twin.truth.gate("final")
    if gate is None:
        return None
    use = (truth.agl_m <= gate.end_agl_m) & (truth.agl_m > FLARE_M)
    nose, (east, north) = np.radians(truth.heading_deg[use]), truth.wind(truth.agl_m[use])
    over_ground = truth.airspeed_mps * np.sin(nose) + east, truth.airspeed_mps * np.cos(nose) + north
    return float(np.degrees(np.arctan2(*(np.mean(v) for v in over_ground))) % 360.0)


def usual_bank(twin: WorldJump) -> float:
    """The bank of a steady turn as fast as those of the pattern onto base and final were in the middle [deg]: the wearer's own swings."""
    truth = twin.truth
    heading = np.unwrap(np.radians(truth.heading_deg))
    rates = []
    for gate in truth.gates[-2:]:
        use = (truth.agl_m <= gate.agl_m) & (truth.agl_m >= gate.end_agl_m)
        rates.append(
            float(np.median(np.abs(np.gradient(heading[use], truth.t_utc_s[use]))))
            if np.count_nonzero(use) > 3
            else 0.3
        )
    speed = float(np.hypot(truth.airspeed_mps, truth.sink_mps))
    return float(np.clip(np.degrees(np.arctan(np.mean(rates) * speed / 9.80665)), 10.0, 60.0))


def main(jumps: int, first: int, families: list[str]) -> None:
    """A line for each family and kind."""
    print(
        "family      kind       jumps  no budget  main is it  off the target  and it outweighs the rest   sign   within 30 %   95 % holds   adds up   instead"
    )
    for family in families:
        for number, kind in enumerate(KINDS):
            cases, seed = [], first + 1000 * number
            while len(cases) < jumps:
                case, seed = planted(seed, family, kind), seed + 1
                if case is not None:
                    cases.append(case)
            line(family, kind, cases)


def line(family: str, kind: str, cases: list[Planted]) -> None:
    """Count one group and print it."""
    right, sign, near, holds, sums, instead = [], [], [], [], [], Counter()
    known = [c for c in cases if c.debrief.budget]
    for case in known:
        named, main_cause, spot = parts_of(case.debrief), case.debrief.main_cause, case.debrief.landing
        said = (
            (main_cause.evidence.get("row"), main_cause.evidence.get("part"))
            if main_cause
            else ("nothing", "")
        )
        right.append(said == (case.row, case.kind))
        if not right[-1]:
            instead[f"{said[0]}: {said[1]}"] += 1
        rows = case.debrief.budget
        sums += [
            abs(sum(r.along_m for r in rows) - spot.along_m),
            abs(sum(r.across_m for r in rows) - spot.across_m),
        ]
        sums += [abs(sum(p.along_m for p in r.parts) - r.along_m) for r in rows if r.parts]
        own = next((p for row, p in named if row == case.row and p.part == case.kind), None)
        if own is None:
            instead["part missing"] += 1
            continue
        true, seen = np.array(case.true_m), np.array([own.along_m, own.across_m])
        sign.append(float(true @ seen) > 0.0)
        near.append(float(np.hypot(*(seen - true))) <= 0.3 * float(np.hypot(*true)))
        holds += (np.abs(seen - true) <= 1.96 * np.maximum([own.along_sd_m, own.across_sd_m], 1e-6)).tolist()
        if "-v" in sys.argv:
            print("   ", case.row, kind, "true", np.round(true), "seen", np.round(seen), np.round([own.along_sd_m, own.across_sd_m]), said,
                  [(r, p.part, round(p.along_m), round(p.across_m)) for r, p in named[:3]])  # fmt: skip
    print(
        f"{family:10s}  {kind:10s} {len(cases):4d} {len(cases) - len(known):8d} {np.mean(right):11.0%} {off_target(known, right):>15s} {outweighing(known, right):>26s} {np.mean(sign):8.0%} {np.mean(near):11.0%} "
        f"{np.mean(holds):12.0%} {max(sums, default=0.0):9.3f}   {dict(instead)}",
        flush=True,
    )


def off_target(known: list[Planted], right: list[bool]) -> str:
    """How many of the cases with a landing off the target were named first."""
    some = [r for case, r in zip(known, right, strict=True) if case.off_target]
    return f"{sum(some)} of {len(some)}"


def outweighing(known: list[Planted], right: list[bool]) -> str:
    """The same where the planted error outweighs all the rest as well, and the middle of the rest."""
    some = [r for case, r in zip(known, right, strict=True) if case.outweighs and case.off_target]
    return f"{sum(some)} of {len(some)}, rest {np.median([case.rest_m for case in known]):.0f} m"


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()]
    names = [a for a in sys.argv[1:] if a in OTHERS] or list(OTHERS)
    main(*(numbers + [5, 820_000][len(numbers) :]), names)
