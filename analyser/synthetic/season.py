"""A season with planted habits: six invented jumpers at the invented field, every jump flown, with the plan it was made for."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analyser.synthetic.air import Air, power_law_air
from analyser.synthetic.cut import cut
from analyser.synthetic.demo import FIELD, WINGS, DemoPlan, Wing, demo_setup, forecast, plan_toml, site_toml
from analyser.synthetic.holding import HOLDING_STYLES
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import build
from analyser.synthetic.truth import SyntheticJump
from analyser.synthetic.write import fit_bytes
from analyser.units import KNOT_MPS
from analyser.writing import write_bytes

__all__ = ["JUMPERS", "Habit", "SeasonJump", "season", "write_season"]

FIRST_DAY_UTC_S = 1_775_001_600.0  # 2026-04-01
DAYS = 180
BEFORE_EXIT_S = 90.0
MOST_WIND = 0.9  # of the airspeed, on final
HEIGHTS_FT = {"crosswind": 1200.0, "downwind": 1000.0, "base": 600.0, "final": 300.0}


@dataclass(frozen=True, slots=True)
class Habit:
    """What is planted in a jumper: final turned lower by so many feet; share of a strong wind (from 10 kt at 100 m on) that
    the forecast they plan with has; the wing flown from the middle of the season on; skill (errors are multiplied) at its
    beginning and its end."""

    name: str
    text: str
    wing: str
    final_low_ft: float = 0.0
    strong_share: float = 1.0
    later_wing: str | None = None
    error_first: float = 1.0
    error_last: float = 1.0


JUMPERS = (
    Habit("Ansa Brill", "turns final 50 ft low", "Heron 210", final_low_ft=50.0),
    Habit("Corin Vale", "takes strong wind for weaker than it is", "Heron 210", strong_share=0.65),
    Habit("Dara Quist", "changes canopy in the middle", "Curlew 260", later_wing="Plover 170"),
    Habit("Elmar Tove", "improves", "Curlew 260", error_first=2.6, error_last=0.5),
    Habit("Fenna Oost", "none", "Heron 210"),
    Habit("Gil Marant", "none", "Plover 170"),
)
RECEIVER = Receiver(name="5 Hz", rate_hz=5.0, white_m=0.15, drift_m=1.0, height_drift_m=1.5)


@dataclass(frozen=True, slots=True, eq=False)
class SeasonJump:
    """One jump of the season: whose, the how-manieth, the jump itself, and the plan it was made for."""

    habit: Habit
    number: int
    jump: SyntheticJump
    plan: DemoPlan

    @property
    def stem(self) -> str:
        """File name without suffix."""
        return f"{self.number:03d}"


def season(seed: int, jumps: int = 50, jumpers: tuple[Habit, ...] = JUMPERS) -> Iterator[SeasonJump]:
    """The jumps of every jumper in the order flown, built one by one.

    Everybody errs a little everywhere: 25 ft (1 sigma) at each gate, 12 m per axis at the entry, a forecast off by
    0.5 m/s per component; the habits come on top.
    """
    for place, habit in enumerate(jumpers):
        rng = np.random.default_rng(np.random.SeedSequence([seed, 83, place]))
        days = np.sort(rng.uniform(0.0, DAYS, jumps))
        for i in range(jumps):
            own = np.random.default_rng(np.random.SeedSequence([seed, 89, place, i]))
            yield _jump(habit, i, jumps, float(days[i]), own, seed * 100_000 + place * 10_000 + i)


def _jump(habit: Habit, i: int, jumps: int, day: float, rng: np.random.Generator, seed: int) -> SeasonJump:
    done = i / max(jumps - 1, 1)
    skill = habit.error_first + (habit.error_last - habit.error_first) * done
    wing = WINGS[habit.later_wing if habit.later_wing and i >= jumps // 2 else habit.wing]
    air, plan = _day(habit, wing, rng, skill)
    errors = skill * rng.normal(0.0, 25.0, 4)
    errors[3] -= habit.final_low_ft
    setup = demo_setup(
        seed,
        plan,
        air,
        height_error_ft=np.clip(errors, -140.0, 140.0).tolist(),
        entry_error_m=(float(skill * rng.normal(0.0, 12.0)), float(skill * rng.normal(0.0, 12.0))),
    )
    setup = replace(
        setup,
        start_utc_s=FIRST_DAY_UTC_S + 86_400.0 * math.floor(day) + 43_200.0 + round(36_000.0 * (day % 1.0)),
        receiver=replace(RECEIVER, height_offset_m=float(rng.normal(0.0, 4.0))),
        style=HOLDING_STYLES[int(rng.integers(len(HOLDING_STYLES)))],
        open_agl_m=float(rng.uniform(1000.0, 1300.0)),
        after_s=60.0,
    )
    whole = build(setup)
    fall = next(p for p in whole.truth.phases if p.name == "free fall")
    return SeasonJump(habit, i + 1, cut(whole, start_utc_s=fall.start_utc_s - BEFORE_EXIT_S), plan)


def _weather(rng: np.random.Generator) -> Air:
    """A day fit for jumping: 1 to 13 kt at 10 m, mostly along the runway."""
    knots = float(np.clip(rng.gamma(4.0, 1.6), 1.0, 13.0))
    along = FIELD.runway_deg + (180.0 if rng.random() < 0.6 else 0.0)
    return power_law_air(
        rng,
        u10_mps=knots * KNOT_MPS,
        factor=float(rng.uniform(1.3, 1.9)),
        extra_mps=float(rng.uniform(0.0, 1.0)),
        from_deg=along + float(rng.normal(0.0, 30.0)),
        veer_deg=float(rng.uniform(-5.0, 30.0)),
        gust_intensity=float(rng.uniform(0.05, 0.14)),
    )


def _day(habit: Habit, wing: Wing, rng: np.random.Generator, skill: float) -> tuple[Air, DemoPlan]:
    """Weather and plan of a day; with a forecast in which the wing hardly gets forward on final nobody goes up: another day."""
    while True:
        air = _weather(rng)
        plan = _plan(habit, wing, air, rng, skill)
        low, high = (row[1] for row in plan.wind[:2])  # at the ground and at 1000 ft
        if (low + (high - low) * HEIGHTS_FT["final"] / 1000.0) * KNOT_MPS < MOST_WIND * wing.airspeed_mps:
            return air, plan


def _plan(habit: Habit, wing: Wing, air: Air, rng: np.random.Generator, skill: float) -> DemoPlan:
    """The plan of the day: forecast, landing into it, the hand that keeps the pattern off the runway."""
    strong = math.hypot(*(float(w) for w in air.mean(100.0))) > 10.0 * KNOT_MPS
    wind = forecast(air, rng, 0.5 * skill, habit.strong_share if strong else 1.0)
    landing = wind[0][2]
    off = math.remainder(landing - FIELD.runway_deg, 360.0)
    hand = "right" if abs(off) < 90.0 else "left"
    return DemoPlan(habit.name, wing, hand, landing, HEIGHTS_FT, wind)


def write_season(folder: Path, seed: int, jumps: int = 50) -> list[Path]:
    """A folder per jumper with NNN.fit and NNN.toml (the plan) for every jump and a ``logbook.toml`` that ties them together.

    Returns the track files.
    """
    write_bytes(folder / "logbook.toml", site_toml())
    tracks: list[Path] = []
    rows: dict[Path, list[str]] = {}
    for row in season(seed, jumps):
        own = folder / row.habit.name.lower().replace(" ", "_")
        tracks.append(write_bytes(own / f"{row.stem}.fit", fit_bytes(row.jump.fixes)))
        write_bytes(own / f"{row.stem}.toml", plan_toml(row.plan, site=False))
        lines = rows.setdefault(own, ["[jumper]", f'name = "{row.habit.name}"'])
        lines += ["", "[[jump]]", f'file = "{row.stem}.fit"', f'plan = "{row.stem}.toml"']
    for own, lines in rows.items():
        write_bytes(own / "logbook.toml", ("\n".join(lines) + "\n").encode())
    return tracks
