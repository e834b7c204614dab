"""The story of a load: who was in it, in which order, who came how near whom, which way all landed, one wind for all. Nothing ranks people."""

from __future__ import annotations

from functools import partial

from analyser.findings import CAUTIONS
from analyser.load.approach import Approach
from analyser.load.directions import landing_deg, landing_deg_sd
from analyser.load.order import Event, Moment
from analyser.load.study import Load
from analyser.load.thresholds import LOAD
from analyser.report.documents.values import utc
from analyser.report.pictures.load import load_plan_view, load_side_view, load_winds
from analyser.report.plain import two_clocks
from analyser.report.story.air import fitted_together, wind_heights
from analyser.report.story.blocks import (
    Aside,
    Block,
    Cell,
    Chapter,
    Line,
    Picture,
    Points,
    Remark,
    Sentence,
    Story,
    Sub,
    Table,
    angle,
    bearing,
    distance,
    height,
    lines_of,
    speed,
)
from analyser.report.story.foot import cautions
from analyser.sentences import Number

__all__ = ["tell_load"]

SHOWN = 12
ALONE = "Only one track tells of the wind: there is nothing to fit together."


def tell_load(load: Load) -> Story:
    """The story; jumpers are numbered by their exits."""
    first = min(f.t_s[-1] if f.exit_s is None else f.exit_s for f in load.flights)
    frame = load.frame
    when = two_clocks(float(first), frame.lat_deg, frame.lon_deg)
    names = tuple(f.name for f in load.flights)
    pictures = (
        Picture(
            "plan-view",
            "All flights from above",
            "Numbers by exit: a circle where the canopy opened, a cross where it landed. The slider at the bottom moves all marks.",
            f"Plan view of {len(names)} canopy flights; the tables tell the places.",
            partial(load_plan_view, load),
        ),
        Picture(
            "side-view",
            "All flights from the side",
            "The direction of landing to the right, heights above the landing area.",
            f"Side view of {len(names)} canopy flights by height.",
            partial(load_side_view, load),
        ),
    )
    return Story(
        title=f"Load of {when}",
        kicker="Everyone of one load, read on the ground",
        heading=f"A load of {len(names)}",
        facts=(("First exit", when), ("Tracks", str(len(names)))),
        brief=_brief(load),
        chapters=(
            Chapter("flights", "Everyone", _everyone(load), pictures),
            Chapter("near", "Nearest approaches", _near(load)),
            Chapter("ways", "Directions and hands", _ways(load)),
            Chapter("wind", "One wind for all", _wind(load), _wind_picture(load)),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=_foot(load),
        command="crabline load",
    )


def _who(load: Load, k: int) -> str:
    return f"{k + 1} {load.flights[k].name}"


def _clock(seconds: float) -> str:
    return (utc(round(seconds)) or "")[11:19]


def _brief(load: Load) -> tuple[tuple[str, Sentence], ...]:
    rows = [
        (
            "Nearest",
            _approach(load, load.near[0]) if load.near else Remark("no two canopies flew at one time"),
        )
    ]
    if load.direction_deg is not None:
        hand = f", {load.hand}-hand pattern" if load.hand else ""
        others = f"; {len(load.ways)} pairs landed different ways" if load.ways else ""
        rows.append(
            (
                "Landings",
                Sentence(
                    "Most landed towards {deg}" + hand + others + ".", {"deg": bearing(load.direction_deg)}
                ),
            )
        )
    rows.append(("Wind", _agreement(load)))
    return tuple(rows)


def _approach(load: Load, one: Approach) -> Sentence:
    """Who, how far apart, at which height, how long before the first of them landed."""
    return Sentence(
        "{a} and {b}: {apart} apart at {high}, {s} before the first landed.",
        {
            "a": _who(load, one.pair[0]),
            "b": _who(load, one.pair[1]),
            "apart": distance(one.distance_m, one.sd_m),
            "high": height(one.agl_m),
            "s": Number("seconds", max(one.before_landing_s, 0.0)),
        },
    )


def _everyone(load: Load) -> tuple[Block, ...]:
    head = ("", "exit (UTC)", "opening", "opened at", "landing", "landed towards", "hand")
    rows: list[tuple[Cell, ...]] = []
    for k, (jump, flight) in enumerate(zip(load.jumps, load.flights)):
        canopy = jump.phases.canopy()
        moments: list[Cell] = [
            "–" if t is None else _clock(t) for t in (flight.exit_s, flight.opened_s, flight.landed_s)
        ]
        rows.append(
            (
                _who(load, k),
                *moments[:2],
                height(canopy.start_agl_m) if canopy else "–",
                moments[2],
                bearing(landing_deg(jump), landing_deg_sd(jump)),
                (jump.flown.hand if jump.flown else None) or "–",
            )
        )
    unknown = [_who(load, k) for k, f in enumerate(load.flights) if f.clock_sd_s >= LOAD.clock_sd_s]
    orders = [_order(load, event) for event in load.order if load.order[event]]
    return lines_of(
        Table("Everyone, by exit", head, tuple(rows), words=frozenset({6}), stacked=True),
        Sub("In which order"),
        Points(tuple(orders)),
        Line(Sentence("A slash joins moments too close to tell who was first."), "quiet"),
        Line(_unknown_clock(unknown)) if unknown and len(load.flights) > 1 else None,
        Line(Remark(f"left out, for another track was recorded on the same body: {', '.join(load.twins)}"))
        if load.twins
        else None,
    )


def _unknown_clock(names: list[str]) -> Sentence:
    one = len(names) == 1
    return Sentence(
        (
            "{names}: the track does not show enough of the ride up to set {its} clock by the others'. "
            "Its times count as known to {sd}."
        ),
        {"names": ", ".join(names), "its": "its" if one else "each", "sd": f"{LOAD.clock_sd_s:.1f} s"},
    )


def _order(load: Load, event: Event) -> Sentence:
    names = {"exit": "Exits", "opening": "Openings", "landing": "Landings"}
    return Sentence("{what}: {who}.", {"what": names[event], "who": _chain(load.order[event])})


def _chain(moments: tuple[Moment, ...]) -> str:
    text = ""
    for moment in moments:
        text += ("" if not text else " / " if moment.tied else ", ") + str(moment.who + 1)
    return text


def _near(load: Load) -> tuple[Block, ...]:
    if not load.near:
        return (Line(Remark("no two canopies flew at one time"), "missing"),)
    close = [_approach(load, one) for one in load.near if one.close]
    maybe = [_approach(load, one) for one in load.near if one.maybe_close and not one.close]
    return lines_of(
        Line(Sentence("Nearer than {m}:", {"m": distance(LOAD.close_m)})) if close else None,
        Points(tuple(close)) if close else None,
        Line(Sentence("May have been nearer than {m}:", {"m": distance(LOAD.close_m)})) if maybe else None,
        Points(tuple(maybe)) if maybe else None,
        None
        if close or maybe
        else Line(Sentence("No pair came nearer than {m}.", {"m": distance(LOAD.close_m)})),
        _table(load, "Under canopy", load.near),
        _table(load, "While both were below pattern height (1,000 ft)", load.near_low)
        if load.near_low
        else Line(Remark("no two were below pattern height (1,000 ft) at one time"), "missing"),
        Aside((Line(Sentence(_HOW)),), "How this is known"),
    )


_HOW = (
    "The distance is between two receivers, in all three directions. Its error is that of both receivers and both clocks. "
    "In the aeroplane both were at one place, so what the tracks differed by there shows the clocks and the errors of the day. "
    "± is one standard deviation."
)


def _table(load: Load, caption: str, near: tuple[Approach, ...]) -> Table:
    head = ("pair", "apart", "95 %", "at", "level, height", "before landing", "when (UTC)")
    rows = tuple(
        (
            f"{one.pair[0] + 1} and {one.pair[1] + 1}",
            distance(one.distance_m, one.sd_m),
            Sentence("{low}–{high}", {"low": distance(one.low_m), "high": distance(one.high_m)}),
            height(one.agl_m),
            Sentence("{level}, {up}", {"level": distance(one.level_m), "up": height(abs(one.height_m))}),
            Number("seconds", max(one.before_landing_s, 0.0)),
            _clock(one.t_s),
        )
        for one in near[:SHOWN]
    )
    return Table(caption, head, rows, stacked=True)


def _ways(load: Load) -> tuple[Block, ...]:
    if load.direction_deg is None:
        return (Line(Remark("no direction of landing is known"), "missing"),)
    known = {"site": "the field's", "plan": "the plan's", "load": "the hand most of them flew"}
    told = Sentence("Most landed towards {deg}.", {"deg": bearing(load.direction_deg)})
    hand = (
        Sentence(
            "The pattern's hand is {hand} ({where}).", {"hand": load.hand, "where": known[load.hand_from]}
        )
        if load.hand
        else Sentence("The hand of the pattern is not known: as many flew the one as the other.")
    )
    turns = tuple(
        Sentence(
            "{who}: a turn to the {side} onto {leg}, at {high}.",
            {
                "who": _who(load, turn.who),
                "side": "right" if turn.change_deg > 0 else "left",
                "leg": turn.leg,
                "high": height(turn.agl_m, turn.agl_sd_m),
            },
        )
        for turn in load.turns
    )
    ways = tuple(
        Sentence(
            "{a} and {b} landed {deg} apart in direction, {s} apart in time.",
            {
                "a": _who(load, way.pair[0]),
                "b": _who(load, way.pair[1]),
                "deg": angle(way.apart_deg),
                "s": Number("seconds", way.seconds),
            },
        )
        for way in load.ways[:SHOWN]
    )
    return lines_of(
        Line(told),
        Line(hand),
        Sub("Turns against the hand"),
        Points(turns)
        if turns
        else Line(Sentence("None was seen.") if load.hand else Sentence("Without a hand there is none.")),
        Sub("Landings in different directions"),
        Points(ways) if ways else Line(Sentence("None: all landed within 60° of each other.")),
    )


def _agreement(load: Load) -> Sentence:
    share = load.agreement.share
    if load.wind is None or share is None:
        return Remark(ALONE)
    return fitted_together(sum(load.wind.used), load.agreement.pairs, share)


def _wind(load: Load) -> tuple[Block, ...]:
    wind = load.wind
    if wind is None:
        return (Line(Remark(ALONE), "missing"),)
    best = max(wind.profiles, key=lambda p: p.agl_m.size)
    rows: list[tuple[Cell, ...]] = []
    for h in wind_heights(best):
        at = best.at(h)
        if at.status != "undetermined":
            rows.append((height(h), bearing(at.from_deg), speed(at.speed, at.speed_sd), at.status))
    speeds = tuple(
        (
            _who(load, k),
            speed(jump.wind.canopy.airspeed_mps, jump.wind.canopy.airspeed_sd_mps),
            speed(alone.wind.canopy.airspeed_mps, alone.wind.canopy.airspeed_sd_mps),
        )
        for k, (jump, alone) in enumerate(zip(load.jumps, load.alone))
        if jump.wind is not None and alone.wind is not None and jump.wind.canopy.airspeed_mps is not None
    )
    apart = [_who(load, k) for k, f in enumerate(wind.factors) if wind.used[k] and f >= LOAD.far_apart]
    return lines_of(
        Line(_agreement(load)),
        Line(
            Sentence(
                "{who}: the wind of this track differs from the others' by more than the errors allow. It counts for less here.",
                {"who": ", ".join(apart)},
            )
        )
        if apart
        else None,
        Table(
            "The load's wind by height",
            ("height", "from", "speed", "status"),
            tuple(rows),
            words=frozenset({3}),
        ),
        Table("Airspeed of each canopy at trim", ("", "in the load's wind", "by its track alone"), speeds)
        if speeds
        else None,
        Line(
            Sentence(
                "The wind may change with time, in twenty minutes by {c}; each canopy has its own speeds.",
                {"c": speed(wind.change_mps)},
            ),
            "quiet",
        ),
    )


def _wind_picture(load: Load) -> tuple[Picture, ...]:
    if load.wind is None:
        return ()
    return (
        Picture(
            "load-winds",
            "The wind of every track, and of all together",
            "Thin: each track alone. Bold: all together; bars are one standard deviation.",
            "Wind speed by height, of each track and of all together; the table tells the numbers.",
            partial(load_winds, load),
        ),
    )


def _foot(load: Load) -> tuple[Block, ...]:
    known = sum(f.clock_sd_s < LOAD.clock_sd_s for f in load.flights)
    return (
        Line(
            Sentence(
                "Clocks of {n} of {all} tracks were set by the ride in the aeroplane.",
                {"n": str(known), "all": str(len(load.flights))},
            ),
            "quiet",
        ),
    )
