"""Injected single errors: does the budget of the miss put the metres on the right cause, and do its intervals hold?

Run: python benchmarks/budget.py [JUMPS] [FIRST_SEED]. Every jump is a made-up one (gusty, sheared air; a drawn canopy and
receiver) whose pilot follows a plan with one error; the debrief gets the recording and the plan, nothing else.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analyser.debrief import Debrief, debrief_recording
from analyser.flight import Trim
from analyser.pattern import Gate, Leg, Pattern, to_landing_frame
from analyser.plan import plan_pattern, surface_wind
from analyser.replay import CAUSES, BudgetRow, Cause, budget
from analyser.settings import Canopy, PatternSetup, Settings, Site, WindPoint
from analyser.synthetic.air import Air
from analyser.synthetic.followed import PlanErrors, fly_plan
from analyser.synthetic.pilot import Habits
from analyser.synthetic.setup import Setup, draw_setup
from analyser.synthetic.truth import SyntheticJump
from analyser.wind.profile import WindProfile

ERRORS: tuple[tuple[str, Cause], ...] = (
    ("final turned 60 ft late", "base leg"),
    ("entry 80 m off", "entry"),
    ("wind misread by 3 m/s", "wind"),
    ("deep brakes on final", "final leg"),
    ("base 5 s too long", "base leg"),
)
BRAKE = 0.85
MOST_WIND = 0.65
TYPED_SD_MPS = (0.2, 0.1)
HEIGHTS = np.arange(0.0, 601.0, 25.0)


@dataclass(frozen=True, slots=True, eq=False)
class Injected:
    """A made-up jump with one error, its twin without, and the debrief of the first."""

    error: str
    cause: Cause
    jump: SyntheticJump
    twin: SyntheticJump
    plan: Pattern
    setup: Setup
    debrief: Debrief


def profile_of(air: Air, shift: tuple[float, float] = (0.0, 0.0)) -> WindProfile:
    """The mean wind of made-up air as a profile, moved by a vector."""
    east, north = air.mean(HEIGHTS)
    k = HEIGHTS.shape[0]
    return WindProfile(
        HEIGHTS.copy(),
        east + shift[0],
        north + shift[1],
        np.zeros((2 * k, 2 * k)),
        ("measured",) * k,
        ("",) * k,
    )


def fit_for_a_plan(seed: int) -> Setup:
    """The first setup from ``seed`` on (in steps of 100,000) whose wind leaves room for a pattern."""
    for again in range(50):
        setup = draw_setup(seed + 100_000 * again)
        speed = np.hypot(*setup.air.mean(HEIGHTS[HEIGHTS <= 350.0]))
        if float(np.max(speed)) < MOST_WIND * setup.canopy.airspeed_mps:
            return setup
    raise ValueError(f"no moderate wind from seed {seed} on")


def typed_trim(setup: Setup, *, exact: bool = True) -> Trim:
    """The trim a jumper knows from earlier jumps: true, or true but for an error of the stated size."""
    rng = np.random.default_rng([setup.seed, 31])
    speeds = np.array([setup.canopy.airspeed_mps, setup.canopy.sink_mps])
    errors = (0.0 if exact else 1.0) * np.array(TYPED_SD_MPS) * rng.standard_normal(2)
    airspeed, sink = (speeds + errors).tolist()
    return Trim(airspeed, sink, setup.turn_bank_deg, setup.elevation_m)


def settings_for(
    plan_wind: WindProfile,
    setup: Setup,
    target: tuple[float, float],
    plan: Pattern,
    *,
    typed: bool,
    exact: bool = True,
) -> Settings:
    """What a jumper would have typed: target, wind of the plan, heights, direction and hand; the wing's trim where ``typed``."""
    rows = tuple(
        WindPoint(float(h), float(np.hypot(e, n)), float(np.degrees(np.arctan2(-e, -n)) % 360.0))
        for h, e, n in zip(plan_wind.agl_m, plan_wind.east, plan_wind.north, strict=True)
    )
    trim = typed_trim(setup, exact=exact)
    canopy = Canopy(
        airspeed_mps=trim.airspeed_mps,
        sink_mps=trim.sink_mps,
        airspeed_sd_mps=TYPED_SD_MPS[0],
        sink_sd_mps=TYPED_SD_MPS[1],
        bank_deg=setup.turn_bank_deg,
    )
    return Settings(
        site=Site(target=target),
        canopy=canopy if typed else Canopy(bank_deg=setup.turn_bank_deg),
        pattern=PatternSetup(landing_deg=plan.landing_deg, hand=plan.hand or "left"),
        wind=rows,
    )


def injected(seed: int, number: int, *, gusts: bool = True, exact: bool = True) -> Injected:
    """One jump with the error of that number, flown twice: with it and without; not ``exact``: the typed trim is off as well."""
    error, cause = ERRORS[number]
    rng = np.random.default_rng([seed, 77])
    setup = fit_for_a_plan(seed)
    angle = rng.uniform(0.0, 2.0 * math.pi)
    way = math.cos(angle), math.sin(angle)
    shift = (3.0 * way[0], 3.0 * way[1]) if number == 2 else (0.0, 0.0)
    assumed = profile_of(setup.air, shift)
    landing = float(np.degrees(np.arctan2(*(-w for w in surface_wind(profile_of(setup.air))))) % 360.0)
    plan = plan_pattern(
        PatternSetup(),
        typed_trim(setup, exact=exact),
        assumed,
        hand="right" if setup.side > 0 else "left",
        landing_deg=landing,
    )
    errors = (
        PlanErrors(final_late_m=18.288),
        PlanErrors(entry_m=(80.0 * way[0], 80.0 * way[1])),
        PlanErrors(),
        PlanErrors(final_brake=BRAKE),
        PlanErrors(base_long_s=5.0),
    )[number]
    jump, twin = (_fly(setup, plan, landing, e, gusts) for e in (errors, PlanErrors()))
    target = (jump.truth.target_lat, jump.truth.target_lon)
    told = settings_for(assumed, setup, target, plan, typed=True, exact=exact)
    return Injected(error, cause, jump, twin, plan, setup, debrief_recording(jump.recording, told))


def _fly(setup: Setup, plan: Pattern, landing: float, errors: PlanErrors, gusts: bool) -> SyntheticJump:
    return fly_plan(
        [(g.name, g.agl_m, g.east_m, g.north_m, g.track_deg) for g in plan.gates],
        landing_deg=landing,
        airspeed_mps=setup.canopy.airspeed_mps,
        sink_mps=setup.canopy.sink_mps,
        air=setup.air,
        seed=setup.seed,
        bank_deg=setup.turn_bank_deg,
        errors=errors,
        gusts=gusts,
        receiver=setup.receiver,
        canopy=replace(setup.canopy, bank_deg=setup.turn_bank_deg),
        habits=Habits(
            wander_deg=1.0 if gusts else 0.0,
            brake_share=0.35,
            final_brake_share=0.0,
            final_brake=errors.final_brake,
        ),
    )


def shares(case: Injected) -> tuple[float, float]:
    """The right cause's share of the miss: of its metres along the miss, and of the metres of all rows."""
    return shares_of(case.debrief.budget, case.cause)


def shares_of(budget_rows: Iterable[BudgetRow], cause: Cause) -> tuple[float, float]:
    """The same of any budget."""
    rows = {r.cause: np.array([r.along_m, r.across_m]) for r in budget_rows}
    total = sum(rows.values())
    right = rows[cause]
    along = float(right @ total / max(float(total @ total), 1e-9))
    return along, float(np.hypot(*right) / max(sum(float(np.hypot(*r)) for r in rows.values()), 1e-9))


def true_budget(case: Injected) -> dict[Cause, BudgetRow]:
    """The same sum with nothing estimated: true wind, true trim, true flight, turns where they truly ended."""
    truth, seen = case.jump.truth, case.debrief
    t = truth.t_utc_s - seen.track.start_utc_s
    track = replace(
        seen.track,
        t_s=t,
        east_m=truth.east_m.copy(),
        north_m=truth.north_m.copy(),
        agl_m=truth.agl_m.copy(),
        v_east=np.gradient(truth.east_m, t),
        v_north=np.gradient(truth.north_m, t),
        v_up=np.gradient(truth.agl_m, t),
        agl_sd_m=0.0,
        position_sd_m=0.0,
    )
    landing_s = float((truth.landing_utc_s or 0.0) - seen.track.start_utc_s)
    begins = [g.utc_s - seen.track.start_utc_s for g in truth.gates] + [landing_s]
    legs, gates = [], []
    for g, begin, end in zip(truth.gates, begins, begins[1:], strict=False):
        start = float(np.interp(-g.end_agl_m, -truth.agl_m, t))
        figures = (g.heading_deg, g.track_deg)
        legs.append(Leg(g.name, start, end, g.agl_m, 0.0, g.end_agl_m, 0.0, *figures, 0.0, 0.0, 0.0))
        gates.append(Gate(g.name, g.agl_m, g.east_m, g.north_m, *figures, t_s=begin))
    flown = replace(seen.flown, legs=tuple(legs), gates=tuple(gates))
    along, across = to_landing_frame(truth.landing_east_m, truth.landing_north_m, seen.landing.landing_deg)
    landing = replace(
        seen.landing,
        east_m=truth.landing_east_m,
        north_m=truth.landing_north_m,
        along_m=along,
        across_m=across,
    )
    wing = case.setup.canopy
    trim = Trim(wing.airspeed_mps, wing.sink_mps, case.setup.turn_bank_deg, case.setup.elevation_m)
    rows = budget(case.plan, flown, landing, trim, profile_of(case.setup.air), track=track, draws=2)
    return {r.cause: r for r in rows}


def deviations(case: Injected) -> list[tuple[Cause, float, float]]:
    """Cause, estimate minus truth [m], and stated standard deviation, for along and across of every row that was told apart."""
    truth = true_budget(case)
    out = []
    for r in case.debrief.budget:
        if not r.reason:
            out.append((r.cause, r.along_m - truth[r.cause].along_m, r.along_sd_m))
            out.append((r.cause, r.across_m - truth[r.cause].across_m, r.across_sd_m))
    return out


def report_intervals(cases: list[Injected]) -> None:
    """Print how far the rows lie from the truth and how often the intervals hold it."""
    rows = [d for c in cases for d in deviations(c)]
    print("\nrow            error rms   stated sd   95 % holds   50 % holds")
    for cause in (*CAUSES, "all"):
        error = np.array([e for name, e, _ in rows if cause in (name, "all")])
        sd = np.array([s for name, _, s in rows if cause in (name, "all")])
        z = np.abs(error) / np.maximum(sd, 1e-9)
        print(
            f"{cause:13s} {np.sqrt(np.mean(error**2)):7.1f} m {np.sqrt(np.mean(sd**2)):9.1f} m {np.mean(z <= 1.96):11.0%} {np.mean(z <= 0.674):12.0%}"
        )


def main(jumps: int = 20, first: int = 110_000) -> None:
    """Print both tables: the right cause's share for each injected error, and the intervals of all rows."""
    print(
        f"{'injected error':26s} jumps  miss  share of the miss: median  >=70 %   of all rows: median  >=70 %   nothing estimated: >=70 %"
    )
    everything: list[Injected] = []
    for number, (error, _) in enumerate(ERRORS):
        cases = [injected(first + 1000 * number + i, number) for i in range(jumps)]
        used = [c for c in cases if c.debrief.budget]
        found = np.array([shares(c) for c in used]).reshape(-1, 2)
        ceiling = np.mean([shares_of(true_budget(c).values(), c.cause)[0] >= 0.7 for c in used])
        miss = np.median([c.debrief.landing.offset_m for c in used])
        print(
            f"{error:26s} {len(used):3d}/{len(cases):3d} {miss:5.0f}    {np.median(found[:, 0]):6.0%} {np.mean(found[:, 0] >= 0.7):6.0%}"
            f"       {np.median(found[:, 1]):6.0%} {np.mean(found[:, 1] >= 0.7):6.0%}           {ceiling:6.0%}",
            flush=True,
        )
        rest = range(jumps, jumps + max(jumps // 2, 1))
        everything += [injected(first + 1000 * number + i, number, exact=False) for i in rest]
    print("\nwith a typed trim that is off by its stated error as well:", end="")
    report_intervals([c for c in everything if c.debrief.budget])


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
