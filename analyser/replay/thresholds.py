"""What the budget of a miss and the advice rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from analyser.thresholds import number

__all__ = ["REPLAY", "ReplayThresholds"]


@dataclass(frozen=True, init=False, repr=False, eq=False)
class ReplayThresholds:
    """The numbers of :mod:`analyser.replay`."""

    draws: int = number(250, "1", "flights in drawn winds, for the errors of the budget")
    seed: int = number(2025, "1", "of these draws: same input, same bytes")
    chi2_90: float = number(
        -2.0 * math.log(0.1),
        "1",
        "half axes of an ellipse that holds nine of ten",
        "chi squared, two degrees of freedom",
    )
    settle_s: float = number(1.0, "s", "from the end of a turn until the leg is looked at")
    settle_share: float = number(0.25, "1", "but no more of the leg")
    half_window_s: float = number(1.0, "s", "place and height are averaged so far to both sides")
    own_sd_m: float = number(1.0, "m", "error of the place where a turn ends, beyond the receiver's")
    shortest_final_s: float = number(5.0, "s", "brakes are not told on a shorter final")
    shared: float = number(0.5, "1", "share of a part that must show in its row for it to be a cause")
    place_step_m: float = number(10.0, "m", "an advised place is rounded to so many metres")
    crab_step_deg: float = number(5.0, "deg", "an advised crab to so many degrees")
    metric_step_m: float = number(
        5.0, "m", "an advised height to so many metres, where the plan is not in round feet"
    )
    slowed: float = number(0.95, "1", "of the sink of full flight: below it a leg was flown in brakes")
    no_wind_mps: float = number(1.0, "m/s", "a weaker cross wind is not named")
    other_side_m: float = number(100.0, "m", "the other side is not advised for a smaller miss")
    other_side_share: float = number(0.5, "1", "nor where it leaves more of the miss")


REPLAY: Final = ReplayThresholds()
