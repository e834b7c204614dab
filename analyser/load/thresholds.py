"""What it takes to be of one load, and what the errors of approaches and winds of a load rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.thresholds import PRACTICE, number
from analyser.units import FOOT_M

__all__ = ["LOAD", "LoadThresholds"]


@dataclass(frozen=True, init=False, repr=False, eq=False)
class LoadThresholds:
    """The numbers of :mod:`analyser.load`."""

    # who was in it
    run_s: float = number(150.0, "s", "one run of an aeroplane with everybody leaving takes less")
    other_run: float = number(10.0, "1", "runs apart: two jumps are not even tried as one load")
    field_m: float = number(6000.0, "m", "landings of one load, somebody far off included")
    run_mps: float = number(40.0, "m/s", "a jump run over the ground, at the least")
    fastest_mps: float = number(75.0, "m/s", "and at the most")
    off_run_m: float = number(500.0, "m", "how far an exit may lie off the run that others flew")
    off_run_opened: float = number(3.0, "1", "times that where only an opening is known")
    level_run_m: float = number(150.0, "m", "heights of two exits of one run differ by less")
    level_run_mps: float = number(5.0, "m/s", "and by so much more with the time between them")
    seen_fixes: int = number(2, "1", "fixes before the exit, or the recording does not hold it")
    twin_m: float = number(6.0, "m", "two receivers on one body, their slow errors on top")
    twin_s: float = number(40.0, "s", "so long beside each other under canopy")
    twin_landed_s: float = number(3.0, "s", "and down within so much")
    # the ride
    flying_mps: float = number(20.0, "m/s", "an aeroplane that climbs is faster, a car to the runway seldom")
    flying_m: float = number(40.0, "m", "height above which it flies")
    shortest_s: float = number(12.0, "s", "a shorter ride tells neither clock nor aeroplane")
    before_exit_s: float = number(3.0, "s", "the exit is found to about that")
    most_s: float = number(6.0, "s", "clocks further apart are taken for wrong, not for late")
    one_aeroplane_m: float = number(30.0, "m", "two receivers in one cabin, their slow errors on top")
    seats_m: float = number(1.5, "m", "how far two people sit apart, one axis, 1 sigma")
    slow_s: float = number(
        150.0, "s", "how long a slow error of a place stays about the same; textbooks have one to ten minutes"
    )
    fewest_rise_m: float = number(300.0, "m", "a climb of less tells no scale of heights")
    scale_sd: float = number(0.036, "1", "as for the heights of turns: air 10 K off the standard's")
    scale_alike: float = number(0.3, "1", "of that between two altimeters of one kind")
    clock_sd_s: float = number(
        1.2, "s", "a receiver writes a place up to a second late, and some devices put their own clock on it"
    )
    # order
    exit_sd_s: float = number(1.0, "s", "how well a track shows an exit")
    opening_sd_s: float = number(1.0, "s", "how well it shows an opening")
    least_landed_sd_s: float = number(0.1, "s", "how well it shows a touchdown, at the best")
    unknown_landed_sd_s: float = number(1.0, "s", "where the debrief does not say")
    sure: float = number(1.96, "1", "errors apart: who was first is told", "95 % of a normal error")
    # hands and directions
    field_deg: float = number(45.0, "deg", "so far from a direction the field fixes still counts as that one")
    other_deg: float = number(60.0, "deg", "two who land so far apart have not landed the same way")
    turn_deg: float = number(30.0, "deg", "a smaller turn is a correction")
    # nearest approach
    close_m: float = number(15.0, "m", "canopies nearer than this are worth a talk")
    low_m: float = number(1000.0 * FOOT_M, "m", "height of the pattern", PRACTICE)
    sure_close: float = number(
        0.8, "1", "chance of being close from which it is said outright: of what is said so, few are false"
    )
    maybe: float = number(0.1, "1", "a smaller chance of being close is not worth a remark")
    step_s: float = number(0.5, "s", "paths are compared so often")
    draws: int = number(600, "1", "draws of the errors")
    most_times: int = number(300, "1", "moments of a pair that are drawn, at the most")
    level_m2: float = number(2.0, "m²", "the levels of the ground that two heights count from, taken at rest")
    rest_s: float = number(20.0, "s", "how long after the touchdown that is")
    free: float = number(4.0, "1", "the usual errors count as so many values beside those of the day")
    nearest_m: float = number(0.5, "m", "two canopies are no points: nearer is no smaller")
    plane: float = number(
        1.0,
        "1",
        "power of the distance in the prior: a length in a plane is made too long by errors, a prior flat in the distance takes that out",
    )
    # one wind
    change_s: float = number(
        1200.0, "s", "over this time a change of the wind is forgotten; a load is down in a quarter of it"
    )
    change_m: float = number(500.0, "m", "over this height it is another change")
    changes_mps: tuple[float, ...] = number(
        (0.25, 0.5, 1.0, 2.0, 4.0),
        "m/s",
        "how much a wind may change in a long time, weighed by the evidence",
    )
    wider: tuple[float, ...] = number(
        (1.0, 1.25, 1.6, 2.0, 2.6, 3.4, 4.5),
        "1",
        "by what the errors of one jumper's fit may be too small, weighed likewise",
    )
    wider_odds: tuple[float, ...] = number(
        (0.38, 0.24, 0.15, 0.1, 0.07, 0.04, 0.02), "1", "before the evidence"
    )
    far_apart: float = number(
        1.6, "1", "whose errors are too small by so much is said to differ from the others"
    )
    rounds: int = number(2, "1", "everybody is held against all others so often")
    least_share: float = number(1e-6, "1", "a smaller share of the evidence changes no figure")
    evidence_m: tuple[float, ...] = number(
        (50.0, 150.0, 300.0, 500.0, 700.0, 900.0), "m", "heights whose winds weigh these"
    )
    common: float = number(
        0.15, "1", "what all of a load err alike beside their own errors, as part of a fit's variance, aloft"
    )
    common_low: float = number(0.7, "1", "and so much more at the ground, where everybody lands one way")
    common_fall_m: float = number(100.0, "m", "height over which that falls off")
    free_mps: float = number(20.0, "m/s", "the wind of a height, before anything is known of it")
    grain_mps: float = number(
        0.05, "m/s", "keeps matrices regular: a profile has more heights than its fit has knots"
    )
    # agreement
    heights_m: tuple[float, ...] = number(
        (100.0, 300.0, 600.0, 900.0), "m", "winds are compared there: errors nearly independent"
    )
    chi2_95: float = number(
        5.991,
        "1",
        "two winds agree within their 95 % error below it",
        "chi squared, two degrees of freedom: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4",
    )
    agree_change_mps: float = number(
        0.8, "m/s", "how much a wind changes between two canopies some minutes apart"
    )


LOAD: Final = LoadThresholds()
