"""find_legs: Track + WindProfile -> flown Pattern with turn heights."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from analyser.angles import circular_mean_deg, compass_deg, signed_difference_deg
from analyser.legs.begins import Begins, Piece, other_begins, out_of_holding, sd_of_begin
from analyser.legs.heading import AirHeading, Stretch, air_heading
from analyser.legs.landing import between, landing_direction, named
from analyser.legs.naming import Naming
from analyser.legs.scores import Name
from analyser.legs.segments import find_stretches
from analyser.legs.swing import steadied
from analyser.legs.thresholds import LEGS
from analyser.legs.turns import Heights, TurnFound, heights_of, refine_turns
from analyser.pattern import Gate, Hand, Leg, LegName, Pattern, PatternKind, Turn
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["find_legs"]

Vector = NDArray[np.float64]


def find_legs(
    track: Track,
    start: int,
    stop: int,
    wind: WindProfile,
    *,
    landing_s: float | None = None,
    planned: Collection[LegName] = (),
) -> Pattern:
    """Name the legs of a canopy flight, backwards from the landing.

    Parameters
    ----------
    track : Track
        The jump.
    start, stop : int
        The fixes of the canopy flight, ``stop`` at the landing.
    wind : WindProfile
        The wind it was flown in; a forecast serves as well as a recovered one. Where it is undetermined the ground track stands
        for the heading, with half the confidence.
    landing_s : float, optional
        Time of touchdown [s, track time] where it is known more finely than ``stop``.
    planned : collection of str
        The legs of the jumper's plan: nothing but that tells a crosswind leg from a last leg of holding across the wind; empty
        where there was no plan.

    Returns
    -------
    Pattern
        Legs and gates with heights [m above the landing area], places [m from the origin of the track's frame], angles
        [deg true]. Legs that were not flown are left out; "other" is an answer, with a reason. Nothing is raised.

    Notes
    -----
    Ours: straight stretches and turns of the air heading, and the most likely naming of them under published pattern heights;
    docs/pattern.md.

    Examples
    --------
    >>> from analyser.importers.read import read
    >>> from analyser.phases import find_phases
    >>> from analyser.track import build_track
    >>> track = build_track(read("sample_tracks/steady_breeze.fit"))
    >>> phases = find_phases(track)
    >>> forecast = WindProfile.from_points([(0, 4, 117)])
    >>> flown = find_legs(track, phases.canopy().start, phases.landing_index + 1, forecast)
    >>> flown.legs[-1].name
    'final'
    """
    end_s = float(track.t_s[min(stop, len(track)) - 1]) if landing_s is None else landing_s
    part = _pattern_part(track, start, stop)
    known = int(np.isfinite(track.agl_m[part]).sum())
    if known < 8 or track.t_s[part.stop - 1] - track.t_s[part.start] < LEGS.least_flight_s:
        return Pattern("other", None, None, reason="less than eight seconds of canopy flight near the ground")
    heading, blind = _heading(track, part, wind)
    if heading.t.shape[0] < 6:
        return Pattern("other", None, None, reason="too few fixes near the ground")
    heading, stretches = steadied(heading, find_stretches(heading))
    heights = heights_of(track, part, end_s)
    pieces = _pieces(stretches, refine_turns(heading, stretches, heights), end_s)
    odds = (
        1.0
        if not planned
        else LEGS.crosswind_planned
        if "crosswind" in planned
        else LEGS.crosswind_not_planned
    )
    naming = named(track, pieces, heights, end_s, odds)
    return _pattern(track, pieces, naming, heights, naming.landing.track_deg, end_s, blind)


def _pattern_part(track: Track, start: int, stop: int) -> slice:
    """The fixes of the canopy flight after it was last above 600 m, at most five minutes."""
    h = track.agl_m[start:stop]
    high = np.flatnonzero(np.nan_to_num(h, nan=0.0) > LEGS.below_m)
    first = start + (int(high[-1]) + 1 if high.size else 0)
    last = track.t_s[min(stop, len(track)) - 1]
    return slice(max(first, int(np.searchsorted(track.t_s, last - LEGS.last_s))), stop)


def _heading(track: Track, part: slice, wind: WindProfile) -> tuple[AirHeading, bool]:
    """Air heading, and whether it is only the ground track because the wind is not known."""
    h = track.agl_m[part]
    low = np.isfinite(h) & (h < LEGS.wind_below_m)
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
    told = [(p, n, c * trust) for p, n, c in _merge(pieces, naming) if n is not None]
    if told[0][1] != "final":
        told[0] = (out_of_holding(told[0][0], told[0][1], heights), *told[0][1:])
    others = [other_begins(pieces, naming, n, p, heights) for p, n, _ in told if n]
    legs = tuple(_leg(track, p, n, c, heights, end_s, o) for (p, n, c), o in zip(told, others) if n)
    gates = tuple(_gate(track, leg, p, heights, end_s) for leg, (p, _, _) in zip(legs, told) if p.turn)
    kind = _kind(legs)
    reason = "the wind is not known: the ground track stands for the heading" if blind else ""
    weaves = _s_turns(pieces, naming)
    last = max((w.end_s for w in weaves), default=legs[-1].start_s)
    if weaves and legs[-1].ground_speed_mps > LEGS.moves_mps:
        landing_deg = legs[-1].track_deg  # one swing of an S-turn is no direction of landing
    elif naming.names[-2:] == ("final", "final") and naming.landing.finals == 1:
        landing_deg = landing_direction(track, legs[-1].start_s, end_s, landing_deg)  # nor is the last swerve
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
        if before == name == "final" and p.turn and abs(p.turn.turn.change_deg) >= LEGS.s_turn_deg:
            found.append(p.turn.turn)
    return tuple(found)


def _kind(legs: tuple[Leg, ...]) -> PatternKind:
    """The kind by the legs flown; a final that ends a low circle is no straight approach."""
    names = tuple(leg.name for leg in legs)
    kinds: dict[tuple[str, ...], PatternKind] = {
        ("crosswind", "downwind", "base", "final"): "box",
        ("downwind", "base", "final"): "three-leg",
        ("final",): "straight in",
    }
    turn = legs[-1].turn if legs else None
    circled = (
        turn is not None
        and abs(turn.change_deg) > LEGS.circle_deg
        and turn.start_agl_m < LEGS.circled_below_m
    )
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
    east, north = between(track, p.start_s, p.end_s)
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
    around = between(track, at - 1.0, at + 1.0)
    known = heights.sd(at, p.turn.start_sd_s, end_s)
    other_s = math.sqrt(max(leg.turn_agl_sd_m**2 - known**2, 0.0)) / max(heights.sink_at(at), 1.0)
    timing_s = math.hypot(p.turn.start_sd_s, other_s)
    lateral = math.hypot(track.position_sd_m, timing_s * 0.5 * math.hypot(*around))
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
