"""Who flies: habits drawn once for a jump."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .kinematic import ornstein

__all__ = ["BRAKING", "OPEN_STYLES", "STYLE_NAMES", "Persona", "draw_persona"]

STYLE_NAMES = ("figures of eight", "spirals", "wind checks", "crabbing", "into wind")
OPEN_STYLES = ("straight on", "there and back", "two headings")
BRAKING = {
    "none": 0.36,
    "part of final": 0.2,
    "final": 0.14,
    "base and final": 0.16,
    "front risers": 0.07,
    "rear risers": 0.07,
}


@dataclass(frozen=True, slots=True, eq=False)
class Persona:
    """``stow_share`` airspeed in stowed brakes over trim; ``stowed_s`` from inflation to release; ``slow_turn_dps`` in between
    (fast where there are twists); ``cruise_brake`` brakes never let up; ``turned_before_deg`` turn onto the first leg;
    ``gates_m`` heights where the turns onto ``legs`` begin; ``off_deg`` heading errors of the legs; ``crabs`` holds the heading that
    makes a leg's track good in the mean wind (nobody drawn does; for trials of one error in a good flight)."""

    style: str
    side: int
    wander: list[float]
    turn_rps: float
    roll_out_s: float
    stowed_s: float
    stow_share: float
    slow_turn_dps: float
    cruise_brake: float
    brake_share: float
    riser_share: float
    legs: tuple[str, ...]
    gates_m: tuple[float, ...]
    off_deg: tuple[float, ...]
    turned_before_deg: float
    pattern_share: float
    by_track: bool
    off_wind_deg: float
    braking: str
    brake: float
    weaves: int
    flare_s: float
    misread: tuple[float, float]
    label: str
    crabs: bool = False


def draw_persona(rng: np.random.Generator, style: str | None = None) -> Persona:
    """Pilots as they come, careful and careless; ``style`` instead of the drawn way of holding."""
    drawn = STYLE_NAMES[int(rng.integers(len(STYLE_NAMES)))]
    braking = str(rng.choice(list(BRAKING), p=list(BRAKING.values())))
    stowed, slow, said = _stowed(rng)
    legs, gates, before, kind = _legs(rng)
    by_track = bool(rng.random() < 0.4)
    cruise = float(rng.uniform(0.1, 0.3)) if rng.random() < 0.08 else 0.0
    weaves = int(rng.integers(1, 3)) if rng.random() < 0.1 else 0
    words = [
        said,
        kind,
        braking if braking != "none" else "",
        "by track" if by_track else "",
        "brakes always" if cruise else "",
        "S-turns" if weaves else "",
    ]
    return Persona(
        style=style or drawn,
        side=1 if rng.random() < 0.4 else -1,
        wander=ornstein(
            rng, 20_000, math.radians(float(rng.uniform(1.0, 4.0))), float(rng.uniform(3.0, 8.0))
        ).tolist(),
        turn_rps=math.radians(float(rng.uniform(18.0, 55.0))),
        roll_out_s=float(rng.uniform(0.4, 0.9)),
        stowed_s=stowed,
        stow_share=float(rng.uniform(0.55, 0.65)),
        slow_turn_dps=slow,
        cruise_brake=cruise,
        brake_share=float(rng.uniform(0.1, 0.6)),
        riser_share=0.15 if rng.random() < 0.3 else 0.0,
        legs=legs,
        gates_m=gates,
        off_deg=tuple(rng.normal(0.0, 5.0, len(legs)).tolist()),
        turned_before_deg=before,
        pattern_share=float(rng.uniform(0.7, 1.1)),
        by_track=by_track,
        off_wind_deg=_off_wind(rng),
        braking=braking,
        brake=float(rng.uniform(0.15, 0.55)) if "riser" not in braking else float(rng.uniform(0.4, 1.0)),
        weaves=weaves,
        flare_s=float(rng.uniform(0.8, 1.3)),
        misread=tuple(rng.normal(0.0, 0.7, 2).tolist()),
        label=", ".join(w for w in words if w),
    )


def _stowed(rng: np.random.Generator) -> tuple[float, float, str]:
    """Seconds to the release (3 to 30), slow turn meanwhile, and what it is called."""
    seconds = float(np.clip(rng.lognormal(math.log(8.0), 0.6), 3.0, 30.0))
    what = rng.random()
    if what < 0.07:
        return max(seconds, 8.0), float(rng.choice([-1.0, 1.0]) * rng.uniform(15.0, 60.0)), "twists"
    if what < 0.35:
        return seconds, float(rng.choice([-1.0, 1.0]) * rng.uniform(2.0, 10.0)), "slow turn"
    return seconds, float(rng.normal(0.0, 0.5)), ""


def _legs(rng: np.random.Generator) -> tuple[tuple[str, ...], tuple[float, ...], float, str]:
    """Legs, heights of their gates, the turn onto the first, a word for what is odd."""
    final = float(rng.uniform(70.0, 125.0))
    short = rng.random() < 0.06
    base = final + float(rng.uniform(18.0, 30.0) if short else rng.uniform(50.0, 110.0))
    downwind = base + float(rng.uniform(70.0, 140.0))
    if rng.random() < 0.5:
        crosswind = downwind + float(rng.uniform(45.0, 110.0))
        names = ("crosswind", "downwind", "base", "final")
        return (
            names,
            (crosswind, downwind, base, final),
            float(rng.uniform(45.0, 110.0)),
            "short base" if short else "",
        )
    before = float(rng.uniform(150.0, 179.0))
    return names3(), (downwind, base, final), before, "short base" if short else ""


def names3() -> tuple[str, ...]:
    return ("downwind", "base", "final")


def _off_wind(rng: np.random.Generator) -> float:
    """Angle of the landing off the wind: most land near it, a quarter anywhere within 40°."""
    return float(
        rng.uniform(-40.0, 40.0) if rng.random() < 0.25 else np.clip(rng.normal(0.0, 9.0), -40.0, 40.0)
    )
