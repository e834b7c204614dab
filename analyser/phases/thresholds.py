"""What the phases are found by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.thresholds import PRACTICE, number

__all__ = ["PHASES", "PhaseThresholds"]

FALL = "published: 120 mph face to earth, 120 to 160 mph in ordinary positions (uspa.org, SIM 6-3)"


@dataclass(frozen=True, init=False, repr=False, eq=False)
class PhaseThresholds:
    """The numbers of :mod:`analyser.phases`, by module."""

    # events: exit, opening, steady canopy
    fast_mps: float = number(15.0, "m/s", "down: faster than a canopy in straight flight, slower than a fall")
    sure_mps: float = number(28.0, "m/s", "down: faster than a canopy in a spiral")
    terminal_mps: float = number(54.0, "m/s", "where the speed of a fall ends", FALL)
    opening_s: float = number(4.0, "s", "an opening takes three to six seconds", PRACTICE)
    moment_hole_s: float = number(2.5, "s", "a longer time without fixes hides an exit or an opening")
    least_drop_m: float = number(25.0, "m", "a fall loses more height")
    most_runs: int = number(500, "1", "spirals and glitches of one flight are fewer")
    slow_wing_mps: float = number(
        16.0, "m/s", "over ground: a wing that soars, or a canopy; jump aircraft are faster"
    )
    climbs_mps: float = number(12.0, "m/s", "what rises faster, slow over the ground, is a height that leaps")
    leapt_s: float = number(240.0, "s", "a receiver's height comes back from a leap within that")
    drops_mps2: float = number(6.0, "m/s²", "downwards: let go, not banked into a spiral")
    lasts_s: float = number(
        15.0, "s", "a fast descent that lasts longer is one, and so is the slower one after it"
    )
    most_hole_s: float = number(30.0, "s", "a longer hole tells no speed of falling")
    climbs_out_m: float = number(
        40.0, "m", "height still lost after a rest, or after a fast stretch: it was not the end"
    )
    exit_slows_mps: float = number(
        8.0, "m/s", "lost over ground within ten seconds where a low jump leaves the aircraft"
    )
    exit_above_m: float = number(100.0, "m", "such an exit lies higher above the landing")
    level_mps: float = number(
        1.5, "m/s", "down: an aircraft before an exit sinks less, a canopy after it more"
    )
    slowing_ends_mps2: float = number(1.5, "m/s²", "over ground: from less on the canopy is steady")
    # find: the whole flight
    falls_too_fast_mps: float = number(150.0, "m/s", "mean of a whole fall that is none", FALL)
    sinks_too_fast_mps: float = number(
        9.0, "m/s", "median of a canopy flight; up to 8 m/s for small wings", PRACTICE
    )
    lowest_m: float = number(40.0, "m", "no canopy is steady lower than this")
    clock_sd_s: float = number(
        0.5, "s", "how old a written place may be; a receiver that filters lags by up to a second"
    )
    flat_m: float = number(60.0, "m", "a recording whose heights differ less holds no flight")
    # ground_events, cuts, day: several flights of a recording
    plane_mps: float = number(
        25.0, "m/s", "over ground: aircraft are faster (jump run 36 to 51), a canopy seldom"
    )
    ground_hole_s: float = number(4.0, "s", "a longer time without fixes hides a landing")
    cut_hole_s: float = number(10.0, "s", "a longer hole may hide a phase, where the height changes too")
    cut_hole_m: float = number(60.0, "m", "change of height over such a hole")
    least_flight_m: float = number(150.0, "m", "a flight climbs and comes down by more")
    most_flights: int = number(1000, "1", "a week of an aeroplane that never rests holds some three hundred")
    slow_flight_mps: float = number(20.0, "m/s", "over ground: slower and low is a landed aircraft")
    day_gap_s: float = number(60.0, "s", "a longer time without fixes parts two flights of a day")
    walks_mps: float = number(6.0, "m/s", "over ground: nobody walks faster")
    hole_moved_m: float = number(15.0, "m", "moved in a hole: it was no rest")
    hole_fell_m: float = number(6.0, "m", "risen or fallen in a hole: it was no rest")
    hole_lost_m: float = number(10.0, "m", "lost in a hole that ends at rest: the landing was in it")
    rests_s: float = number(60.0, "s", "a shorter rest with height lost after it was none")
    moving_mps: float = number(15.0, "m/s", "over ground at the first fix: the recording begins in flight")
    rolls_s: float = number(
        7.5, "s", "from the touchdown to rest: an aircraft rolls out longer than a jumper runs"
    )
    rolls_mps: float = number(14.0, "m/s", "over ground after it: faster than a jumper runs")
    # no_exit: descents that no sport canopy flew
    leap_m: float = number(100.0, "m", "between two fixes, and faster than leap_mps: the heights leap")
    leap_mps: float = number(90.0, "m/s", "faster than any fall or climb", FALL)
    climbs_m: float = number(60.0, "m", "climbed before the descent, slower than any jump aircraft")
    gains_m: float = number(35.0, "m", "height won on the way down: more than lifts give a sport canopy")
    flattest: float = number(4.6, "1", "glide of a whole descent; sport canopies 2 to 3.5", PRACTICE)
    least_sink_mps: float = number(1.9, "m/s", "sink of a whole descent; sport canopies 3 to 8", PRACTICE)
    stands_s: float = number(3.0, "s", "at rest on the way down: a track on the ground")
    stands_mps: float = number(2.5, "m/s", "over ground, slower rests")
    stands_sink_mps: float = number(0.8, "m/s", "up or down, less rests")
    left_m: float = number(25.0, "m", "height still to lose while it rests")
    flown_s: float = number(180.0, "s", "before the descent, in which an aircraft would have been seen")
    loiters_m: float = number(
        28.0, "m", "less height than any canopy loses in loiters_s, deep brakes included"
    )
    loiters_s: float = number(20.0, "s", "the time of loiters_m")
    rail_mps: float = number(0.06, "m/s", "drift off one straight line: no canopy keeps to it like that")
    rail_s: float = number(45.0, "s", "for that long")
    turns_deg: float = number(25.0, "deg", "the sharpest change of direction: less is no turn")
    turns_s: float = number(10.0, "s", "within that time")
    never_s: float = number(150.0, "s", "nobody flies down so long without a turn")
    least_descent_s: float = number(20.0, "s", "nothing is said of a shorter way down")
    least_line_m: float = number(100.0, "m", "nor of a shorter line")
    # uncounted: what is no steady flight
    stalled: float = number(0.5, "1", "share of the airspeed below which a canopy has stalled or collapsed")
    stall_sinks: float = number(1.3, "1", "of the usual sink, which it then exceeds")
    stall_s: float = number(2.0, "s", "the shortest that is named")
    stall_around_s: float = number(3.0, "s", "before and after it that do not count either")
    flare_m: float = number(10.0, "m", "a flare begins below")
    flare_s: float = number(8.0, "s", "and later than this before the touchdown")
    flare_sinks: float = number(0.6, "1", "of the usual sink: less is the flare")
    # air: what the later flight tells of wind and airspeed
    airspeed_mps: float = number(10.5, "m/s", "what sport canopies fly, the middle", PRACTICE)
    airspeed_sd_mps: float = number(2.5, "m/s", "how far they differ from it", PRACTICE)
    wind_sd_mps: float = number(8.0, "m/s", "what jumps are made in", PRACTICE)
    shear_sd: float = number(0.006, "1/s", "0.6 m/s in 100 m")
    wanders_mps: float = number(
        1.2, "m/s", "how far one second's airspeed lies off the mean, seconds in a row erring alike"
    )
    least_airspeed_mps: float = number(5.5, "m/s", "slower flies no sport canopy")
    most_airspeed_mps: float = number(20.0, "m/s", "faster flies none")
    looks_s: float = number(180.0, "s", "of the later flight that is looked at")
    # settled: from when the flight counts
    longest_s: float = number(60.0, "s", "brakes are released within it, or the flight is flown in them")
    later_s: float = number(36.0, "s", "from here on the flight most likely counts")
    recovers_s: float = number(
        4.0, "s", "from the release until the surge is over; a canopy answers within 3 to 5 s"
    )
    recovers_sd_s: float = number(1.2, "s", "how far that differs from wing to wing")
    no_fix_s: float = number(2.5, "s", "a second this far from a fix is not seen")
    usual_s: float = number(14.0, "s", "brakes stay stowed 3 to 30 s, mostly some ten", PRACTICE)
    usual_spread: float = number(0.7, "log", "how that scatters", PRACTICE)
    at_once: float = number(0.05, "1", "share of openings that end in full flight", PRACTICE)
    levels: tuple[float, ...] = number(
        (0.05, 0.2, 0.35, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.76),
        "1",
        "shares of the trim airspeed while it opens or hangs in stowed brakes",
    )
    level_weights: tuple[float, ...] = number(
        (0.03, 0.03, 0.05, 0.09, 0.14, 0.18, 0.18, 0.14, 0.1, 0.06), "1", "how likely each of them is"
    )
    level_sd: float = number(0.08, "1", "scatter of the airspeed's share in stowed brakes")
    flies_sd: float = number(0.11, "1", "the same in free flight")
    odd: float = number(0.15, "1", "share of seconds in stowed brakes that are anything")
    braked: float = number(0.7, "1", "share of the airspeed in brakes flown by hand")
    braked_sd: float = number(0.16, "1", "scatter of it")
    into_brakes_s: float = number(45.0, "s", "mean time of free flight before brakes")
    out_of_brakes_s: float = number(10.0, "s", "mean time in brakes")
    surge_low: float = number(0.3, "1", "share of the airspeed in the surge after the release: no less")
    surge_high: float = number(1.5, "1", "and no more")
    keeps: float = number(0.3, "1", "neighbouring seconds err alike: so much of each is news")
    # touchdown
    earliest_s: float = number(9.0, "s", "before the guess, which is where it came to rest")
    latest_s: float = number(4.0, "s", "after it")
    around_s: float = number(7.0, "s", "fixes on either side of these that are looked at")
    shape_sd_s: float = number(
        0.35, "s", "how far the shape of a flare and of the first steps moves the moment"
    )
    slows_s: tuple[float, ...] = number(
        (0.25, 0.6, 1.2, 2.2, 3.6, 5.5), "s", "in which run-out or slide take the speed away"
    )
    slowing_mps2: float = number(
        3.0, "m/s²", "friction 0.1 to 0.8 of g, from a run-out to feet that stop at once", PRACTICE
    )
    slowing_spread: float = number(0.9, "log", "how that scatters", PRACTICE)
    rough_place_m: float = number(
        1.0, "m", "what flare, steps and slow errors of the receiver leave of these shapes"
    )
    rough_height_m: float = number(0.3, "m", "the same of the height")
    flares_s: tuple[float, ...] = number(
        (1.0, 2.0, 3.0, 4.5), "s", "a flare takes one to four seconds", PRACTICE
    )
    height_sd: tuple[float, ...] = number(
        (30.0, 4.0, 4.0, 0.1, 0.01), "m, m/s, m/s, m/s², m/s³", "how far each part of the height's shape goes"
    )
    place_sd: tuple[float, ...] = number(
        (60.0, 8.0, 4.0, 0.25, 0.03, 1.2),
        "m, m/s, m/s, m/s², m/s³, m/s",
        "the same of the place, with the speed of the feet after all",
    )
    dense_hz: float = number(4.0, "Hz", "denser fixes are averaged")
    news_hz: float = number(2.0, "Hz", "neighbouring fixes err alike: no more of a second are news")


PHASES: Final = PhaseThresholds()
