"""The tables of a season: accuracy by canopy, by condition, turn heights, causes, every jump."""

from __future__ import annotations

from analyser.report.pictures.season import Part
from analyser.report.story.blocks import Cell, Line, Sentence, Table, distance, height, speed
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.report.story.counted import days_of, of_text
from analyser.season.figures import Accuracy, Band
from analyser.season.progress import card
from analyser.season.robust import half_95
from analyser.sentences import Number
from analyser.units import FOOT_M

__all__ = [
    "canopy_table",
    "causes_table",
    "conditions_table",
    "gates_table",
    "jumps_table",
    "progress_table",
    "relation",
]

FEW = "too few"
HIGHER_M = 100.0 * FOOT_M  # a turn so much higher, as the trade's heights are told
FINE_M = 1.5  # shown as fine as what is known so well, without a ±


def _radius(found: tuple[float, float, float] | None) -> Cell:
    if found is None:
        return "–"
    return Sentence(
        "{r} ({low} to {high})",
        {"r": distance(found[0]), "low": distance(found[1]), "high": distance(found[2])},
    )


def _share(found: tuple[float, float, float]) -> Cell:
    value, *ends = found
    low, high = (Number("count", 100.0 * v) for v in ends)
    return Sentence(
        "{value} ({low} to {high})", {"value": Number("percent", value), "low": low, "high": high}
    )


def canopy_table(parts: list[Part]) -> Table | None:
    """Accuracy and trim, one column per canopy."""
    known = [(p, p.group.accuracy) for p in parts if p.group.accuracy is not None]
    if not known:
        return None
    found: list[Accuracy] = [a for _, a in known if a is not None]
    rows: list[tuple[Cell, ...]] = [
        ("level along", *(distance(a.along.value, a.along.half, sides=LONG_SHORT) for a in found)),
        ("level across", *(distance(a.across.value, a.across.half, sides=RIGHT_LEFT) for a in found)),
        ("spread along", *(distance(a.along_sd) for a in found)),
        ("spread across", *(distance(a.across_sd) for a in found)),
        ("half within, of the target", *(_radius(a.r50) for a in found)),
        ("95 % within, of the target", *(_radius(a.r95) for a in found)),
        ("half within, of their own centre", *(_radius(a.own_r50) for a in found)),
    ]
    for ring in found[0].shares:
        rows.append(
            (Sentence("within {ring}", {"ring": distance(ring)}), *(_share(a.shares[ring]) for a in found))
        )
    rows.append(("trim airspeed", *(_trim(p) for p, _ in known)))
    rows.append(("trim airspeed, spread of single jumps", *(_trim_spread(p) for p, _ in known)))
    rows.append(
        ("trim glide", *(Number("ratio", p.group.trim.glide if p.group.trim else None) for p, _ in known))
    )
    rows.append(("level along, drawn to all jumpers'", *(_shrunk(p) for p, _ in known)))
    head = ("", *(f"{p.name} ({p.group.n})" for p, _ in known))
    return Table(
        "Accuracy by canopy, with the number of jumps; brackets are the 95 % interval", head, tuple(rows)
    )


def _trim(part: Part) -> Cell:
    trim = part.group.trim
    return speed(trim.airspeed.mean, half_95(trim.airspeed.se)) if trim else "–"


def _trim_spread(part: Part) -> Cell:
    trim = part.group.trim
    return Number("speed", None, trim.airspeed.single_sd, alone=True) if trim else "–"


def _shrunk(part: Part) -> Cell:
    found = part.group.shrunk
    return distance(found[0], half_95(found[1]), sides=LONG_SHORT) if found else "–"


def conditions_table(part: Part, private: bool) -> Table | None:
    """Levels by wind, hand, site and height of the turn to final."""
    rows: list[tuple[Cell, ...]] = []
    for kind, bands in part.group.conditions.items():
        for i, band in enumerate(bands, 1):
            name = _band(kind, band, f"site {i}" if private and kind == "site" else band.name)
            if band.along is None or band.across is None:
                rows.append((name, str(band.n), FEW, "–", "–"))
                continue
            along = distance(band.along.value, band.along.half, signed=True)
            across = distance(band.across.value, band.across.half, signed=True)
            rows.append((name, str(band.n), along, across, distance(band.along_sd)))
    head = ("condition", "jumps", "along", "across", "spread along")
    return Table(f"{part.name}: by condition", head, tuple(rows)) if rows else None


def _band(kind: str, band: Band, name: str) -> Sentence:
    if band.low is None:
        return Sentence("{kind}: {name}", {"kind": kind, "name": name})
    text = "{kind}: {low} and more" if band.high is None else "{kind}: {low} to {high}"
    return Sentence(text, {"kind": kind, "low": speed(band.low), "high": speed(band.high)})


def gates_table(part: Part) -> Table | None:
    """Turn heights against the plan."""
    rows = tuple(
        (
            g.gate,
            str(g.n),
            height(g.planned_m),
            height(g.error.value, g.error.half, signed=True) if g.error else FEW,
            height(g.spread),
            Number("height", None, half_95(g.measured_sd), alone=True),
        )
        for g in part.group.gates
    )
    head = ("gate", "jumps", "planned", "flown minus planned", "spread", "± of one height")
    return Table(f"{part.name}: heights of the turns", head, rows) if rows else None


def causes_table(part: Part) -> Table | None:
    """The causes of the miss."""
    rows = tuple(
        (
            s.cause,
            _share((s.part, s.low, s.high)),
            distance(s.along.value, s.along.half, signed=True),
            distance(s.across.value, s.across.half, signed=True),
        )
        for s in part.group.causes
    )
    head = ("cause", "part of all metres missed", "level along", "level across")
    return Table(f"{part.name}: causes of the miss", head, rows) if rows else None


def relation(part: Part) -> Line | None:
    """The slope of the miss over the height error of the turn to final, fitted and predicted."""
    found = part.group.turn_height
    if found is None:
        return None
    low, high = found.fitted.slope.interval()
    flat = " Errors of the heights flatten it by about {part}." if found.reliability < 0.95 else ""
    text = (
        "{name}: for each {higher} higher at the turn onto final, the landings were {slope} (95 %: {low} to {high}; {n} jumps). Glide and "
        f"wind predict {{predicted}}.{flat}"
    )
    return Line(
        Sentence(
            text,
            {
                "name": part.name,
                "higher": Number("height", HIGHER_M, FINE_M, bare=True),
                "slope": _longer(found.fitted.slope.value),
                "low": _longer(low),
                "high": _longer(high),
                "n": str(found.n),
                "predicted": _longer(found.predicted),
                "part": f"{found.reliability:.2f}",
            },
        )
    )


def _longer(slope: float) -> Number:
    """How much longer or shorter [m] for a turn so much higher, from metres along for a metre of height."""
    return distance(HIGHER_M * slope, sides=("longer", "shorter"))


def progress_table(part: Part, private: bool) -> Table:
    """What an instructor's card asks for under one canopy, with the days and room for the witness."""
    rows: list[tuple[Cell, ...]] = []
    for count, radius in card(part.jumps).counts:
        what: Cell = (
            Sentence("within {ring} of the target", {"ring": distance(radius)}) if radius else count.name
        )
        rows.append((what, of_text(count), days_of(count, private), ""))
    caption = f"{part.name}: progress, counted"
    return Table(caption, ("counted", "jumps", "days", "witness"), tuple(rows), words=frozenset({2, 3}))


def jumps_table(parts: list[Part], most: int | None) -> tuple[Table, int]:
    """Every jump, or the latest ``most``, with the way to its debrief where there is one; how many are left out."""
    order = sorted((t, p, i) for p, part in enumerate(parts) for i, t in enumerate(part.jumps.t_s))
    left = max(0, len(order) - most) if most is not None else 0
    rows: list[tuple[Cell, ...]] = []
    for _, p, i in order[left:]:
        part = parts[p]
        along, across, wind = (float(part.jumps[n][i]) for n in ("along_m", "across_m", "wind_speed_mps"))
        hand, kind = part.jumps.text["hand"][i], part.jumps.text["pattern"][i]
        rows.append(
            (
                Sentence("{label}", {"label": part.labels[i]}, part.links[i]),
                part.name,
                distance(along, signed=True),
                distance(across, signed=True),
                speed(wind),
                " ".join(filter(None, (hand, kind))) or "–",
            )
        )
    head = ("jump", "canopy", "along", "across", "wind", "pattern")
    return Table("Jumps", head, tuple(rows), words=frozenset({1, 5})), left
