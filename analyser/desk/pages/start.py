"""Start: drop tracks, say who and where, see the last jumps and what gave nothing."""

from __future__ import annotations

from datetime import datetime

from analyser.desk.dress import Dressed, own_page
from analyser.desk.library import Known, Line, Overview
from analyser.desk.pages.fields import choices, field, form
from analyser.desk.work import Words, bullets, escape, table

__all__ = ["jump_name", "jump_rows", "proposals", "start_page"]

DROP = (
    '<section class="chapter" aria-labelledby="drop-title"><h2 id="drop-title">Tracks</h2>'
    '<div id="drop" class="drop"><p><label for="files">Drop tracks or folders of them here (GPX, FIT, IGC, NMEA 0183, TCX or a table), or choose files:</label> '
    '<input type="file" id="files" multiple></p>'
    '<p><label for="folder">or a whole folder:</label> <input type="file" id="folder" webkitdirectory></p></div>'
    '<form id="who" class="desk-form across">{who}</form>'
    '<p class="quiet">Left empty, who, canopy and field are as logbook.toml in the folder says. All stays on this machine.</p>'
    '<div id="progress" hidden><p role="status" id="progress-line"></p><progress id="progress-bar" max="1" value="0" aria-label="Tracks read"></progress>'
    '<ul id="progress-list" class="points"></ul></div></section>'
)


def start_page(found: Overview, folder: str, warnings: tuple[str, ...], units: str) -> Dressed:
    """The page: drop zone, last jumps, tracks that gave nothing, what the logbook has to remark."""
    known = found.known
    who = field("jumper", "Jumper", choices="jumpers")
    who += field("canopy", "Canopy", choices="canopies")
    who += field("site", "Field", choices="sites", hint="a field known here brings its target")
    main = DROP.format(who=who) + proposals(known)
    main += _last(found, Words(units))
    if found.failures:
        rows = bullets(f"<b>{escape(path)}</b>: {escape(reason)}" for path, reason in found.failures)
        again = form("/again", "", "Try these again")
        main += _chapter("failures", "Tracks that gave nothing", rows + again)
    if warnings:
        main += _chapter("remarks", "Remarks of the logbook", bullets(map(escape, warnings)))
    main += f'<p class="quiet">Folder: <code>{escape(folder)}</code></p>'
    return own_page("Start", main, "/", kicker="Landing debriefs, read on the ground", units=units)


def proposals(known: Known) -> str:
    """The lists that fields propose."""
    return (
        choices("jumpers", known.jumpers)
        + choices("canopies", known.canopies)
        + choices("sites", known.sites)
    )


def _chapter(name: str, title: str, inside: str) -> str:
    return f'<section class="chapter" aria-labelledby="{name}-title"><h2 id="{name}-title">{escape(title)}</h2>{inside}</section>'


def _last(found: Overview, words: Words) -> str:
    if not found.lines:
        return _chapter("last", "Last jumps", "<p>None yet: drop the first track above.</p>")
    more = f'<p class="quiet">{found.total} jumps in the logbook; <a href="/season">all of them</a>.</p>'
    return _chapter("last", "Last jumps", jump_rows(found.lines, words) + more)


def jump_name(line: Line) -> str:
    """When and in which file: how a jump is called in lists (plain text)."""
    utc = line.row["landing_utc"]
    when = f"{datetime.fromisoformat(utc):%Y-%m-%d %H:%M} UTC" if utc else "no landing"
    return f"{when}, {line.row['file']}" + (f" #{line.id.jump}" if line.id.jump > 1 else "")


def jump_rows(lines: tuple[Line, ...], words: Words) -> str:
    """A table of jumps, each leading to its page."""
    rows = []
    for line in lines:
        row = line.row
        left = "excluded: " + row["excluded"] if row["excluded"] else row["note"] or "–"
        rows.append(
            (
                f'<a href="/jump/{line.id}">{escape(jump_name(line))}</a>',
                escape(row["jumper"] or "–"),
                escape(row["canopy"] or "–"),
                escape(row["site"] or "–"),
                words.distance(row["offset_m"], row["offset_sd_m"]),
                escape(left),
            )
        )
    head = ("jump", "jumper", "canopy", "field", "from the target", "note")
    return table("Jumps, newest first", head, rows, words=frozenset({1, 2, 3, 5}), stacked=True)
