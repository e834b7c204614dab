"""Method: the thresholds of the rules, each with unit and source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from analyser.units import FOOT_M, MPH_MPS

__all__ = ["Method", "Threshold"]


class Threshold(NamedTuple):
    """A number the method rests on: value, unit and where it comes from."""

    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class Method:
    """Every threshold of the analysis with its unit and source. The report prints those it used."""

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
