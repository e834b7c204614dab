"""Tables of the season's page."""

from __future__ import annotations

import math

from analyser.report.markup import table
from analyser.report.page.shell import escape
from analyser.report.pictures.season import Part
from analyser.report.wording import Words, plain_number
from analyser.season.figures import Band

__all__ = ["condition_table", "gate_table", "group_table", "jump_table", "relation"]


def _radius(found: tuple[float, float, float] | None, words: Words) -> str:
    if found is None:
        return "–"
    return f"{words.distance(found[0])} {_bracket(words.distance(found[1]), words.distance(found[2]))}"


def _bracket(low: str, high: str) -> str:
    """An interval that no line break parts."""
    return f'<span class="stay">({low} to {high})</span>'


def group_table(parts: list[Part], words: Words) -> str:
    """Accuracy and trim, one column per canopy."""
    known = [p for p in parts if p.group.accuracy is not None]
    if not known:
        return ""
    rows = [
        ("level along", *(_along(p, words) for p in known)),
        ("level across", *(_across(p, words) for p in known)),
        ("spread along", *(words.distance(p.group.accuracy.along_sd) for p in known if p.group.accuracy)),
        ("spread across", *(words.distance(p.group.accuracy.across_sd) for p in known if p.group.accuracy)),
        (
            "half within, of the target",
            *(_radius(p.group.accuracy.r50, words) for p in known if p.group.accuracy),
        ),
        (
            "95 % within, of the target",
            *(_radius(p.group.accuracy.r95, words) for p in known if p.group.accuracy),
        ),
        (
            "half within, of their own centre",
            *(_radius(p.group.accuracy.own_r50, words) for p in known if p.group.accuracy),
        ),
    ]
    for ring in known[0].group.accuracy.shares if known[0].group.accuracy else ():
        shares = [p.group.accuracy.shares[ring] for p in known if p.group.accuracy]
        cells = [f"{100 * s:.0f} % {_bracket(f'{100 * a:.0f}', f'{100 * b:.0f}')}" for s, a, b in shares]
        rows.append((f"within {words.distance(ring)}", *cells))
    rows.append(("trim airspeed", *(_trim(p, words) for p in known)))
    rows.append(
        ("trim glide", *(plain_number(p.group.trim.glide, 1) if p.group.trim else "–" for p in known))
    )
    rows.append(("level along, drawn to all jumpers'", *(_shrunk(p, words) for p in known)))
    head = ("", *(f"{escape(p.name)} ({p.group.n})" for p in known))
    return table("Accuracy by canopy, with the number of jumps; ± and brackets are 95 %", head, rows)


def _along(part: Part, words: Words) -> str:
    found = part.group.accuracy
    return words.sides(found.along.value, found.along.half, "long", "short") if found else "–"


def _across(part: Part, words: Words) -> str:
    found = part.group.accuracy
    return words.sides(found.across.value, found.across.half, "right", "left") if found else "–"


def _trim(part: Part, words: Words) -> str:
    trim = part.group.trim
    return words.speed(trim.airspeed.mean, trim.airspeed.single_sd) if trim else "–"


def _shrunk(part: Part, words: Words) -> str:
    found = part.group.shrunk
    return words.sides(found[0], 1.96 * found[1], "long", "short") if found else "–"


def condition_table(part: Part, words: Words, private: bool) -> str:
    """Levels by wind, hand, site and height of the turn to final."""
    rows = []
    for kind, bands in part.group.conditions.items():
        for i, band in enumerate(bands, 1):
            name = f"site {i}" if private and kind == "site" else _band_name(band, words)
            if band.along is None or band.across is None:
                rows.append((f"{kind}: {name}", str(band.n), "fewer than ten", "–", "–"))
                continue
            along = words.distance(band.along.value, band.along.half, signed=True)
            across = words.distance(band.across.value, band.across.half, signed=True)
            rows.append((f"{kind}: {name}", str(band.n), along, across, words.distance(band.along_sd)))
    if not rows:
        return ""
    head = ("condition", "jumps", "along", "across", "spread along")
    return table(f"{part.name}: by condition; ± is half of the 95 % interval", head, rows)


def _band_name(band: Band, words: Words) -> str:
    if band.low is None:
        return escape(band.name)
    if band.high is None:
        return f"{words.speed(band.low)} and more"
    return f"{words.speed(band.low)} to {words.speed(band.high)}"


def gate_table(part: Part, words: Words) -> str:
    """Turn heights against the plan, and the causes of the miss."""
    html = ""
    rows = [
        (
            g.gate,
            str(g.n),
            words.height(g.planned_m),
            words.height(g.error.value, g.error.half, signed=True) if g.error else "fewer than ten",
            words.height(g.spread),
            words.height(g.measured_sd),
        )
        for g in part.group.gates
    ]
    if rows:
        head = ("turn onto", "jumps", "planned", "flown minus planned", "spread", "error of one height")
        html += table(f"{part.name}: heights of the turns", head, rows)
    shares = [
        (
            s.cause,
            f"{plain_number(100 * s.part)} % {_bracket(*(plain_number(100 * x) for x in (s.low, s.high)))}",
            words.distance(s.along.value, s.along.half, signed=True),
            words.distance(s.across.value, s.across.half, signed=True),
        )
        for s in part.group.causes
    ]
    if shares:
        titles = ("cause", "part of all metres missed", "level along", "level across")
        html += table(f"{part.name}: where the metres went", titles, shares)
    return html


def relation(part: Part, words: Words) -> str:
    """The slope of the miss over the height error of the turn to final, fitted and predicted."""
    found = part.group.turn_height
    if found is None:
        return ""
    slope, low, high = (
        plain_number(x, 1) for x in (found.fitted.slope.value, *found.fitted.slope.interval())
    )
    flat = (
        f" Errors of the heights flatten it by about {found.reliability:.2f}."
        if found.reliability < 0.95
        else ""
    )
    return (
        f"<p>{escape(part.name)}: one metre more height at the turn to final comes with {slope} m "
        f"({low} to {high}) further along over {found.n} jumps; glide and wind predict {found.predicted:.1f} m.{flat}</p>"
    )


def jump_table(parts: list[Part], words: Words) -> str:
    """Every jump, with a link to its debrief where there is one."""
    order = sorted((t, p, i) for p, part in enumerate(parts) for i, t in enumerate(part.jumps.t_s))
    rows = []
    for _, p, i in order:
        part = parts[p]
        label = escape(part.labels[i])
        label = f'<a href="{escape(part.links[i])}">{label}</a>' if part.links[i] else label
        along, across, wind = (float(part.jumps[n][i]) for n in ("along_m", "across_m", "wind_speed_mps"))
        hand, kind = part.jumps.text["hand"][i], part.jumps.text["pattern"][i]
        rows.append(
            (
                label,
                escape(part.name),
                words.distance(along, signed=True),
                words.distance(across, signed=True),
                words.speed(wind) if math.isfinite(wind) else "–",
                escape(" ".join(filter(None, (hand, kind))) or "–"),
            )
        )
    head = ("jump", "canopy", "along", "across", "wind", "pattern")
    return f"<details><summary>All jumps</summary>{table('Jumps', head, rows, words=frozenset({1, 5}))}</details>"
