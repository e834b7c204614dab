"""The thresholds of wind checks and the other stretches of holding, each with unit and source."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.settings.rule_thresholds import RuleThresholds, Threshold

__all__ = ["WindCheckThresholds"]


@dataclass(frozen=True, slots=True)
class WindCheckThresholds(RuleThresholds):
    """The second part of :class:`analyser.settings.method.Method`."""

    holding_into: Threshold = Threshold(
        45.0,
        "deg",
        "ours: nose within it of straight into the wind is holding, within it of straight down running",
    )
    holding_backing: Threshold = Threshold(
        0.7, "m/s", "ours: into the wind, backwards over the ground faster than this is backing up"
    )
    holding_nil: Threshold = Threshold(
        2.0, "m/s", "ours: the ground nearly stands still in a wind check; common practice, no source"
    )
    holding_slowed: Threshold = Threshold(
        0.93, "1", "ours: airspeed over trim below which a wing counts as slowed in a wind check"
    )
    holding_shortest: Threshold = Threshold(5.0, "s", "ours: the shortest stretch of holding that is named")
    wind_check_brake_slope: Threshold = Threshold(
        1.0,
        "1",
        "airspeed lost per sink lost in a wind check: glide about unchanged at half brakes, from memory",
    )
    wind_check_brake_slope_sd: Threshold = Threshold(
        0.45, "1", "ours: wings differ, and sink is not all of it"
    )
