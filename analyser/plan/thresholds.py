"""What a plan is drawn by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.thresholds import number

__all__ = ["PLAN", "PlanThresholds"]

MEMORY = "common practice, from memory"


@dataclass(frozen=True, init=False, repr=False, eq=False)
class PlanThresholds:
    """The numbers of :mod:`analyser.plan`."""

    held_deg: float = number(1.0, "deg", "a leg that drifts further off its track is not held")
    surface_layer_m: float = number(
        100.0, "m", "the landing direction is chosen in the mean wind of this lowest layer"
    )
    near_ground_m: float = number(
        50.0, "m", "a wind given no higher than this is one near the ground: anemometers stand at 10 m"
    )
    given_sd: float = number(0.05, "1", "error of a typed speed that was given none, as a share of it")
    area_step_m: float = number(4.0, "m", "the path is held against keep-out areas at every so many metres")
    draws: int = number(400, "1", "flights in drawn winds, for the errors of a plan")
    seed: int = number(2026, "1", "of the draws of a plan: same input, same bytes")
    student_lb_ft2: float = number(0.8, "lb/ft²", "wing loading of a student canopy", MEMORY)
    coefficient: float = number(0.6, "1", "of the total air force in full flight", MEMORY)
    glide: float = number(2.6, "1", "in full flight", MEMORY)
    density_kgm3: float = number(1.225, "kg/m³", "of the air at sea level", "ISO 2533")
    usual_spread: float = number(0.12, "1", "how wings and lines differ, on each speed")


PLAN: Final = PlanThresholds()
