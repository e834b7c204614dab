"""The forward model: a canopy in a wind, and what its pilot does."""

from analyser.flight.air import Air, Trim, turn_figures, wind_known, wind_over_airspeed
from analyser.flight.path import Flight, LegFlown, Order, Start, State, fly

__all__ = [
    "Air",
    "Flight",
    "LegFlown",
    "Order",
    "Start",
    "State",
    "Trim",
    "fly",
    "turn_figures",
    "wind_known",
    "wind_over_airspeed",
]
