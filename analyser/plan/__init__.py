"""plan_pattern: PatternSetup + Trim + WindProfile -> the pattern that ends on the target."""

from analyser.plan.draw import (
    choose_hand,
    choose_landing_deg,
    orders_from,
    orders_of,
    pattern_of,
    plan_pattern,
    surface_wind,
    tracks_of,
)

__all__ = [
    "choose_hand",
    "choose_landing_deg",
    "orders_from",
    "orders_of",
    "pattern_of",
    "plan_pattern",
    "surface_wind",
    "tracks_of",
]
