"""fly: canopy + wind + what the pilot does -> path to the ground (the forward model of plan and replay).

Straight flight is integrated over height (a canopy at trim sinks at a known rate, so height is the clock); turns are the
steady gliding turn without sideslip, into and out of which the bank lags. Everything runs for ``n`` versions of air, canopy and start at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.angles import signed_difference_deg, to_vector
from analyser.flight.air import Air, turn_figures
from analyser.pattern import Hand, LegName

__all__ = ["Flight", "LegFlown", "Order", "Start", "State", "fly"]

Vector = NDArray[np.float64]

TURN_NODES = 12
ROLLED_OUT, ROLLED_DEG = 4.0, 10.0
ANSWER_S = 0.8
STRAIGHT_NODES = 12
NODE_SPACING_M = 12.0
OTHER_WAY_DEG = 270.0


class Order(NamedTuple):
    """What the pilot does: at ``turn_agl_m`` (or at once where already lower) turn by the given hand onto a ground track and hold it.

    ``hand`` None: the short way; ``off_deg``: the nose so far right of the heading that holds the track. Numbers or arrays (n,).
    """

    name: LegName
    turn_agl_m: float | Vector
    track_deg: float | Vector
    hand: Hand | None = None
    off_deg: float | Vector = 0.0


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
        straight = _straight(air, nodes[-1], order, floor)
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
    track, off, lag = _full(order.track_deg, len(air)), _full(order.off_deg, len(air)), air.trim.roll_lag_s
    lost, change = np.zeros(len(air)), np.zeros(len(air))
    for _ in range(1 if instant else 4):
        low = np.maximum(at.agl_m - lost, floor)
        wanted = air.holding(track[:, None], low[:, None], off[:, None])[0][:, 0]
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


def _straight(air: Air, at: State, order: Order, floor: Vector) -> list[State]:
    """The nodes of the straight flight along an order's ground track, or off it, down to ``floor``."""
    track_deg, off_deg = (_full(v, len(air))[:, None] for v in (order.track_deg, order.off_deg))
    span = np.maximum(at.agl_m - floor, 0.0)
    m = max(STRAIGHT_NODES, int(np.ceil(float(np.max(span)) / NODE_SPACING_M)))
    step = (np.arange(m) + 0.5) / m
    agl = at.agl_m[:, None] - span[:, None] * step
    heading, along, across = air.holding(track_deg, agl, off_deg)
    factor = air.trim.factor(agl)
    drops = np.broadcast_to((span / m)[:, None], agl.shape)
    seconds = drops / (air.sink[:, None] * factor)
    forward, right = to_vector(1.0, track_deg), to_vector(1.0, track_deg + 90.0)
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
