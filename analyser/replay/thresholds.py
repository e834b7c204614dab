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
    mark_m: float = number(
        30.0,
        "m",
        "where the advised way from the flight ends farther from the planned place, the mark is at its end",
    )
    crab_step_deg: float = number(5.0, "deg", "an advised crab to so many degrees")
    metric_step_m: float = number(
        5.0, "m", "an advised height to so many metres, where the plan is not in round feet"
    )
    slowed: float = number(0.95, "1", "of the sink of full flight: below it a leg was flown in brakes")
    no_wind_mps: float = number(1.0, "m/s", "a weaker cross wind is not named")
    other_side_m: float = number(100.0, "m", "the other side is not advised for a smaller miss")
    other_side_share: float = number(0.5, "1", "nor where it leaves more of the miss")
    pattern_m: float = number(300.0, "m", "the wind has to be known below it for any advice")
    least_drop_m: float = number(8.0, "m", "a leg that loses less height has no parts")
    blocks: int = number(12, "1", "stretches of a leg whose speeds are compared, at the most")
    least_block_s: float = number(1.5, "s", "the shortest of them")
    heading_sd_deg: float = number(1.0, "deg", "error of the mean heading of a leg, gusts apart")
    reached_sd_deg: float = number(
        5.0, "deg", "the same where a leg is hardly straight between its turns: a turn's quarter of a second"
    )
    low_wind_m: float = number(30.0, "m", "the wind that makes the gusts is read at this height")
    into_turns_sd: float = number(
        0.3, "1", "of what a heading brings, times the time of the turn onto it beside that of the leg"
    )
    into_turns_most_sd: float = number(0.45, "1", "the same of a leg shorter than its turn, at the most")
    braked_final: float = number(
        0.5, "1", "how often a final is flown in some brakes; common practice, no source"
    )
    unlikely: float = number(
        0.05, "1", "of brakes and more wind near the ground, the one with less chance is left out"
    )
    one_sided: float = number(
        0.84,
        "1",
        "of the certainty, where the sign is known from elsewhere: 1.645 over 1.96 of the normal law",
    )
    turn_speed_sd: float = number(
        0.3, "1", "of the way through a turn: wings of other hands slow down by so much in it, ours speed up"
    )
    let_up_lags: float = number(
        2.0, "1", "roll lags before a turn's end, when the nose leaves the way to another heading"
    )
    habit_m: float = number(
        40.0, "m", "size of a habit where there is one, near the spreads of made-up good pilots"
    )
    likely: float = number(
        0.25, "1", "share of jumpers who have one, for each part: of a dozen parts three are habits"
    )
    chance_m: float = number(15.0, "m", "from jump to jump, all parts together")
    chance_of_m: tuple[float, ...] = number(
        (15.0, 12.0, 8.0, 8.0, 15.0, 12.0),
        "m",
        "the same of each part: height, place, direction, speed, wind, turn",
    )
    wind_factors: tuple[float, ...] = number(
        (0.5, 0.9, 1.3), "1", "other winds: as strong as this one by these factors"
    )
    wind_turns_deg: tuple[float, ...] = number((-40.0, 0.0, 40.0), "deg", "and turned by these angles")
    most_wind: float = number(0.65, "1", "of the airspeed: no stronger wind is drawn")
    expected_jumps: float = number(
        2.0, "1", "the chance that is expected counts as much as the spread of so many jumps"
    )
    most_growth: float = number(3.0, "1", "a part grows no more than by this factor in another wind")
    least_gain_m: float = number(6.0, "m", "a smaller gain is not advised")
    sure_gain: float = number(
        0.84, "1", "nor one that is less sure, if the part is a habit: one standard deviation of a normal law"
    )
    least_rest_m: float = number(
        40.0, "m", "the size of a habit; good pilots' smaller errors add up to about half of it"
    )
    habit_draws: int = number(80, "1", "of habits")
    chance_draws: int = number(12, "1", "of chance, for each other wind")
    habit_seed: int = number(11, "1", "of these draws: same input, same bytes")


REPLAY: Final = ReplayThresholds()
