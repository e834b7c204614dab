"""The usual trim speeds, for a plan before the first debrief: by the wing loading, or those of a student canopy.

Steady glide: weight over area = ½ ρ V² C at sea-level density 1.225 kg/m³ (ISO 2533), with a coefficient of 0.6 and a glide of 2.6 in full
flight, and a wing loading of 0.8 lb/ft² for a student canopy: common practice, from memory. Wings and lines differ: 12 % on each
speed (ours).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

from analyser.atmosphere import G_MPS2
from analyser.plan.thresholds import PLAN
from analyser.settings import Settings
from analyser.units import POUND_KG, SQUARE_FOOT_M2

__all__ = ["Usual", "usual_speeds", "with_usual_trim"]


def usual_speeds(wing_loading_lb_ft2: float | None = None) -> tuple[float, float]:
    """Horizontal airspeed and sink in full flight at sea level [m/s] for a wing loading [lb/ft²]; None: a student canopy's.

    >>> [round(v, 1) for v in usual_speeds(1.0)]
    [10.7, 4.1]
    """
    loading = PLAN.student_lb_ft2 if wing_loading_lb_ft2 is None else wing_loading_lb_ft2
    pressure = loading * POUND_KG * G_MPS2 / SQUARE_FOOT_M2
    speed = math.sqrt(2.0 * pressure / (PLAN.density_kgm3 * PLAN.coefficient))
    angle = math.atan(1.0 / PLAN.glide)
    return speed * math.cos(angle), speed * math.sin(angle)


class Usual(NamedTuple):
    """What to say of usual speeds: a template over its values in SI units, and a short ``label`` beside the speeds themselves."""

    text: str
    values: dict[str, float | str | None]
    label: str


def with_usual_trim(settings: Settings) -> tuple[Settings, Usual | None]:
    """The settings with the usual speed for each that is missing, and what to say of it; None where both were given."""
    wing = settings.canopy
    if wing.airspeed_mps is not None and wing.sink_mps is not None:
        return settings, None
    loading = wing.wing_loading_lb_ft2
    airspeed, sink = usual_speeds(loading)
    whose = "a student canopy" if loading is None else f"a wing loading of {loading:.2f} lb/ft²"
    canopy = replace(
        wing,
        airspeed_mps=wing.airspeed_mps or airspeed,
        airspeed_sd_mps=wing.airspeed_sd_mps if wing.airspeed_mps else PLAN.usual_spread * airspeed,
        sink_mps=wing.sink_mps or sink,
        sink_sd_mps=wing.sink_sd_mps if wing.sink_mps else PLAN.usual_spread * sink,
    )
    missing = [n for n, v in (("airspeed", wing.airspeed_mps), ("sink", wing.sink_mps)) if v is None]
    values: dict[str, float | str | None] = {
        "airspeed_mps": canopy.airspeed_mps,
        "airspeed_sd_mps": canopy.airspeed_sd_mps,
        "sink_mps": canopy.sink_mps,
        "sink_sd_mps": canopy.sink_sd_mps,
    }
    said = (
        f"The {' and '.join(missing)} of the canopy {'is' if len(missing) == 1 else 'are'} not given. The usual speeds for {whose} are used: "
        "{airspeed_mps:speed} forward and {sink_mps:speed} down. A debrief measures your own."
    )
    which = "speeds" if len(missing) == 2 else missing[0]
    return replace(settings, canopy=canopy), Usual(said, values, f"the usual {which} for {whose}")
