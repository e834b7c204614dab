"""Every prior and scale of the wind fit: its value here, its unit and where it comes from in :data:`SOURCES`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["SOURCES", "Priors"]


@dataclass(frozen=True, slots=True)
class Priors:
    """Numbers the fit rests on besides the data; SI units; see :data:`SOURCES`."""

    level: float = 8.0
    exponent: float = 0.15
    exponent_sd: float = 0.07
    turn: float = 0.27
    wiggle_m: float = 130.0
    wiggles: tuple[float, ...] = (0.35, 0.52, 0.8, 1.3)
    gust_floor: float = 0.17
    gust_intensity: float = 0.11
    gust_decay_m: float = 600.0
    gust_length_m: float = 40.0
    gust_length_top_m: float = 300.0
    gust_lengths: tuple[float, ...] = (1.0, 2.0)
    gusts: tuple[tuple[float, int], ...] = ((1.0, 0), (0.65, 0), (1.55, 0), (1.0, 1), (1.6, 1), (2.6, 1))
    gust_log_sd: float = 0.5
    wanders: tuple[tuple[float, float], ...] = ((0.5, 10.0), (0.2, 5.0), (1.0, 10.0))
    known_wanders: tuple[tuple[float, float], ...] = ((0.15, 3.0),)
    loose_wanders: tuple[tuple[float, float], ...] = ((0.025, 4.0), (0.05, 4.0), (0.10, 4.0))
    loose_heading: float = 0.02
    loose_heading_s: float = 60.0
    drift: float = 0.18
    sink_drift: float = 0.30
    airspeed: float = 11.0
    airspeed_sd: float = 2.5
    energy: float = 0.7
    energy_sd: float = 0.3
    brake_slope: float = 2.1
    brake_slope_sd: float = 0.6
    load: float = 0.5
    load_sd: float = 1.0
    surge_sd: float = 0.6
    dive: float = 0.5
    dive_sd: float = 0.5
    echo_sd: tuple[float, ...] = (0.12, 0.2, 0.15, 0.12, 0.1, 0.08, 0.05)
    sink_echo_sd: tuple[float, ...] = (0.12, 0.12, 0.2, 0.2, 0.2, 0.15, 0.1, 0.1)
    blur: float = 0.18
    blur_sd: float = 0.35
    chord_share: float = 0.3
    turn_errors: tuple[float, ...] = (0.35, 0.0, 0.8, 1.6)
    turn_error_s: float = 5.0
    sink_sd: float = 0.6
    brake_s: float = 9.0
    brake_states: tuple[tuple[float, float, float], ...] = (
        (0.73, 0.0, 0.1),
        (0.21, -0.8, 0.3),
        (0.06, 0.0, 0.8),
    )
    brake_missed: float = 1.5
    scatter: float = 1.0
    scatter_s: float = 10.0
    period_s: float = 4.5
    damping: float = 0.6
    sink_lag_s: float = 0.8
    stay: tuple[float, float, float, float] = (-0.25, 0.18, -0.2, 0.6)
    stay_energy: tuple[tuple[float, float], ...] = ((1.0, 0.6), (0.0, 0.4))
    stay_every_s: float = 30.0
    stay_lengths_s: tuple[float, ...] = (10.0, 40.0)


SOURCES: Final[dict[str, tuple[str, str]]] = {
    "level": (
        "m/s",
        "ours: one component of the wind at 300 m, wide enough for any wind in which jumps are made",
    ),
    "exponent": (
        "1",
        "power law of the wind with height: 1/7 classical, 0.2 in IEC 61400-1, 0.14 offshore, 0.11 extreme",
    ),
    "exponent_sd": ("1", "spread of the published exponents, 0.05 to 0.3 from unstable to stable air"),
    "turn": (
        "rad per 1,000 m",
        "wind turns 10–30° over land through the lowest kilometre (from memory: Ekman layer)",
    ),
    "wiggle_m": ("m", "ours: length over which smooth departures from power law and even veer hold together"),
    "wiggles": (
        "m/s",
        "ours: their size, averaged over by evidence; exponent and veer are uncertain in the same proportion",
    ),
    "gust_floor": ("m/s", "ours: gusts that remain aloft and in calm air, per component"),
    "gust_intensity": (
        "1",
        "turbulence intensity 0.1–0.2 over open land (ESDU, WMO/TD-1555); 0.11 per component at canopy height",
    ),
    "gust_decay_m": ("m", "ours: height over which gusts fade"),
    "gust_length_m": ("m", "length scale of gusts near the ground; order of IEC 61400-1, 0.7·z below 60 m"),
    "gust_length_top_m": ("m", "length scale aloft; 340 m in IEC 61400-1"),
    "gusts": (
        "1, index",
        "ours: factors on the usual gustiness and which length goes with it, averaged over by evidence",
    ),
    "gust_log_sd": ("1", "ours: prior spread of that factor's logarithm"),
    "wanders": (
        "m/s, s",
        "ours: airspeed about its trim and how long that lasts, averaged over by evidence; canopy, restless canopy, soaring",
    ),
    "loose_wanders": (
        "share of the airspeed, s",
        "ours: the same for anything that does not sink like a canopy",
    ),
    "loose_heading": (
        "share of the airspeed",
        "ours: airspeed that goes with the heading (lift on one side of a circle); set on a sailplane's and a drone's pitot",
    ),
    "loose_heading_s": ("s", "ours: how long that lasts"),
    "energy": (
        "1",
        "height exchanged for speed: 1 is the full exchange V·dV = −g·dh; 0.66 on the circling sailplane's own pitot",
    ),
    "energy_sd": ("1", "ours"),
    "drift": ("m/√s", "slow position error: 0.5–2.5 m over a minute, as a random walk"),
    "sink_drift": ("m/√s", "slow height error: 1.5 times the position's"),
    "airspeed": ("m/s", "8.9 m/s in a student handbook to 14 m/s for intermediate loadings, sea level"),
    "airspeed_sd": ("m/s", "ours: wide about it"),
    "brake_slope": (
        "1",
        "airspeed lost per sink lost in brakes: half brakes take 25–35 % of airspeed at an unchanged glide ratio near 2.7",
    ),
    "brake_slope_sd": ("1", "ours"),
    "load": (
        "1",
        "1 = steady gliding turn at constant lift coefficient (textbook); less where a toggle held in the turn slows it",
    ),
    "load_sd": ("1", "ours"),
    "surge_sd": ("1", "ours: departure from the second-order response after turns"),
    "blur": ("s²", "ours: receivers smooth over up to 0.6 s; the square shortens turns"),
    "blur_sd": ("s²", "ours"),
    "chord_share": ("1", "ours: error of the turn's chord over a step, of what it takes from the airspeed"),
    "sink_sd": ("m/s", "ours: changes of sink by brakes"),
    "brake_s": ("s", "ours: how long brakes stay where they are"),
    "brake_states": (
        "1, m/s, m/s",
        "ours: share, mean and sd of the sink in full flight, in brakes (half brakes take about a quarter of it), in anything else",
    ),
    "brake_missed": ("1", "ours: variance of what is missed of the brakes, over that of the mixture"),
    "scatter": ("1", "ours: airspeed lost at the same sink differs, shallow and deep brakes sink alike"),
    "scatter_s": ("s", "ours: over which that stays the same"),
    "period_s": ("s", "airspeed answers as a pendulum does: period about 4.5 s"),
    "damping": ("1", "and damping about 0.6"),
    "sink_lag_s": ("s", "sink answers within a second"),
    "gust_lengths": (
        "1",
        "ours: factors on the lengths of gusts, averaged over by evidence: 340 m near the ground of IEC 61400-1, up to 530 m aloft in MIL-F-8785C",
    ),
    "known_wanders": (
        "m/s, s",
        "ours: the wander where an instrument measured the airspeed",
    ),
    "dive": (
        "1",
        "ours: share of the speed set free by the height lost in and after turns that the flight shows: 1 is all of it",
    ),
    "dive_sd": (
        "1",
        "ours",
    ),
    "echo_sd": (
        "1",
        "ours: share of the trim airspeed that a turn of 0.5 rad/s takes or gives by how long ago it was; learned on each flight",
    ),
    "sink_echo_sd": (
        "1",
        "ours: airspeed per sink by how long ago it was; the height of a second or two comes back as speed, learned on each flight",
    ),
    "turn_errors": (
        "m/s",
        "ours: airspeed in and near turns beyond the model, averaged over by evidence; pilots turn with one toggle or a riser, and swing",
    ),
    "turn_error_s": (
        "s",
        "ours: how long that lasts",
    ),
    "stay": (
        "share, share, m/s, m/s",
        "ours: brakes held: mean and sd of what they take from the trim airspeed beyond the sink's part, and of what they change of the sink; half brakes take 25–35 %, full 35–50 %",
    ),
    "stay_energy": (
        "1, 1",
        "speed given up is height gained, V·dV = −g·dh (textbook), or the change comes too slowly to show; how often each",
    ),
    "stay_every_s": ("s", "ours: how often brakes are held, in the mean"),
    "stay_lengths_s": (
        "s",
        "ours: for how long: a mixture of two exponential laws, a check of the wind and a leg",
    ),
}
