"""fly: canopy + wind + what the pilot does -> path to the ground (the forward model of plan and replay).

Straight flight is integrated over height (a canopy at trim sinks at a known rate, so height is the clock); turns are the
steady gliding turn without sideslip, into and out of which the bank lags. Everything runs for ``n`` versions of air, canopy and start at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.angles import signed_difference_deg, to_vector
from analyser.atmosphere import true_airspeed_factor
from analyser.pattern import Hand, LegName
from analyser.wind.profile import WindProfile

__all__ = [
    "Air",
    "Flight",
    "LegFlown",
    "Order",
    "Start",
    "Trim",
    "fly",
    "turn_figures",
    "wind_known",
    "wind_over_airspeed",
]

Vector = NDArray[np.float64]

G_MPS2 = 9.80665
TURN_NODES = 12
ROLLED_OUT, ROLLED_DEG = 4.0, 10.0
ANSWER_S = 0.8
STRAIGHT_NODES = 12
NODE_SPACING_M = 12.0
OTHER_WAY_DEG = 270.0
KNOWN_HEIGHTS = 13


@dataclass(frozen=True, slots=True)
class Trim:
    """Full-flight trim at sea-level density: horizontal airspeed and sink [m/s], usual bank in pattern turns [deg], field elevation [m].

    ``roll_lag_s``: how late the bank answers the toggles (first order; ours, about what a wing takes). ``standard_air`` False: the speeds hold at every height, as the tables of the handbooks take them.
    ``airspeed_wind`` (2k,) covariance of the airspeed with the wind (east…, north…) found with it [m²/s²]; empty: independent.
    """

    airspeed_mps: float
    sink_mps: float
    bank_deg: float = 30.0
    elevation_m: float = 0.0
    airspeed_sd_mps: float = 0.0
    sink_sd_mps: float = 0.0
    standard_air: bool = True
    roll_lag_s: float = 0.5
    airspeed_wind: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not (self.airspeed_mps > 0.0 and self.sink_mps > 0.0 and 0.0 < self.bank_deg < 80.0):
            raise ValueError(
                f"a trim needs airspeed and sink above 0 and a bank between 0 and 80°, got {self.airspeed_mps} m/s, "
                f"{self.sink_mps} m/s, {self.bank_deg}°"
            )

    @property
    def glide(self) -> float:
        """Horizontal over vertical speed in still air."""
        return self.airspeed_mps / self.sink_mps

    def factor(self, agl_m: ArrayLike) -> Vector:
        """True airspeed (and sink) over its sea-level value, at heights above the landing area."""
        h = np.asarray(agl_m, dtype=np.float64)
        return true_airspeed_factor(h + self.elevation_m) if self.standard_air else np.ones_like(h)


def turn_figures(airspeed: ArrayLike, sink: ArrayLike, bank_deg: ArrayLike) -> tuple[Vector, Vector, Vector]:
    """Horizontal airspeed, sink [m/s] and rate of turn [deg/s] of a steady turn, from straight-flight airspeed and sink.

    Steady gliding turn, no sideslip, constant lift coefficient: tan γ = tan γ0 / cos φ, V² = V0² cos γ / (cos γ0 cos φ),
    ω = g tan φ / V (V the speed along the flight path).
    """
    v_h, s = np.asarray(airspeed, dtype=np.float64), np.asarray(sink, dtype=np.float64)
    bank = np.radians(np.asarray(bank_deg, dtype=np.float64))
    gamma0, v0 = np.arctan2(s, v_h), np.hypot(v_h, s)
    gamma = np.arctan(np.tan(gamma0) / np.cos(bank))
    v = v0 * np.sqrt(np.cos(gamma) / (np.cos(gamma0) * np.cos(bank)))
    return v * np.cos(gamma), v * np.sin(gamma), np.degrees(G_MPS2 * np.tan(bank) / v)


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """``n`` versions of the air and of the trim: winds ``east``, ``north`` (n, k) on heights ``agl_m`` (k,), speeds (n,)."""

    trim: Trim
    agl_m: Vector
    east: Vector
    north: Vector
    airspeed: Vector
    sink: Vector

    @classmethod
    def still(cls, trim: Trim, wind: WindProfile, n: int = 1) -> Air:
        """``n`` times the mean wind and trim."""
        k = wind.agl_m.shape[0]
        east, north = np.broadcast_to(wind.east, (n, k)), np.broadcast_to(wind.north, (n, k))
        return cls(trim, wind.agl_m, east, north, np.full(n, trim.airspeed_mps), np.full(n, trim.sink_mps))

    @classmethod
    def drawn(
        cls, trim: Trim, wind: WindProfile, rng: np.random.Generator, n: int, *, central: bool = False
    ) -> Air:
        """``n`` draws from the covariance of the wind and the errors of the trim speeds; ``central`` puts the means before them.

        Wind and airspeed are drawn together where the trim says how they hang together at the heights of ``wind``.
        """
        east, north, v = _wind_and_airspeed(trim, wind, rng, n)
        s = trim.sink_mps + trim.sink_sd_mps * rng.standard_normal(n)
        v, s = np.maximum(v, 0.3 * trim.airspeed_mps), np.maximum(s, 0.3 * trim.sink_mps)
        if central:
            east, north = np.vstack([wind.east, east]), np.vstack([wind.north, north])
            v, s = np.append(trim.airspeed_mps, v), np.append(trim.sink_mps, s)
        return cls(trim, wind.agl_m, east, north, v, s)

    def repeat(self, n: int) -> Air:
        """The first version ``n`` times."""
        rows = np.zeros(n, dtype=np.intp)
        return Air(
            self.trim, self.agl_m, self.east[rows], self.north[rows], self.airspeed[rows], self.sink[rows]
        )

    def with_speeds(self, airspeed_mps: float, sink_mps: float) -> Air:
        """The same winds with one trim for all versions (sea-level speeds)."""
        n = len(self)
        return replace(self, airspeed=np.full(n, airspeed_mps), sink=np.full(n, sink_mps))

    def with_wind(self, wind: WindProfile) -> Air:
        """The same trims in one wind."""
        shape = (len(self), wind.agl_m.shape[0])
        east, north = np.broadcast_to(wind.east, shape), np.broadcast_to(wind.north, shape)
        return replace(self, agl_m=wind.agl_m, east=east, north=north)

    def __len__(self) -> int:
        return int(self.airspeed.shape[0])

    def wind(self, agl_m: Vector) -> tuple[Vector, Vector]:
        """East and north wind [m/s] at heights (n, m): linear between the heights of the profile, constant beyond."""
        k = self.agl_m.shape[0]
        if k == 1:
            return np.broadcast_to(self.east, agl_m.shape), np.broadcast_to(self.north, agl_m.shape)
        i = np.clip(np.searchsorted(self.agl_m, agl_m, side="right") - 1, 0, k - 2)
        f = np.clip((agl_m - self.agl_m[i]) / (self.agl_m[i + 1] - self.agl_m[i]), 0.0, 1.0)

        def at(values: Vector) -> Vector:
            low, high = np.take_along_axis(values, i, axis=1), np.take_along_axis(values, i + 1, axis=1)
            return low + f * (high - low)

        return at(self.east), at(self.north)

    def holding(self, track_deg: Vector, agl_m: Vector) -> tuple[Vector, Vector, Vector]:
        """Heading [deg], and ground velocity along and across (right of) the track [m/s], at heights (n, m).

        The nose crabs into the wind so that the track is held; where the cross wind is stronger than the airspeed the nose
        points straight into it and the rest is drift.
        """
        v = self.airspeed[:, None] * self.trim.factor(agl_m)
        east, north = self.wind(agl_m)
        sin, cos = np.sin(np.radians(track_deg)), np.cos(np.radians(track_deg))
        cross, along = east * cos - north * sin, east * sin + north * cos
        sine = np.clip(-cross / v, -1.0, 1.0)
        heading = track_deg + np.degrees(np.arcsin(sine))
        return heading, v * np.sqrt(1.0 - sine**2) + along, v * sine + cross


def _wind_and_airspeed(
    trim: Trim, wind: WindProfile, rng: np.random.Generator, n: int
) -> tuple[Vector, Vector, Vector]:
    """Drawn winds (n, k) and airspeeds (n,): normal, with the covariance of the two where it is known."""
    k = wind.agl_m.shape[0]
    if len(trim.airspeed_wind) != 2 * k:
        east, north = wind.draw(rng, n)
        return east, north, trim.airspeed_mps + trim.airspeed_sd_mps * rng.standard_normal(n)
    joint = np.empty((2 * k + 1, 2 * k + 1))
    joint[:-1, :-1], joint[-1, -1] = wind.covariance, trim.airspeed_sd_mps**2
    joint[-1, :-1] = joint[:-1, -1] = trim.airspeed_wind
    values, vectors = np.linalg.eigh(joint)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    mean = np.concatenate([wind.east, wind.north, [trim.airspeed_mps]])
    sample = mean + rng.standard_normal((n, 2 * k + 1)) @ root.T
    return sample[:, :k], sample[:, k : 2 * k], sample[:, -1]


class Order(NamedTuple):
    """What the pilot does: at ``turn_agl_m`` (or at once where already lower) turn by the given hand onto a ground track and hold it.

    ``hand`` None: the short way. Numbers or arrays (n,).
    """

    name: LegName
    turn_agl_m: float | Vector
    track_deg: float | Vector
    hand: Hand | None = None


class Start(NamedTuple):
    """Where the flight begins: place [m], height [m], heading [deg], None = already on the first leg. Numbers or arrays (n,)."""

    east_m: float | Vector
    north_m: float | Vector
    agl_m: float | Vector
    heading_deg: float | Vector | None = None


class State(NamedTuple):
    """One instant of ``n`` flights, arrays (n,)."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    heading_deg: Vector


class LegFlown(NamedTuple):
    """One leg: where its turn begins, where the turn ends, where the leg ends, signed change of heading [deg]."""

    order: Order
    begin: State
    turned: State
    end: State
    change_deg: Vector


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """``n`` flights to the ground: the legs in order, and every integration node as (t, east, north, agl, heading), each (n,)."""

    legs: tuple[LegFlown, ...]
    nodes: tuple[State, ...]

    @property
    def landing(self) -> State:
        """The touchdown."""
        return self.nodes[-1]

    def path(self, i: int = 0) -> tuple[tuple[float, float, float, float], ...]:
        """(t, east, north, agl) of flight ``i`` along its nodes."""
        return tuple(
            (float(s.t_s[i]), float(s.east_m[i]), float(s.north_m[i]), float(s.agl_m[i])) for s in self.nodes
        )


def wind_over_airspeed(trim: Trim, wind: WindProfile, top_m: float) -> tuple[float, float]:
    """The largest share of the canopy's airspeed that the wind reaches between the ground and ``top_m``, where it is known.

    Returns the share and its standard deviation, from the errors of the wind along itself and of the airspeed; (0, 0) in no known wind.
    """
    best = (0.0, 0.0)
    for height in np.linspace(0.0, top_m, 21):
        here = wind.at(float(height))
        airspeed = trim.airspeed_mps * float(trim.factor(height))
        if here.status != "undetermined" and here.speed / airspeed > best[0]:
            share = here.speed / airspeed
            best = (
                share,
                math.hypot(here.speed_sd / airspeed, share * trim.airspeed_sd_mps / trim.airspeed_mps),
            )
    return best


def wind_known(wind: WindProfile, top_m: float, bottom_m: float = 0.0) -> bool:
    """Whether the wind is determined at half or more of the heights between ``bottom_m`` and ``top_m`` [m]."""
    heights = np.linspace(bottom_m, max(top_m, bottom_m), KNOWN_HEIGHTS)
    return sum(wind.at(float(h)).status != "undetermined" for h in heights) >= KNOWN_HEIGHTS / 2.0


def fly(air: Air, start: Start, orders: Sequence[Order], *, instant_turns: bool = False) -> Flight:
    """Carry out ``orders`` from ``start`` to the ground (height 0). The first turn begins at the start, whatever its height.

    Places and heights are metres in the frame of ``start``; arrays of the result (n,), n = ``len(air)``.
    """
    n = len(air)
    first = _full(orders[0].track_deg, n)
    at = State(
        np.zeros(n),
        _full(start.east_m, n),
        _full(start.north_m, n),
        np.maximum(_full(start.agl_m, n), 0.0),
        first,
    )
    heading = (
        air.holding(first[:, None], at.agl_m[:, None])[0][:, 0]
        if start.heading_deg is None
        else _full(start.heading_deg, n)
    )
    at = at._replace(heading_deg=heading)
    nodes, legs = [at], []
    for i, order in enumerate(orders):
        floor = _full(orders[i + 1].turn_agl_m, n) if i + 1 < len(orders) else np.zeros(n)
        floor = np.minimum(np.maximum(floor, 0.0), at.agl_m)
        begin = at
        turn, change = _turn(air, at, order, floor, instant_turns)
        nodes += turn
        straight = _straight(air, nodes[-1], _full(order.track_deg, n), floor)
        turned, at = nodes[-1], straight[-1]
        nodes += straight
        legs.append(LegFlown(order, begin, turned, at, change))
    return Flight(tuple(legs), tuple(nodes))


def _full(value: float | Vector, n: int) -> Vector:
    return np.broadcast_to(np.asarray(value, dtype=np.float64), (n,)).copy()


def _change(hand: Hand | None, to_deg: Vector, from_deg: Vector) -> Vector:
    """Signed change of heading [deg]; by the given hand, but the other way where that is more than 270°."""
    short = signed_difference_deg(to_deg, from_deg)
    if hand is None:
        return short
    sign = 1.0 if hand == "right" else -1.0
    turned = np.mod(sign * short, 360.0)
    return sign * np.where(turned > OTHER_WAY_DEG, turned - 360.0, turned)


def _turn(air: Air, at: State, order: Order, floor: Vector, instant: bool) -> tuple[list[State], Vector]:
    """The nodes of the turn onto a leg; cut off at ``floor`` where the height does not suffice."""
    _, s, rate = turn_figures(air.airspeed, air.sink, air.trim.bank_deg)
    factor = air.trim.factor(at.agl_m)
    track, lag = _full(order.track_deg, len(air)), air.trim.roll_lag_s
    lost, change = np.zeros(len(air)), np.zeros(len(air))
    for _ in range(1 if instant else 4):
        low = np.maximum(at.agl_m - lost, floor)
        wanted = air.holding(track[:, None], low[:, None])[0][:, 0]
        change = _change(order.hand, wanted, at.heading_deg)
        lost = (np.abs(change) * factor / rate * s + ROLLED_OUT * lag * air.sink) * factor
    if instant:
        return [at._replace(heading_deg=at.heading_deg + change)], change
    return _banked(air, at, change, np.maximum(at.agl_m - floor, 0.0))


def _banked(air: Air, at: State, change: Vector, room: Vector) -> tuple[list[State], Vector]:
    """The nodes of a turn by ``change`` degrees that may lose ``room`` metres, and how far it came.

    The bank, and with it the rate, answers with a lag of the first order; the toggles are let up so far ahead that the turn ends on
    its heading. Sink and airspeed above those of straight flight go with the square of the bank, and answer a little later.
    """
    v, s, rate = turn_figures(air.airspeed, air.sink, air.trim.bank_deg)
    factor, lag = air.trim.factor(at.agl_m), air.trim.roll_lag_s
    held = (np.abs(change) * factor / rate)[:, None]
    late = ANSWER_S if lag > 0.0 else 0.0
    tail = (ROLLED_OUT * lag + late) * np.minimum(np.abs(change) / ROLLED_DEG, 1.0)
    edges = (held + tail[:, None]) * np.linspace(0.0, 1.0, TURN_NODES + 1)
    seconds, middle = np.diff(edges), 0.5 * (edges[:, 1:] + edges[:, :-1])
    square = _bank_share(middle - late, held, lag) ** 2
    sink = (air.sink[:, None] + (s - air.sink)[:, None] * square) * factor[:, None]
    speed = (air.airspeed[:, None] + (v - air.airspeed)[:, None] * square) * factor[:, None]
    drops = sink * seconds
    left = np.clip(room[:, None] - np.cumsum(drops, axis=1) + drops, 0.0, drops)
    part = left / np.maximum(drops, 1e-9)
    turned = _turned_s(edges, held, lag)
    steps = np.diff(turned) * part * (change[:, None] / np.maximum(turned[:, -1:], 1e-9))
    ends = at.heading_deg[:, None] + np.cumsum(steps, axis=1)
    half = np.maximum(np.radians(np.abs(steps)) / 2.0, 1e-9)
    air_east, air_north = to_vector(speed * np.sin(half) / half, ends - 0.5 * steps)
    wind_east, wind_north = air.wind(at.agl_m[:, None] - np.cumsum(left, axis=1) + 0.5 * left)
    nodes = _nodes(at, air_east + wind_east, air_north + wind_north, seconds * part, left, ends)
    return nodes, ends[:, -1] - at.heading_deg


def _bank_share(t: Vector, held: Vector, lag: float) -> Vector:
    """Bank over full bank at times ``t`` [s] of a turn whose toggles are let up at ``held``."""
    tau = max(lag, 1e-6)
    grown: Vector = 1.0 - np.exp(-np.clip(t, 0.0, held) / tau)
    return grown * np.exp(-np.maximum(t - held, 0.0) / tau)


def _turned_s(t: Vector, held: Vector, lag: float) -> Vector:
    """The integral of :func:`_bank_share` from 0 to ``t`` [s]; nearly ``held`` at the end of the turn."""
    tau, within = max(lag, 1e-6), np.minimum(t, held)
    grown = 1.0 - np.exp(-within / tau)
    turned: Vector = within - tau * grown + tau * grown * (1.0 - np.exp(-np.maximum(t - held, 0.0) / tau))
    return turned


def _straight(air: Air, at: State, track_deg: Vector, floor: Vector) -> list[State]:
    """The nodes of the straight flight along a ground track down to ``floor``."""
    span = np.maximum(at.agl_m - floor, 0.0)
    m = max(STRAIGHT_NODES, int(np.ceil(float(np.max(span)) / NODE_SPACING_M)))
    step = (np.arange(m) + 0.5) / m
    agl = at.agl_m[:, None] - span[:, None] * step
    heading, along, across = air.holding(track_deg[:, None], agl)
    factor = air.trim.factor(agl)
    drops = np.broadcast_to((span / m)[:, None], agl.shape)
    seconds = drops / (air.sink[:, None] * factor)
    forward, right = to_vector(1.0, track_deg[:, None]), to_vector(1.0, track_deg[:, None] + 90.0)
    east, north = along * forward[0] + across * right[0], along * forward[1] + across * right[1]
    heading = np.where(span[:, None] > 0.0, heading, at.heading_deg[:, None])
    return _nodes(at, east, north, seconds, drops, heading)


def _nodes(
    at: State, east: Vector, north: Vector, seconds: Vector, drops: Vector, heading: Vector
) -> list[State]:
    t = at.t_s[:, None] + np.cumsum(seconds, axis=1)
    e = at.east_m[:, None] + np.cumsum(east * seconds, axis=1)
    n = at.north_m[:, None] + np.cumsum(north * seconds, axis=1)
    h = np.maximum(at.agl_m[:, None] - np.cumsum(drops, axis=1), 0.0)
    return [State(t[:, j], e[:, j], n[:, j], h[:, j], heading[:, j]) for j in range(t.shape[1])]
