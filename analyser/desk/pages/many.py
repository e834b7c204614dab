"""Season and Coach: the pages of the season, linked both ways, with a form that corrects many jumps at once."""

from __future__ import annotations

from analyser.desk.dress import Dressed, dress, own_page
from analyser.desk.library import Known, Line
from analyser.desk.pages.fields import area, field, form
from analyser.desk.pages.start import jump_name, proposals
from analyser.desk.work import escape

__all__ = ["coach_page", "empty_page", "season_page"]


def season_page(text: str, lines: tuple[Line, ...], known: Known) -> Dressed:
    """The season's page with the form above it."""
    return dress(text, "/season", _corrections(lines, known) + proposals(known))


def coach_page(text: str) -> Dressed:
    """The coach's page; every name leads to the season's chapter of that jumper by way of the head."""
    link = '<p><a href="/season">Every jumper with pictures and all jumps: the season</a></p>'
    return dress(text, "/coach", area("More", link))


def empty_page(here: str, title: str) -> Dressed:
    """Before the first track."""
    return own_page(title, '<p>No jumps yet. <a href="/">Drop a track</a>.</p>', here)


def _corrections(lines: tuple[Line, ...], known: Known) -> str:
    boxes = "".join(
        f'<li><label><input type="checkbox" name="jump" value="{line.id}"> {escape(jump_name(line))}'
        f"{_told(line)}</label></li>"
        for line in lines
    )
    inside = f'<fieldset class="jumps"><legend>Which jumps</legend><ul class="plain tall" tabindex="0">{boxes}</ul></fieldset>'
    inside += '<div class="grid">' + field("jumper", "Jumper", choices="jumpers")
    inside += field("canopy", "Canopy", choices="canopies") + field("site", "Field", choices="sites")
    inside += field("note", "Note") + field("exclude", "Leave out, because") + "</div>"
    text = (
        "<details><summary>Correct jumps</summary><p>What is typed goes into logbook.toml for every jump ticked; what is left "
        f"empty stays as it is. A jump is taken back in on its own page.</p>{form('/corrections', inside, 'Save')}</details>"
    )
    return area("Corrections", text)


def _told(line: Line) -> str:
    names = [line.row[key] for key in ("jumper", "canopy", "site") if line.row[key]]
    left = f" (left out: {line.row['excluded']})" if line.row["excluded"] else ""
    return escape(f": {', '.join(names)}{left}") if names or left else ""
