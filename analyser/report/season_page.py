"""A season -> one HTML page: what stands out, then every jumper with tables and pictures; each point leads to its debrief."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import PurePath
from typing import Final

import numpy as np

from analyser._version import __version__
from analyser.findings import CAUTIONS
from analyser.logbook import Logbook
from analyser.report.markup import bullets, chapter, figure, missing, table
from analyser.report.page.controls import units_choice
from analyser.report.page.shell import escape, page
from analyser.report.pictures.season import Part, jumper_pictures
from analyser.report.pictures.spec import Spec
from analyser.report.season_tables import condition_table, gate_table, group_table, jump_table, relation
from analyser.report.wording import Words
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.questions import Question
from analyser.season.stats import JumperSeason, Season, group_jumps
from analyser.season.words import METHOD, day, say
from analyser.units import DisplaySystem

__all__ = ["MOST_JUMPERS", "render_season"]

MOST_JUMPERS: Final = 12  # pictures of more make a page nobody opens
Link = Callable[[str, int], str]

CAPTIONS: Final[dict[str, tuple[str, str, str]]] = {
    "landings": (
        "Landings about the target, into the wind upward",
        "Rings at 10, 20, 50 and 100 m. Ellipses hold half and 95 % of a scatter like this one.",
        "Every landing as seen from above with the target in the middle and the wind coming from the top. The numbers stand in the "
        "tables.",
    ),
    "over-time": (
        "Long or short, jump by jump",
        "The line is the median of the last ten jumps.",
        "Offset along the landing direction over time, with a running median. The numbers stand in the table of jumps.",
    ),
    "over-wind": (
        "Long or short by wind",
        "Wide bars: level of each wind band with ten jumps or more and its 95 % interval.",
        "Offset along the landing direction against wind speed, with the level of each wind band. The numbers stand in the tables.",
    ),
    "gates": (
        "Height of the turns against the plan",
        "Zero is the planned height.",
        "Height of each turn minus the planned height over time. The numbers stand in the table of turn heights.",
    ),
    "causes": (
        "Where the metres came from, jump by jump",
        "Bars add up to the offset along; of many jumps, neighbours are averaged.",
        "Stacked signed bars, one for each cause of the offset along. The shares stand in the tables.",
    ),
    "turn-height": (
        "Height of the turn to final and the miss",
        "Solid: robust line through the jumps. Dashed: what glide and wind predict.",
        "Offset along against the height error of the turn to final, with the fitted and the predicted slope.",
    ),
}


def render_season(
    logbook: Logbook,
    season: Season,
    *,
    units: str = "uk",
    private: bool = False,
    link: Link | None = None,
    assets: PurePath | None = None,
) -> str:
    """The page as text.

    ``link`` gives the address of one jump's debrief from its content hash and number, "" for none; ``private`` leaves out
    names, dates, places and files (whoever links has to see to that of the pages); ``assets`` as for the debrief's page.
    """
    words = Words(units)
    figures: dict[str, Spec] = {}
    parts = [_overview(season, words, private)]
    for number, jumper in enumerate(season.jumpers, 1):
        name = f"Jumper {number}" if private else jumper.name or "Jumper not named"
        found = sorted(_parts(logbook, jumper, private, link), key=lambda p: p.places[0])
        pictures = jumper_pictures(found, dates=not private) if number <= MOST_JUMPERS else {}
        slots = ""
        for key, spec in pictures.items():
            figures[f"{key}-{number}"] = spec
            title, text, alternative = CAPTIONS[key]
            slots += figure(f"{key}-{number}", title, text, f"{name}. {alternative}")
        text = _jumper(jumper, found, words, private)
        parts.append(chapter(len(parts) + 1, f"jumper-{number}", name, text, slots))
    parts.append(chapter(len(parts) + 1, "failures", "Tracks that gave nothing", _failures(season, private)))
    parts.append(chapter(len(parts) + 1, "method", "How this was found", f"<p>{escape(METHOD)}</p>"))
    parts.append(chapter(len(parts) + 1, "cautions", "Cautions", bullets(map(escape, CAUTIONS))))
    body = (
        '<a class="skip" href="#overview">Skip to the season</a>'
        f'<div class="wrap"><header class="masthead">{_masthead(season, private)}</header>'
        f'<div class="controls" role="group" aria-label="How to show">{units_choice(units)}</div>'
        f'<main>{"".join(parts)}</main><footer class="colophon"><p>Made by crabline {escape(__version__)}. '
        "This page asks nothing of the network.</p></footer></div>"
    )
    return page(
        "Season",
        body,
        units=units,
        figures=figures,
        scripts=["season.js"],
        styles=["season.css"],
        assets=assets,
    )


def _masthead(season: Season, private: bool) -> str:
    times = [t for j in season.jumpers if j.currency for t in (j.currency.first_s, j.currency.last_s)]
    facts = [("Jumps", str(season.jumps)), ("Jumpers", str(len(season.jumpers)))]
    if times and not private:
        facts.append(("From", f"{day(min(times))} to {day(max(times))}"))
    rows = "".join(f"<li>{name} <b>{escape(value)}</b></li>" for name, value in facts)
    return f'<p class="kicker">Landings of many jumps, read on the ground</p><h1>Season</h1><ul class="facts">{rows}</ul>'


def _overview(season: Season, words: Words, private: bool) -> str:
    rows = []
    for number, jumper in enumerate(season.jumpers, 1):
        name = f"Jumper {number}" if private else jumper.name or "Jumper not named"
        who = f'<a href="#jumper-{number}">{escape(name)}</a>'
        told = [_sentence(words, claim, private) for claim in jumper.claims]
        rows.append(
            (who, str(jumper.currency.n if jumper.currency else 0), " ".join(told) or _silence(jumper))
        )
    head = ("jumper", "jumps", "what stands out")
    return chapter(1, "overview", "What stands out", table("Jumpers", head, rows, words=frozenset({2})))


def _silence(jumper: JumperSeason) -> str:
    if any(group.accuracy for group in jumper.groups):
        return "Nothing beyond what chance brings."
    return "Fewer than ten jumps with a target under one canopy: too few to say anything."


def _sentence(words: Words, claim: Question, private: bool) -> str:
    def text(display: DisplaySystem) -> str:
        told = say(claim, display, dates=not private)
        return f"{told[0].upper()}{told[1:]}."

    return words.said(text)


def _parts(logbook: Logbook, jumper: JumperSeason, private: bool, link: Link | None) -> Iterator[Part]:
    jumps, _ = read_jumps(logbook.rows(jumper.name, one_jumper=True))
    for i, ((_, part, mine, _q), group) in enumerate(zip(group_jumps(jumps), jumper.groups, strict=True), 1):
        name = f"canopy {i}" if private else group.canopy or "canopy not named"
        name = f"{name}, part {part}" if part else name
        hashes = mine.text["sha256"]
        links = [link(str(sha), jump) if link else "" for sha, jump in zip(hashes, mine.jump, strict=True)]
        places = tuple(int(k) + 1 for k in np.searchsorted(jumps.t_s, mine.t_s))
        yield Part(name, mine, group, places, tuple(_labels(mine, private, places)), tuple(links))


def _labels(jumps: Jumps, private: bool, places: Sequence[int]) -> Iterator[str]:
    for place, t in zip(places, jumps.t_s, strict=True):
        yield f"jump {place}" if private else f"{datetime.fromtimestamp(float(t), UTC):%Y-%m-%d %H:%M} UTC"


def _jumper(jumper: JumperSeason, parts: list[Part], words: Words, private: bool) -> str:
    html = bullets([_sentence(words, claim, private) for claim in jumper.claims])
    html = html or f'<p class="lead">{_silence(jumper)}</p>'
    found = jumper.currency
    if found is not None:
        months = ", ".join(f'<span class="stay">{escape(m)}: {n}</span>' for m, n in found.per_month.items())
        when = "" if private else f" Jumps per month: {months}."
        html += f'<p class="quiet">{found.n} jumps; longest gap {found.longest_gap_days:.0f} days.{when}</p>'
    html += "".join(missing(f"{left.count} left out: {left.reason}") for left in jumper.left_out)
    html += group_table(parts, words)
    for part in parts:
        html += condition_table(part, words, private) + gate_table(part, words) + relation(part, words)
    return html + jump_table(parts, words)


def _failures(season: Season, private: bool) -> str:
    if not season.failures:
        return "<p>None.</p>"
    if private:
        return f"<p>{len(season.failures)} tracks.</p>"
    return bullets(f"<b>{escape(f.path)}</b>: {escape(f.reason)}" for f in season.failures)
