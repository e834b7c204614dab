"""Plan: the pattern for a wind, before the jump and on the ground; numbers in, pattern out, one sheet on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyser.desk.dress import Dressed, dress, own_page
from analyser.desk.library import Known
from analyser.desk.pages.fields import area, field, pick
from analyser.desk.pages.jump import plan_fields
from analyser.desk.pages.start import proposals
from analyser.desk.planning import GATES, PlanForm, winds_typed
from analyser.desk.work import bullets, escape

__all__ = ["asking_page", "drawn_page"]

HANDS = {"": "that of the field, else left", "left": "left", "right": "right", "both": "both"}
USUAL = {"downwind": "1000", "base": "600", "final": "300"}


def sheet_form(fields: Mapping[str, str], winds: Sequence[Sequence[str]], line: str) -> str:
    """The form; ``line`` what was wrong with the last try."""
    heights = {gate: fields.get(gate, "" if fields else USUAL.get(gate, "")) for gate in GATES}
    shown = PlanForm(heights, "", fields.get("landing", ""), winds_typed(winds))
    inside = field("site", "Field", fields.get("site", ""), choices="sites")
    inside += field("target", "Target: latitude, longitude", fields.get("target", ""))
    inside += field("canopy", "Canopy", fields.get("canopy", ""), choices="canopies")
    inside += field("airspeed", "Airspeed in full flight [kt]", fields.get("airspeed", ""))
    inside += field("sink", "Sink in full flight [kt]", fields.get("sink", ""))
    told = f'<span class="line" role="alert">{escape(line)}</span>' if line else ""
    return (
        f'<form class="desk-form" method="get" action="/plan"><div class="grid">{inside}</div>{plan_fields(shown)}'
        f"{pick('hand', 'Hand of the pattern', HANDS, fields.get('hand', ''))}"
        f'<p class="send"><button type="submit">Draw</button> {told}</p></form>'
    )


def asking_page(
    fields: Mapping[str, str], winds: Sequence[Sequence[str]], line: str, known: Known, trims: Sequence[str]
) -> Dressed:
    """The form alone, with the measured trims of the logbook's canopies (ready HTML) below it."""
    measured = f"<h2>Measured here</h2>{bullets(trims)}" if trims else ""
    main = (
        '<section class="chapter" aria-label="Numbers in">'
        "<p>Made on the ground, before the jump, for the wind you type. Heights are above the landing area.</p>"
        f"{sheet_form(fields, winds, line)}{measured}</section>{proposals(known)}"
    )
    return own_page("Plan a pattern", main, "/plan", kicker="Landing pattern, planned on the ground")


def drawn_page(text: str, fields: Mapping[str, str], winds: Sequence[Sequence[str]], known: Known) -> Dressed:
    """The plan's page with the form above it."""
    inside = f"<details><summary>Change the numbers</summary>{sheet_form(fields, winds, '')}</details>"
    inside += '<p><button type="button" id="desk-print">Print on one sheet</button></p>'
    return dress(text, "/plan", area("Numbers in", inside + proposals(known)))
