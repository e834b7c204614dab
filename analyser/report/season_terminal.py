"""Season -> the terminal: what every jumper's jumps have in common, the table of jumps, the tracks that gave nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Final

from analyser.findings import CAUTIONS
from analyser.logbook.counts import Counts
from analyser.logbook.rows import Row
from analyser.report.plain import plain
from analyser.report.terminal import bullet, heading, line, show, table
from analyser.season.figures import LEAST, Band
from analyser.season.stats import GroupSeason, JumperSeason, Season
from analyser.season.words import METHOD, day, say
from analyser.units import DisplaySystem

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_season"]

SHOWN_FAILURES: Final = 50


def print_season(
    season: Season,
    counts: Counts,
    rows: Iterable[Row],
    display: DisplaySystem,
    console: Console,
    *,
    private: bool = False,
) -> None:
    """Print the summary. ``rows``: the jumps to list, in order of landing; ``private`` shows no names, dates and places."""
    heading(
        console,
        f"crabline season  {_number(season.jumps, 'jump')}, {_number(len(season.jumpers), 'jumper')}",
        first=True,
    )
    line(console, _run(counts))
    for number, jumper in enumerate(season.jumpers, 1):
        name = f"jumper {number}" if private else jumper.name or "jumper not named"
        _jumper(jumper, name, display, console, private)
    _jumps(list(rows), season.jumps, display, console, private)
    _failures(season, console, private)
    heading(console, "HOW THIS WAS FOUND")
    line(console, METHOD)
    heading(console, "CAUTIONS")
    for caution in CAUTIONS:
        bullet(console, caution, style="dim")


def _number(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def _run(counts: Counts) -> str:
    parts = [
        f"{_number(counts.tracks, 'track')}: {counts.debriefed} debriefed now, {counts.unchanged} unchanged"
    ]
    if counts.copies:
        parts.append(_number(counts.copies, "copy").replace("copys", "copies"))
    if counts.failed + counts.unreadable:
        parts.append(f"{counts.failed + counts.unreadable} failed now")
    if counts.failed_before:
        parts.append(f"{counts.failed_before} failed before (--retry takes up again)")
    if counts.missing:
        parts.append(f"{counts.missing} no longer there (their jumps are kept)")
    return ", ".join(parts)


def _jumper(jumper: JumperSeason, name: str, display: DisplaySystem, console: Console, private: bool) -> None:
    heading(console, plain(name).upper())
    if jumper.currency is None:
        line(console, "no jump that counts")
    elif private:
        line(
            console,
            f"{_number(jumper.currency.n, 'jump')}, longest gap {jumper.currency.longest_gap_days:.0f} days",
        )
    else:
        found = jumper.currency
        line(
            console,
            f"{_number(found.n, 'jump')} from {day(found.first_s)} to {day(found.last_s)}, "
            f"longest gap {found.longest_gap_days:.0f} days",
        )
    for left in jumper.left_out:
        line(console, f"left out: {left.count}, {left.reason}")
    claims = jumper.claims
    if claims:
        line(console, "What stands out:")
        for claim in claims:
            bullet(console, f"{say(claim, display, dates=not private)}.")
    elif any(group.accuracy for group in jumper.groups):
        line(console, "Nothing stands out from what chance brings.")
    else:
        line(console, f"Fewer than {LEAST} jumps with a target under one canopy: too few to say anything.")

    for index, group in enumerate(jumper.groups, 1):
        _group(group, f"canopy {index}" if private else group.canopy or "canopy not named", display, console)


def _group(group: GroupSeason, name: str, display: DisplaySystem, console: Console) -> None:
    part = f", part {group.part}" if group.part else ""
    line(console, f"{plain(name)}{part}: {_number(group.n, 'jump')}{_trim_text(group, display)}")
    found, unit = group.accuracy, display.distance
    if found is None:
        return
    a, c = (unit.text(abs(x.value), x.half) for x in (found.along, found.across))
    sides = ("long" if found.along.value >= 0 else "short", "right" if found.across.value >= 0 else "left")
    line(
        console,
        f"  level {a} {sides[0]}, {c} {sides[1]}; spread {unit.text(found.along_sd)} along, {unit.text(found.across_sd)} across",
    )
    r95 = f", 95 % within {_radius(found.r95, display)}" if found.r95 else ""
    line(
        console,
        f"  half within {_radius(found.r50, display)} of the target{r95}; half within {_radius(found.own_r50, display)} of their own centre",
    )
    _bands(group, display, console)
    for gate in group.gates:
        if gate.error is not None:
            error = display.height.text(gate.error.value, gate.error.half, signed=True)
            line(
                console,
                f"  {gate.gate} turn {error} against the plan, spread {display.height.text(gate.spread)}",
            )
    if group.causes:
        parts = ", ".join(f"{s.cause} {round(100 * s.part)} %" for s in group.causes)
        line(console, f"  where the metres went: {parts}")
    if group.turn_height is not None:
        t = group.turn_height
        low, high = t.fitted.slope.interval()
        line(
            console,
            f"  height of the turn to final: {t.fitted.slope.value:.1f} ({low:.1f} to {high:.1f}) m along per m of height, "
            f"physics says {t.predicted:.1f}",
        )


def _trim_text(group: GroupSeason, display: DisplaySystem) -> str:
    if group.trim is None:
        return ""
    airspeed = display.speed.text(group.trim.airspeed.mean, group.trim.airspeed.single_sd)
    return f", trim {airspeed}, glide {group.trim.glide:.1f}"


def _radius(found: tuple[float, float, float], display: DisplaySystem) -> str:
    unit = display.distance
    return f"{unit.text(found[0])} ({unit.show(found[1]):.0f} to {unit.show(found[2]):.0f})"


def _bands(group: GroupSeason, display: DisplaySystem, console: Console) -> None:
    for name, bands in group.conditions.items():
        told = [_band(band, display) for band in bands if band.along is not None]
        if len(told) > 1:
            line(console, f"  by {name}: {'; '.join(told)}")


def _band(band: Band, display: DisplaySystem) -> str:
    name = band.name
    if band.low is not None:
        unit = display.speed
        low, high = unit.show(band.low), unit.show(band.high)
        name = (
            f"{low:.0f} to {high:.0f} {unit.label}"
            if high is not None
            else f"{low:.0f} {unit.label} and more"
        )
    assert band.along is not None
    value = display.distance.text(band.along.value, band.along.half, signed=True)
    return f"{plain(name)} {value} along ({band.n})"


def _jumps(rows: Sequence[Row], total: int, display: DisplaySystem, console: Console, private: bool) -> None:
    if not rows:
        return
    heading(console, "JUMPS")
    unit, speed = display.distance, display.speed
    first = ("#",) if private else ("landed (UTC)", "jumper")
    found = table(
        *first, f"along {unit.label}", f"across {unit.label}", f"wind {speed.label}", "pattern", "notes"
    )
    for number, row in enumerate(rows, 1):
        when = (row["landing_utc"] or "–")[:16].replace("T", " ")
        who = (str(number),) if private else (when, plain(row["jumper"], 14) or "–")
        found.add_row(
            *who,
            _whole(unit.show(row["along_m"])),
            _whole(unit.show(row["across_m"])),
            _whole(speed.show(row["wind_speed_mps"]), signed=False),
            " ".join(filter(None, (row["hand"], row["pattern"]))) or "–",
            _notes(row, private),
        )
    show(console, found)
    if total > len(rows):
        line(console, f"{total - len(rows)} earlier jumps are not listed; --csv writes all")


def _notes(row: Row, private: bool) -> str:
    if row["kind"] != "jump":
        return "no jump"
    parts = ["left out" if row["excluded"] else None, None if row["grade"] == "good" else row["grade"]]
    if not private:
        parts.append(plain(row["note"], 24) or None)
    return ", ".join(p for p in parts if p)


def _whole(value: float | None, *, signed: bool = True) -> str:
    if value is None:
        return "–"
    return f"{round(value) + 0:+d}" if signed and round(value) else f"{round(value):d}"


def _failures(season: Season, console: Console, private: bool) -> None:
    if not season.failures:
        return
    heading(console, "TRACKS THAT GAVE NOTHING")
    if private:
        line(console, _number(len(season.failures), "track"))
        return
    for failure in islice(season.failures, SHOWN_FAILURES):
        bullet(console, f"{failure.path}: {failure.reason}")
    if len(season.failures) > SHOWN_FAILURES:
        line(console, f"and {len(season.failures) - SHOWN_FAILURES} more; --json lists all")
