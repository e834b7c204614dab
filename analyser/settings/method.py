"""Method: all thresholds of the rules together."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.settings.rule_thresholds import Threshold
from analyser.settings.wind_check_thresholds import WindCheckThresholds

__all__ = ["Method"]


@dataclass(frozen=True, slots=True)
class Method(WindCheckThresholds):
    """Every threshold of the analysis with its unit and source. The report prints those it used."""

    final_brake_slope: Threshold = Threshold(
        1.3,
        "1",
        "the same on final, where brakes may be deep: 1 at half brakes, about 2 and more in deep ones, from memory",
    )
    final_brake_slope_sd: Threshold = Threshold(
        0.6, "1", "ours: deep brakes sink like shallow ones and take more of the airspeed"
    )
    braked_sink: Threshold = Threshold(
        0.08,
        "1",
        "ours: sink of the final below full flight's from which on its ground speed is not trusted to show the wind",
    )
    advice_least: Threshold = Threshold(
        15.0, "m", "ours: gusts alone move the landings of equal flights in equal mean wind by about so much"
    )
