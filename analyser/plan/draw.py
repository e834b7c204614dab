"""plan_pattern: PatternSetup + Trim + WindProfile -> the pattern that ends on the target."""

from __future__ import annotations

import itertools
import math

import numpy as np

from analyser.angles import compass_deg, signed_difference_deg, wrap_360
from analyser.flight import Air, Flight, LegFlown, Order, Start, Trim, fly
from analyser.pattern import Gate, Hand, Leg, LegName, Pattern, Turn
from analyser.plan.thresholds import PLAN
from analyser.settings import PatternSetup, Settings
from analyser.wind.profile import WindProfile

__all__ = [
    "choose_hand",
    "choose_landing_deg",
    "orders_from",
    "orders_of",
    "pattern_of",
    "plan_pattern",
    "surface_wind",
    "tracks_of",
]


def tracks_of(hand: Hand, landing_deg: float) -> dict[LegName, float]:
    """Ground track of every leg [deg true]: a box about the landing direction, the turns by ``hand``."""
    side = 90.0 if hand == "left" else -90.0
    offsets: dict[LegName, float] = {"crosswind": -side, "downwind": 180.0, "base": side, "final": 0.0}
    return {name: float(wrap_360(landing_deg + offset)) for name, offset in offsets.items()}


def orders_of(setup: PatternSetup, hand: Hand, landing_deg: float) -> tuple[Order, ...]:
    """The planned legs as orders to fly: height of each turn, ground track, hand."""
    tracks = tracks_of(hand, landing_deg)
    names: tuple[LegName, ...] = ("crosswind", "downwind", "base", "final")
    heights = setup.heights_m
    return tuple(Order(name, heights[name], tracks[name], hand) for name in names if name in heights)


def orders_from(plan: Pattern, name: LegName) -> tuple[Order, ...]:
    """The orders of a drawn plan from the leg ``name`` on. Raises ``ValueError`` where the plan has no hand or direction."""
    if plan.hand is None or plan.landing_deg is None:
        raise ValueError("a pattern without hand or landing direction holds no orders")
    tracks = tracks_of(plan.hand, plan.landing_deg)
    orders = [Order(g.name, g.agl_m, tracks[g.name], plan.hand) for g in plan.gates]
    names = [o.name for o in orders]
    return tuple(orders[names.index(name) :])


def plan_pattern(
    setup: PatternSetup,
    trim: Trim,
    wind: WindProfile,
    *,
    hand: Hand,
    landing_deg: float,
    instant_turns: bool = False,
) -> Pattern:
    """The gates from which the pattern, flown at the planned heights, ends on the target.

    Parameters
    ----------
    setup : PatternSetup
        Heights at which the turn onto each leg begins [m above the landing area].
    trim : Trim
        Airspeed and sink in full flight [m/s at sea-level density], and the bank of the turns.
    wind : WindProfile
        The wind to plan for.
    hand : str
        ``"left"`` or ``"right"``.
    landing_deg : float
        Direction of flight on final [deg true].
    instant_turns : bool
        Corners without radius and height loss, as handbooks draw them.

    Returns
    -------
    Pattern
        Gates with places east and north of the target [m]. Where the cross wind is stronger than the airspeed the nose points
        into it, the leg drifts, and ``reason`` says so.

    Raises
    ------
    ValueError
        Where the heights do not fall from gate to gate.

    Notes
    -----
    Crosswind and base tracks are square to the final and the downwind track is parallel to it, the nose crabbing as the wind
    asks. The place needs no search: a flight's displacement does not depend on where it starts, so the pattern is flown once
    from anywhere and shifted to end on the target. The jumper is taken to be on the first leg already when it begins.

    Examples
    --------
    >>> forecast = WindProfile.from_points([(0, 4, 270), (300, 8, 270)])
    >>> pattern = plan_pattern(PatternSetup(), Trim(10.0, 4.0), forecast, hand="left", landing_deg=270.0)
    >>> [gate.name for gate in pattern.gates]
    ['downwind', 'base', 'final']
    >>> final = pattern.gate("final")
    >>> final.east_m > 0, round(final.agl_m)  # landing westwards, the final begins in the east, at 300 ft
    (True, 91)
    """
    orders = orders_of(setup, hand, landing_deg)
    heights = [float(o.turn_agl_m) for o in orders]
    if any(a <= b for a, b in itertools.pairwise(heights)) or heights[-1] <= 0.0:
        raise ValueError(
            f"the heights of the gates must fall from gate to gate and stay above 0, got {heights}"
        )
    air = Air.still(trim, wind)
    flight = fly(air, Start(0.0, 0.0, heights[0]), orders, instant_turns=instant_turns)
    return pattern_of(flight, hand, landing_deg, bank_deg=trim.bank_deg, shift=True)


def pattern_of(
    flight: Flight, hand: Hand, landing_deg: float, *, bank_deg: float, shift: bool = False
) -> Pattern:
    """The first of the flights as a Pattern, its turns flown at ``bank_deg``; ``shift`` moves it so that it ends on the origin."""
    end = flight.landing
    de, dn = (-float(end.east_m[0]), -float(end.north_m[0])) if shift else (0.0, 0.0)
    names = [leg.order.name for leg in flight.legs]
    loose = [
        leg.order.name for leg in flight.legs if _off_track_deg(leg) > PLAN.held_deg and _height_of(leg) > 0.0
    ]
    reason = ""
    if loose:
        reason = f"the wind is too strong to hold the track on: {', '.join(loose)}; the nose points into the wind and the leg drifts"
    return Pattern(
        kind="box" if "crosswind" in names else "three-leg",
        hand=hand,
        landing_deg=float(wrap_360(landing_deg)),
        legs=tuple(_leg(leg, bank_deg) for leg in flight.legs),
        gates=tuple(_gate(leg, de, dn) for leg in flight.legs),
        reason=reason,
        path=tuple((t, e + de, n + dn, h) for t, e, n, h in flight.path()),
    )


def _height_of(leg: LegFlown) -> float:
    return float(leg.turned.agl_m[0] - leg.end.agl_m[0])


def _vector(leg: LegFlown) -> tuple[float, float]:
    return (
        float(leg.end.east_m[0] - leg.turned.east_m[0]),
        float(leg.end.north_m[0] - leg.turned.north_m[0]),
    )


def _track_deg(leg: LegFlown) -> float:
    east, north = _vector(leg)
    wanted = float(np.ravel(leg.order.track_deg)[0])
    return wanted if np.hypot(east, north) < 0.5 else float(compass_deg(east, north))


def _off_track_deg(leg: LegFlown) -> float:
    wanted = float(np.ravel(leg.order.track_deg)[0])
    return abs(float(signed_difference_deg(_track_deg(leg), wanted)))


def _heading_deg(leg: LegFlown) -> float:
    """Heading in the middle of the leg: the mean of its ends by the short way."""
    a, b = float(leg.turned.heading_deg[0]), float(leg.end.heading_deg[0])
    return float(wrap_360(a + 0.5 * float(signed_difference_deg(b, a))))


def _gate(leg: LegFlown, de: float, dn: float) -> Gate:
    begin = leg.begin
    return Gate(
        name=leg.order.name,
        agl_m=float(begin.agl_m[0]),
        east_m=float(begin.east_m[0]) + de,
        north_m=float(begin.north_m[0]) + dn,
        heading_deg=_heading_deg(leg),
        track_deg=_track_deg(leg),
        t_s=float(begin.t_s[0]),
    )


def _leg(leg: LegFlown, bank_deg: float) -> Leg:
    length = float(np.hypot(*_vector(leg)))
    seconds = float(leg.end.t_s[0] - leg.turned.t_s[0])
    heading, track = _heading_deg(leg), _track_deg(leg)
    return Leg(
        name=leg.order.name,
        start_s=float(leg.turned.t_s[0]),
        end_s=float(leg.end.t_s[0]),
        turn_agl_m=float(leg.begin.agl_m[0]),
        turn_agl_sd_m=0.0,
        start_agl_m=float(leg.turned.agl_m[0]),
        end_agl_m=float(leg.end.agl_m[0]),
        heading_deg=heading,
        track_deg=track,
        crab_deg=float(signed_difference_deg(heading, track)),
        ground_speed_mps=length / seconds if seconds > 0.0 else 0.0,
        length_m=length,
        turn=_turn(leg, bank_deg),
    )


def _turn(leg: LegFlown, bank_deg: float) -> Turn | None:
    seconds = float(leg.turned.t_s[0] - leg.begin.t_s[0])
    if seconds <= 0.0:
        return None
    change = float(leg.change_deg[0])
    return Turn(
        start_s=float(leg.begin.t_s[0]),
        end_s=float(leg.turned.t_s[0]),
        start_agl_m=float(leg.begin.agl_m[0]),
        end_agl_m=float(leg.turned.agl_m[0]),
        change_deg=change,
        rate_dps=abs(change) / seconds,
        bank_deg=math.copysign(bank_deg, change),
    )


def surface_wind(wind: WindProfile, top_m: float = PLAN.surface_layer_m) -> tuple[float, float]:
    """Mean wind (east, north) [m/s] from the ground to ``top_m``."""
    east, north = wind.vector(np.linspace(0.0, top_m, 11))
    return float(np.mean(east)), float(np.mean(north))


def choose_landing_deg(settings: Settings, wind: WindProfile) -> float | None:
    """The planned direction of flight on final [deg true], or None where nothing decides it.

    In this order: the direction the plan gives; into the mean wind of the lowest 100 m, of the directions the site allows the
    nearest to it; in light wind the site's first direction, else into whatever wind there is; None in no wind at all.
    """
    if settings.pattern.landing_deg is not None:
        return float(wrap_360(settings.pattern.landing_deg))
    east, north = surface_wind(wind)
    speed = float(np.hypot(east, north))
    allowed = [float(wrap_360(d.landing_deg)) for d in settings.site.directions]
    if allowed and speed < settings.method.light_wind.value:
        return allowed[0]
    if speed < 1e-6:
        return None
    into = float(compass_deg(-east, -north))
    return min(allowed, key=lambda d: abs(float(signed_difference_deg(d, into)))) if allowed else into


def choose_hand(settings: Settings, landing_deg: float, flown: Hand | None = None) -> Hand:
    """The hand of the pattern: the site's for that landing direction (within 30°), the plan's, the flown one, else left."""
    site = site_hand(settings, landing_deg)
    if site is not None:
        return site
    if settings.pattern.hand != "as flown":
        return settings.pattern.hand
    return flown if flown is not None else "left"


def site_hand(settings: Settings, landing_deg: float, within_deg: float = 30.0) -> Hand | None:
    """The hand the site prescribes for a landing direction, or None."""
    rows = [d for d in settings.site.directions if d.hand is not None]
    near = [d for d in rows if abs(float(signed_difference_deg(d.landing_deg, landing_deg))) <= within_deg]
    best = min(
        near, key=lambda d: abs(float(signed_difference_deg(d.landing_deg, landing_deg))), default=None
    )
    return best.hand if best else None
