"""What the legs are found by."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from analyser.thresholds import PRACTICE, number

__all__ = ["LEGS", "LegThresholds"]

CHECKPOINTS = "published checkpoints of 1,000, 600 and 300 ft (skydiveschool.org); a crosswind leg above them: common practice"


@dataclass(frozen=True, init=False, repr=False, eq=False)
class LegThresholds:
    """The numbers of :mod:`analyser.legs`, by module; tuples by leg: outside, crosswind, downwind, base, final (and detour)."""

    # segments: straight stretches and turns
    turn_dps: float = number(3.5, "deg/s", "slower changes of heading are a straight stretch that wanders")
    bend_dps: float = number(1.4, "deg/s", "still slower ones are a steady heading")
    turn_deg: float = number(6.0, "deg", "smaller changes of heading are none")
    arc_s: float = number(8.0, "s", "a longer bend slower than arc_dps is neither a turn nor a leg")
    arc_dps: float = number(7.0, "deg/s", "the rate of such a bend")
    arc_deg: float = number(100.0, "deg", "and the change of heading it reaches")
    short_s: float = number(
        2.0, "s", "a shorter straight stretch between two turns of one hand belongs to the turn"
    )
    # pauses: two turns that look like one
    pause_deg: float = number(35.0, "deg", "least change of heading on either side of a pause in a turn")
    pause_depth: float = number(0.45, "1", "of the rate on either side; a steady turn keeps its rate")
    shallow_depth: float = number(
        0.7, "1", "the same averaged over a second and more, which hides how level a wing was"
    )
    level_s: float = number(
        0.75, "s", "a wing level for so long still seems to turn at shallow_depth of its rate"
    )
    steady_s: float = number(1.0, "s", "either side has to keep its rate for so long")
    longest_pause_s: float = number(2.0, "s", "a longer one is a straight stretch")
    turning_dps: float = number(7.0, "deg/s", "a turn as slow as this on either side has no pause")
    shortest_s: float = number(1.6, "s", "no straight stretch and no turn is shorter")
    sway_deg: float = number(8.0, "deg", "a smaller change the other way between two turns belongs to them")
    # swing: a wing that never comes to rest under its pilot
    swing_deg: float = number(12.0, "deg", "it swings when it turns to and fro by as much")
    longest_swing_s: float = number(
        3.5, "s", "from one side to the other, at most: half the period of a pendulum of 12 m"
    )
    swings: int = number(4, "1", "and so often without a pause")
    # edges, turns: when a turn begins and ends
    step_s: float = number(0.05, "s", "grid of the begin")
    lags_s: tuple[float, ...] = number(
        (0.25, 0.5, 0.8), "s", "how late the bank answers the toggles, first order"
    )
    lag_share: tuple[float, ...] = number((0.25, 0.5, 0.25), "1", "how often it is so")
    white_deg: float = number(
        2.0, "deg", "error of one heading from neighbouring fixes; only its size beside the wander counts"
    )
    wander_deg: float = number(2.0, "deg", "how far a straight stretch sways")
    wander_s: float = number(5.0, "s", "and for how long")
    edge_sd_s: float = number(
        0.5, "s", "how the answer differs from wing to wing: bank builds up in 0.3 to 1.5 s"
    )
    level_sd_m: float = number(1.0, "m", "error of the level at rest, beyond the drift since the turn")
    rests_mps: float = number(2.5, "m/s", "over ground, slower is at rest")
    rests_sink_mps: float = number(0.8, "m/s", "up or down, less is at rest")
    rest_s: float = number(34.0, "s", "a shorter rest tells nothing of the drift of heights")
    straight_s: float = number(1.2, "s", "shorter straight flight is too short to fit a level to")
    barometer_scale_sd: float = number(
        0.036,
        "1",
        "a barometer's height is off by the share by which the air is warmer: 10 K of 280 K",
        "hypsometric equation; the 10 K ours",
    )
    unsaid_scale_sd: float = number(
        0.007, "1", "the same of a receiver that does not say: seldom a barometer"
    )
    # find: where the pattern may be
    below_m: float = number(600.0, "m", "a pattern starts lower", CHECKPOINTS)
    last_s: float = number(300.0, "s", "the last minutes of a flight hold its pattern")
    crosswind_planned: float = number(
        3.0, "odds", "of a crosswind leg where it is planned, over those without a plan"
    )
    crosswind_not_planned: float = number(0.2, "odds", "where the plan has none")
    s_turn_deg: float = number(
        25.0, "deg", "a smaller change of heading on final is a correction", "trade figure: 20 to 30 degrees"
    )
    least_flight_s: float = number(8.0, "s", "a shorter canopy flight near the ground has no pattern")
    wind_below_m: float = number(
        350.0, "m", "the wind has to be known somewhere below, or headings are taken over ground"
    )
    moves_mps: float = number(1.5, "m/s", "over ground: slower than this the track is no direction")
    circled_below_m: float = number(
        300.0, "m", "a turn of circle_deg onto final that begins lower is no pattern"
    )
    # begins: where a leg begins
    unseen: float = number(
        0.5,
        "odds",
        "of a first leg that goes on on the heading of the holding, against one that begins with a turn",
    )
    correction_deg: float = number(
        15.0, "deg", "nobody turns onto final by less: a final on the same heading began before"
    )
    least_leg_s: float = number(3.0, "s", "so much of a leg is left at the latest begin")
    quarter_deg: float = number(120.0, "deg", "a longer turn onto a crosswind leg began in the holding")
    two_turns_deg: float = number(
        140.0, "deg", "a turn onto final by more may be two, with a base too short to see"
    )
    two_turns: float = number(0.5, "1", "share of such turns that are two")
    circle_deg: float = number(
        200.0, "deg", "a turn onto the first leg by more began as a circle of the holding"
    )
    # landing: the direction of landing
    misread_mps: float = number(
        2.0, "m/s", "a pilot knows the wind no better, so a slow leg may lie far from where it was meant to"
    )
    more_finals: float = number(2.0, "log odds", "against one more stretch of final")
    drift_deg: float = number(
        12.0, "deg", "nose and track of final so far apart give two directions of the pattern"
    )
    by_nose: float = number(-0.7, "log odds", "of a pattern square to the nose")
    last_of_final_s: float = number(12.0, "s", "the landing direction is the track over so much of the final")
    weave_s: float = number(6.0, "s", "a straight stretch of an S-turn is shorter")
    # scores: which stretch is which leg
    height_m: tuple[float, ...] = number(
        (math.nan, 350.0, 280.0, 180.0, 90.0), "m", "where turns onto the legs begin", CHECKPOINTS
    )
    height_spread: tuple[float, ...] = number(
        (math.nan, 0.28, 0.33, 0.38, 0.55), "log", "how these heights scatter", PRACTICE
    )
    direction_deg: tuple[float, ...] = number(
        (math.nan, -90.0, 180.0, 90.0, 0.0),
        "deg",
        "over ground from that of landing, left hand",
        "definition of the pattern",
    )
    follow: tuple[tuple[float, ...], ...] = number(
        (
            (0.68, 0.07, 0.17, 0.03, 0.05, 0.00),
            (0.00, 0.06, 0.86, 0.02, 0.02, 0.04),
            (0.00, 0.00, 0.08, 0.74, 0.14, 0.04),
            (0.00, 0.00, 0.00, 0.07, 0.90, 0.03),
            (0.00, 0.00, 0.00, 0.00, 1.00, 0.00),
            (0.00, 0.00, 0.05, 0.20, 0.60, 0.15),
        ),
        "1",
        "how often a stretch of one kind (row) is followed by one of another (column)",
        PRACTICE,
    )
    first: tuple[float, ...] = number(
        (0.68, 0.09, 0.11, 0.04, 0.07, 0.01), "1", "how often a pattern's span begins with each", PRACTICE
    )
    any_height: float = number(
        -1.1, "log density", "per unit of log height, of a turn that belongs to no leg"
    )
    high_final_m: float = number(260.0, "m", "a final that begins higher follows no pattern")
    square_sd_deg: tuple[float, ...] = number(
        (math.nan, 12.0, 20.0, 20.0),
        "deg",
        "how far from square or opposite a leg lies in a wind foreseen; only that tells a crosswind leg",
    )
    wrong_hand: float = number(0.04, "1", "share of turns within a pattern that go to the other hand")
    weave_deg: float = number(85.0, "deg", "an S-turn on final leaves the landing heading by less")
    weave: float = number(
        0.35, "1", "share of a step from final to final, for each further turn of more than 25 degrees"
    )


LEGS: Final = LegThresholds()
