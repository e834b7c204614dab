"""Made-up jumps with a single error: a plan for the wind, a pilot who follows it but for one thing, and the debrief of the recording.

Every jump has gusty, sheared air, a drawn canopy and receiver; the debrief gets the recording and what a jumper would have typed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import tests_path  # noqa: F401
from worlds.followed import PlanErrors, fly_plan

from analyser.debrief import Debrief, debrief_recording
from analyser.flight import Trim
from analyser.pattern import Pattern
from analyser.plan import plan_pattern, surface_wind
from analyser.replay import BudgetRow, Cause
from analyser.settings import Canopy, PatternSetup, Settings, Site, WindPoint
from analyser.synthetic.air import Air
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
    """A made-up jump with one error, its twin without, what the jumper typed, and the debrief of the first.

    A wind misread has no twin by flight: the pilot flew what was planned.
    """

    error: str
    cause: Cause
    jump: SyntheticJump
    twin: SyntheticJump
    plan: Pattern
    setup: Setup
    told: Settings
    debrief: Debrief

    def twin_budget(self) -> tuple[BudgetRow, ...]:
        """The budget of the twin, its own recording debriefed with the same plan; empty where there is no twin."""
        if self.cause == "wind":
            return ()
        truth = self.twin.truth
        site = replace(self.told.site, target=(truth.target_lat, truth.target_lon))
        return debrief_recording(self.twin.recording, replace(self.told, site=site)).budget


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
    return Injected(error, cause, jump, twin, plan, setup, told, debrief_recording(jump.recording, told))


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
