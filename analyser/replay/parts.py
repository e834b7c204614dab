"""The parts of a budget row: height of a turn, place, direction flown, speed through the air, the wind the plan assumed, and the turn
that follows a crosswind leg.

Each row compares two calculated flights. Between them lie several changes at once; each is replayed with and without every
other, and its metres are the average over the orders in which the changes may be made (Shapley's value, L. S. Shapley, "A
value for n-person games", 1953). So the parts add up to their row whatever they do to each other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray

from analyser.angles import signed_difference_deg
from analyser.flight import Air, Order
from analyser.replay.thresholds import REPLAY
from analyser.track import Track

__all__ = [
    "PARTS",
    "Part",
    "PartName",
    "Shift",
    "blocks",
    "flown_leg",
    "leg_parts",
    "shapley_pair",
]

Vector = NDArray[np.float64]
Shift = tuple[Vector, Vector]
PartName = Literal["height", "place", "direction", "speed", "wind", "turn"]
PARTS: tuple[PartName, ...] = get_args(PartName)


@dataclass(frozen=True, slots=True)
class Part:
    """What one thing alone brought to its row: metres along/across (signs as the landing's) with standard deviations.

    ``amount`` is the change itself, flown minus planned, with its error: metres of height, degrees of heading to the right of
    the one that holds the planned track, share of full-flight sink (speed); None where it has no single number.
    """

    part: PartName
    along_m: float
    across_m: float
    along_sd_m: float
    across_sd_m: float
    amount: float | None = None
    amount_sd: float | None = None


class FlownLeg(NamedTuple):
    """A leg as flown against the model, per metre of height (n,) [m/m]: east, north of what the headings flown and what the
    speeds flown add; degrees off the heading that holds the track (n,); sink over full-flight sink (n,); ``share`` (n,) drawn error of
    how much of the direction counts. ``timed`` False: too short for its speeds, only its heading is known."""

    by_direction: Shift
    by_speed: Shift
    off_deg: Vector
    sink_share: Vector
    share: Vector
    timed: bool = True

    @classmethod
    def as_planned(cls, n: int) -> FlownLeg:
        """A leg of which nothing else is known."""
        none, one = np.zeros(n), np.ones(n)
        return cls((none, none), (none, none), none, one, one)

    @classmethod
    def headed(cls, air: Air, track_deg: float, agl_m: Vector, heading_deg: Vector) -> FlownLeg:
        """A leg too short for more than its heading (n,) at a height (n,), beside the one that holds the planned track."""
        track, agl = np.full((len(air), 1), track_deg), agl_m[:, None]
        held, along, across = air.holding(track, agl)
        off = np.asarray(signed_difference_deg(heading_deg, held[:, 0]))
        _, along_off, across_off = air.holding(track, agl, off[:, None])
        sink = air.sink * air.trim.factor(agl_m)
        more, aside = (along_off - along)[:, 0] / sink, (across_off - across)[:, 0] / sink
        sin, cos = np.sin(np.radians(track_deg)), np.cos(np.radians(track_deg))
        moved = more * sin + aside * cos, more * cos - aside * sin
        return cls.as_planned(len(air))._replace(by_direction=moved, off_deg=off, timed=False)


def minus(a: Shift, b: Shift) -> Shift:
    """The shift from ``b`` to ``a``."""
    return a[0] - b[0], a[1] - b[1]


def plus(a: Shift, b: Shift) -> Shift:
    """The sum of two shifts."""
    return a[0] + b[0], a[1] + b[1]


def times(a: Shift, factor: Vector | float) -> Shift:
    """A shift of so many times the length."""
    return a[0] * factor, a[1] * factor


def shapley_pair(neither: Shift, first: Shift, second: Shift, both: Shift) -> tuple[Shift, Shift]:
    """The shares of two changes in ``both`` − ``neither``: each the mean of its effect before and after the other."""
    one = times(plus(minus(first, neither), minus(both, second)), 0.5)
    return one, minus(minus(both, neither), one)


def leg_parts(
    ends: tuple[tuple[Shift, Shift], tuple[Shift, Shift]],
    after: Shift,
    leg: FlownLeg,
    spans: tuple[Vector, Vector],
    drifted: Shift,
) -> dict[PartName, Shift]:
    """The parts of a row that holds one leg and the turn at its end.

    ``ends``: where the rest of the plan ends from the leg's beginning, with the nose as planned and as flown, each with the turn at the
    planned and at the flown height; ``after``: the rest of the plan from after that turn. ``spans`` (n,) [m]: height flown on the leg
    down to the planned and to the flown turn; ``drifted`` what the direction brought before it. Speed goes with that span, so that its average over the orders is exact; what
    none of them explains (the shape of the turn, gusts) is the place.
    """
    planned_span, flown_span = spans
    mean, more = 0.5 * (planned_span + flown_span), 0.5 * (flown_span - planned_span)
    (held, held_turned), (off, off_turned) = ends
    height, direction = shapley_pair(held, held_turned, off, off_turned)
    height, direction = plus(height, times(leg.by_speed, more)), plus(times(direction, leg.share), drifted)
    speed = times(leg.by_speed, mean)
    told = plus(plus(height, direction), speed)
    return {
        "height": height,
        "place": minus(minus(after, held), told),
        "direction": direction,
        "speed": speed,
    }


def flown_leg(
    air: Air, order: Order, track: Track, times_s: tuple[float, float], drop: Vector, moved: Shift
) -> FlownLeg | None:
    """How a leg was flown, beside the model holding the planned track at trim, in every version of the air (n,).

    ``times_s`` when it begins and ends, ``drop`` (n,) and ``moved`` (n,) the height it lost and the ground it covered [m]. The headings are
    those of the motion through the air, ground velocity minus wind, in blocks of seconds. None where it is too short.
    """
    edges = blocks(*times_s)
    east, north, agl = (np.interp(edges, track.t_s, v) for v in (track.east_m, track.north_m, track.agl_m))
    if float(np.min(drop)) < REPLAY.least_drop_m or not bool(np.all(np.isfinite(agl))):
        return None
    seconds, middle = np.diff(edges), np.broadcast_to(0.5 * (agl[1:] + agl[:-1]), (len(air), edges.size - 1))
    wind_east, wind_north = air.wind(middle)
    heading = np.arctan2(np.diff(east) / seconds - wind_east, np.diff(north) / seconds - wind_north)
    factor = air.trim.factor(middle)
    speed, sink = air.airspeed[:, None] * factor, air.sink[:, None] * factor
    weight = seconds / float(np.sum(seconds))
    steered = _per_metre(
        speed * np.sin(heading) + wind_east, speed * np.cos(heading) + wind_north, sink, weight
    )
    track_deg = np.full((len(air), 1), float(np.ravel(order.track_deg)[0]))
    held, along, across = air.holding(track_deg, middle)
    sin, cos = np.sin(np.radians(track_deg)), np.cos(np.radians(track_deg))
    holding = _per_metre(along * sin + across * cos, along * cos - across * sin, sink, weight)
    done = moved[0] / drop, moved[1] / drop
    off = np.sum(signed_difference_deg(np.degrees(heading), held) * weight, axis=1)
    share = drop / float(np.sum(seconds)) / np.sum(sink * weight, axis=1)
    return FlownLeg(minus(steered, holding), minus(done, steered), off, share, np.ones_like(off))


def _per_metre(east: Vector, north: Vector, sink: Vector, weight: Vector) -> Shift:
    return np.sum(east / sink * weight, axis=1), np.sum(north / sink * weight, axis=1)


def blocks(begin_s: float, end_s: float) -> Vector:
    """The edges of the stretches of a leg whose speeds are compared [s]."""
    count = int(np.clip((end_s - begin_s) / REPLAY.least_block_s, 1, REPLAY.blocks))
    return np.linspace(begin_s, end_s, count + 1)


def with_amount(part: Part, values: Vector | None) -> Part:
    """The part with its amount: the first of the versions, and the spread of the others."""
    if values is None:
        return part
    return replace(part, amount=float(values[0]), amount_sd=float(np.std(values[1:])))
