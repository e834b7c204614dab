"""The thresholds of the rules about landing, turns and pattern, each with unit and source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from analyser.units import FOOT_M, MPH_MPS

__all__ = ["RuleThresholds", "Threshold"]


class Threshold(NamedTuple):
    """A number the method rests on: value, unit and where it comes from."""

    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class RuleThresholds:
    """The first part of :class:`analyser.settings.method.Method`."""

    strong_wind_ratio: Threshold = Threshold(
        0.8, "1", "ours: wind over airspeed from which the advice is to stay on the ground"
    )
    light_wind: Threshold = Threshold(3 * MPH_MPS, "m/s", "ours: below it the landing direction is free")
    certainty: Threshold = Threshold(
        2.0, "sd", "ours: a finding needs this many standard deviations beyond its threshold or from zero"
    )
    gate_height: Threshold = Threshold(
        50 * FOOT_M, "m", "ours: a turn this far from its planned height is worth a word"
    )
    gate_place: Threshold = Threshold(
        30.0, "m", "ours: a gate this far from its planned place is worth a word"
    )
    cause_metres: Threshold = Threshold(
        10.0, "m", "ours: a cause of the miss below the position error of the receiver is not named"
    )
    on_target: Threshold = Threshold(
        20.0, "m", "radius of USPA category H (65 ft): what counts as on the target here"
    )
    into_wind: Threshold = Threshold(
        45.0, "deg", "ours: beyond it the landing is called across, beyond 135° down the wind"
    )
    into_wind_good: Threshold = Threshold(
        20.0,
        "deg",
        "ours: within it the landing is called into the wind; the trade counts 20 to 30° on final as another heading",
    )
    s_turn: Threshold = Threshold(
        30.0, "deg", "ours, after the trade's measure of changes of 20 to 30° below the final gate"
    )
    full_turn: Threshold = Threshold(300.0, "deg", "ours: a turn one way by this much counts as a full turn")
    no_spiral_below: Threshold = Threshold(
        1000 * FOOT_M, "m", "no spirals below 1,000 ft: florida.skydivespaceland.com; a drop zone may differ"
    )
    last_turn: Threshold = Threshold(
        90.0, "deg", "turns above 90° onto final are named: drop zone rules, e.g. hoppafallskarm.se"
    )
    low_turn: Threshold = Threshold(
        100 * FOOT_M, "m", "no major turn below 100 ft: dropzone.com Skydiving Handbook ch. 6"
    )
    low_turn_change: Threshold = Threshold(
        30.0, "deg", "ours: the change of heading that counts as a turn near the ground"
    )
    straight_before_touchdown: Threshold = Threshold(
        10.0, "s", "at least 10 s on final before the flare: hectorcampillay.com, one instructor's notes"
    )
    flare_height: Threshold = Threshold(
        5.0, "m", "flare from about 12 ft with a margin; the sink before the flare ends here"
    )
    turning_rate: Threshold = Threshold(
        6.0, "deg/s", "ours: a heading that changes faster is turning; a 10° bank at 11 m/s makes 9°/s"
    )
    pattern_confidence: Threshold = Threshold(
        0.8, "1", "ours: below it a rule of the pattern's form (hand, last turn) stays silent"
    )
