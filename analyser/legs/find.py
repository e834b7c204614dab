"""find_legs: Track + WindProfile -> flown Pattern with turn heights."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.angles import circular_mean_deg, compass_deg, signed_difference_deg
from analyser.legs.begins import Begins, Piece, other_begins, sd_of_begin
from analyser.legs.naming import Naming, name_legs
from analyser.legs.scores import Landing, Name, StraightLeg
from analyser.legs.segments import AirHeading, Stretch, air_heading, find_stretches
from analyser.legs.turns import Heights, TurnFound, heights_of, refine_turns
from analyser.pattern import Gate, Hand, Leg, LegName, Pattern, PatternKind, Turn
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["S_TURN_DEG", "find_legs"]

Vector = NDArray[np.float64]

_BELOW_M = 600.0  # a pattern starts lower than this (published checkpoints: 1,000 ft and less; a crosswind leg above them)
_LAST_S = 300.0  # the last minutes of a flight hold its pattern
S_TURN_DEG = 25.0  # a smaller change of heading on final is a correction (trade figure: 20 to 30 degrees)
_CIRCLE_DEG = 200.0  # ours: a turn onto the first leg by more than this began as a circle of the holding
# deg, ours: a crosswind leg is a quarter of a circle from the wind line; a longer turn onto it began in the holding
_QUARTER_DEG = 120.0
_MISREAD_MPS = (
    2.0  # m/s, ours: a pilot knows the wind no better, so a slow leg may lie far from where it was meant to
)
_MORE_FINALS = 2.0  # log odds against one more stretch of final (ours)
_DRIFT_DEG, _BY_NOSE = (
    12.0,
    -0.7,
)  # deg, between nose and track of final; log odds of a pattern square to the nose (ours)
_WEAVE_S = 6.0  # a straight stretch of an S-turn is shorter


def find_legs(
    track: Track, start: int, stop: int, wind: WindProfile, *, landing_s: float | None = None
) -> Pattern:
    """Segment the air heading of the canopy flight ``start:stop`` (``stop`` at the landing) and name the legs backwards from it.

    ``landing_s`` time of touchdown [track s] where it is known more finely than ``stop``. Where the wind is undetermined the ground track
    stands for the heading, with half the confidence. Legs that were not flown are left out; "other" is an answer. Heights [m above
    the landing area], places [m from the origin of the track's frame], angles [deg true]. Raises nothing: what can not be named has a reason.
    """
    end_s = float(track.t_s[min(stop, len(track)) - 1]) if landing_s is None else landing_s
    part = _pattern_part(track, start, stop)
    known = int(np.isfinite(track.agl_m[part]).sum())
    if known < 8 or track.t_s[part.stop - 1] - track.t_s[part.start] < 8.0:
        return Pattern("other", None, None, reason="less than eight seconds of canopy flight near the ground")
    heading, blind = _heading(track, part, wind)
    if heading.t.shape[0] < 6:
        return Pattern("other", None, None, reason="too few fixes near the ground")
    stretches = find_stretches(heading)
    heights = heights_of(track, part, end_s)
    pieces = _pieces(stretches, refine_turns(heading, stretches, heights), end_s)
    naming = _named(track, pieces, heights, end_s)
    return _pattern(track, pieces, naming, heights, naming.landing.track_deg, end_s, blind)


def _pattern_part(track: Track, start: int, stop: int) -> slice:
    """The fixes of the canopy flight after it was last above 600 m, at most five minutes."""
    h = track.agl_m[start:stop]
    high = np.flatnonzero(np.nan_to_num(h, nan=0.0) > _BELOW_M)
    first = start + (int(high[-1]) + 1 if high.size else 0)
    last = track.t_s[min(stop, len(track)) - 1]
    return slice(max(first, int(np.searchsorted(track.t_s, last - _LAST_S))), stop)


def _heading(track: Track, part: slice, wind: WindProfile) -> tuple[AirHeading, bool]:
    """Air heading, and whether it is only the ground track because the wind is not known."""
    h = track.agl_m[part]
    low = np.isfinite(h) & (h < 350.0)
    heights = h[low] if low.any() else np.array([0.0])
    sample = heights[:: max(1, heights.shape[0] // 20)]
    unknown = np.mean([wind.at(float(a)).status == "undetermined" for a in sample])
    blind = bool(unknown > 0.5)
    east, north = wind.vector(np.nan_to_num(h, nan=float(np.nanmedian(h)) if low.any() else 0.0))
    if blind:
        east, north = np.zeros_like(east), np.zeros_like(north)
    return air_heading(track.t_s[part], track.east_m[part], track.north_m[part], east, north), blind


def _pieces(stretches: list[Stretch], turns: list[TurnFound], end_s: float) -> list[Piece]:
    pieces: list[Piece] = []
    left = list(turns)
    turn: TurnFound | None = None
    for s in stretches:
        if s.turning:
            turn = left.pop(0)
            if pieces:
                pieces[-1] = pieces[-1]._replace(end_s=turn.turn.start_s)
            continue
        begin = turn.turn.end_s if turn else s.start_s
        middle_deg = 0.5 * (s.start_deg + s.end_deg) % 360.0
        pieces.append(Piece(begin, max(s.end_s, begin), middle_deg, turn, s.end_deg - s.start_deg))
        turn = None
    if turn is not None or not pieces:
        last = stretches[-1]
        begin = turn.turn.end_s if turn else last.start_s
        pieces.append(Piece(min(begin, end_s), end_s, last.end_deg % 360.0, turn))
    pieces[-1] = pieces[-1]._replace(end_s=max(end_s, pieces[-1].start_s))
    return pieces


def _between(track: Track, start_s: float, end_s: float) -> tuple[float, float]:
    """Metres east and north from one time to another."""
    east = np.interp([start_s, end_s], track.t_s, track.east_m)
    north = np.interp([start_s, end_s], track.t_s, track.north_m)
    return float(east[1] - east[0]), float(north[1] - north[0])


def _named(track: Track, pieces: list[Piece], heights: Heights, end_s: float) -> Naming:
    """The likeliest names, over the landing directions that the last one, two… stretches give: S-turns may go on to the ground.

    Only short stretches are taken together; each one more must pay. In a strong wind a final drifts: then the pattern may lie square
    to its nose, which points into the wind that it was planned for, rather than to its track.
    """
    legs = [_straight(track, p, heights) for p in pieces]
    landings: list[Landing] = []
    for count in range(1, min(len(pieces), 5) + 1):
        if count > 1 and max(leg.seconds for leg in legs[-count:]) > _WEAVE_S:
            break
        over, nose = _landing_direction(track, pieces[-count:], end_s)
        landings.append(Landing(over, nose, count, False, -_MORE_FINALS * (count - 1)))
        if abs(signed_difference_deg(over, nose)) > _DRIFT_DEG:
            landings.append(Landing(over, nose, count, True, -_MORE_FINALS * (count - 1) + _BY_NOSE))
    return name_legs(legs, landings)


def _landing_direction(track: Track, last: list[Piece], end_s: float) -> tuple[float, float]:
    """Track over the end of final and its heading [deg true]; twice the heading where there is next to no ground speed to tell a track."""
    begin = last[0].start_s if len(last) > 1 else max(last[0].start_s, end_s - 12.0)
    begin = min(begin, end_s - 3.0)
    east, north = _between(track, begin, end_s)
    speed = math.hypot(east, north) / (end_s - begin)
    weights = [p.end_s - p.start_s + 0.5 for p in last]
    heading = circular_mean_deg([p.heading_deg for p in last], weights)
    return (float(compass_deg(east, north)) if speed > 1.5 else heading), heading


def _straight(track: Track, p: Piece, heights: Heights) -> StraightLeg:
    seconds = max(p.end_s - p.start_s, 0.5)
    middle, half = 0.5 * (p.start_s + max(p.end_s, p.start_s)), max(0.5 * seconds, 0.75)
    east, north = _between(track, middle - half, middle + half)
    speed = math.hypot(east, north) / (2.0 * half)
    sd = math.degrees(math.atan2(_MISREAD_MPS, max(speed, 0.1)))
    turn = p.turn.turn if p.turn else None
    return StraightLeg(
        p.heading_deg,
        float(compass_deg(east, north)),
        sd,
        seconds,
        turn.start_agl_m if turn else math.nan,
        turn.change_deg if turn else math.nan,
        p.bend_deg,
    )


def _merge(pieces: list[Piece], naming: Naming) -> list[tuple[Piece, Name, float]]:
    """Neighbours of one name become one leg; its turn is the first."""
    merged: list[tuple[Piece, Name, float]] = []
    for piece, name, confidence in zip(pieces, naming.names, naming.confidence):
        if merged and merged[-1][1] == name and name is not None:
            first, _, sure = merged[-1]
            w0, w1 = first.end_s - first.start_s, piece.end_s - piece.start_s
            mean = circular_mean_deg([first.heading_deg, piece.heading_deg], [w0 + 0.1, w1 + 0.1])
            merged[-1] = (
                Piece(first.start_s, piece.end_s, mean, first.turn),
                name,
                max(sure, confidence) if w1 > w0 else sure,
            )
        else:
            merged.append((piece, name, confidence))
    return merged


def _pattern(
    track: Track,
    pieces: list[Piece],
    naming: Naming,
    heights: Heights,
    landing_deg: float,
    end_s: float,
    blind: bool,
) -> Pattern:
    trust = 0.5 if blind else 1.0
    named = [(p, n, c * trust) for p, n, c in _merge(pieces, naming) if n is not None]
    others = [other_begins(pieces, naming, n, p, heights) for p, n, _ in named if n]
    if named[0][1] != "final":
        named[0] = (_out_of_holding(named[0][0], named[0][1], heights), *named[0][1:])
    legs = tuple(_leg(track, p, n, c, heights, end_s, o) for (p, n, c), o in zip(named, others) if n)
    gates = tuple(_gate(track, leg, p, heights, end_s) for leg, (p, _, _) in zip(legs, named) if p.turn)
    kind = _kind(legs)
    reason = "the wind is not known: the ground track stands for the heading" if blind else ""
    weaves = _s_turns(pieces, naming)
    last = max((w.end_s for w in weaves), default=legs[-1].start_s)
    if weaves and legs[-1].ground_speed_mps > 1.5:
        landing_deg = legs[-1].track_deg  # one swing of an S-turn is no direction of landing
    return Pattern(
        kind,
        _hand(naming.hand, legs),
        landing_deg,
        legs,
        gates,
        naming.whole * trust,
        reason,
        s_turns=weaves,
        straight_s=max(end_s - last, 0.0),
    )


def _s_turns(pieces: list[Piece], naming: Naming) -> tuple[Turn, ...]:
    """The turns of 25° and more between two stretches of final."""
    found = []
    for before, name, p in zip(naming.names, naming.names[1:], pieces[1:]):
        if before == name == "final" and p.turn and abs(p.turn.turn.change_deg) >= S_TURN_DEG:
            found.append(p.turn.turn)
    return tuple(found)


def _out_of_holding(p: Piece, name: Name, heights: Heights) -> Piece:
    """The first leg with the turn onto it cut out of the holding's.

    Where a turn is longer than the pattern asks for, nobody can say where holding ended. A quarter of a circle before the
    roll-out stands for that, with the standard deviation of an even spread over the turn, or over a whole circle.
    """
    most = _QUARTER_DEG if name == "crosswind" else _CIRCLE_DEG
    if p.turn is None or abs(p.turn.turn.change_deg) <= most:
        return p
    turn = p.turn.turn
    turn_s = turn.end_s - turn.start_s
    circle_s = turn_s * 360.0 / abs(turn.change_deg)
    begin = turn.end_s - 0.25 * circle_s
    late = replace(
        turn,
        start_s=begin,
        start_agl_m=heights.at(begin),
        change_deg=math.copysign(90.0, turn.change_deg),
    )
    spread_s = min(turn_s, circle_s) / math.sqrt(12.0)
    return p._replace(turn=TurnFound(late, spread_s, p.turn.end_sd_s))


def _kind(legs: tuple[Leg, ...]) -> PatternKind:
    """The kind by the legs flown; a final that ends a low circle is no straight approach."""
    names = tuple(leg.name for leg in legs)
    kinds: dict[tuple[str, ...], PatternKind] = {
        ("crosswind", "downwind", "base", "final"): "box",
        ("downwind", "base", "final"): "three-leg",
        ("final",): "straight in",
    }
    turn = legs[-1].turn if legs else None
    circled = turn is not None and abs(turn.change_deg) > 200.0 and turn.start_agl_m < 300.0
    return "other" if circled else kinds.get(names, "other")


def _hand(hand: Hand | None, legs: tuple[Leg, ...]) -> Hand | None:
    """The hand of the last turn of a pattern; None without one."""
    return hand if len(legs) > 1 else None


def _leg(
    track: Track,
    p: Piece,
    name: LegName,
    confidence: float,
    heights: Heights,
    end_s: float,
    others: Begins,
) -> Leg:
    east, north = _between(track, p.start_s, p.end_s)
    length, seconds = math.hypot(east, north), max(p.end_s - p.start_s, 1e-3)
    track_deg = float(compass_deg(east, north))
    turn: Turn | None = p.turn.turn if p.turn else None
    sd = sd_of_begin(heights.sd(turn.start_s, p.turn.start_sd_s, end_s), others) if p.turn and turn else None
    return Leg(
        name=name,
        start_s=p.start_s,
        end_s=p.end_s,
        turn_agl_m=turn.start_agl_m if turn else None,
        turn_agl_sd_m=sd,
        start_agl_m=heights.at(p.start_s),
        end_agl_m=heights.at(p.end_s),
        heading_deg=p.heading_deg,
        track_deg=track_deg,
        crab_deg=float(signed_difference_deg(p.heading_deg, track_deg)),
        ground_speed_mps=length / seconds,
        length_m=length,
        confidence=confidence,
        turn=turn,
    )


def _gate(track: Track, leg: Leg, p: Piece, heights: Heights, end_s: float) -> Gate:
    assert p.turn is not None
    assert leg.turn_agl_sd_m is not None
    at = p.turn.turn.start_s
    east, north = np.interp(at, track.t_s, track.east_m), np.interp(at, track.t_s, track.north_m)
    around = _between(track, at - 1.0, at + 1.0)
    lateral = math.hypot(track.position_sd_m, p.turn.start_sd_s * 0.5 * math.hypot(*around))
    return Gate(
        leg.name,
        p.turn.turn.start_agl_m,
        float(east),
        float(north),
        leg.heading_deg,
        leg.track_deg,
        at,
        leg.turn_agl_sd_m,
        lateral,
    )
