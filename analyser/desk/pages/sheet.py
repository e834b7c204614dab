"""Plan: the pattern for a wind, before the jump and on the ground; numbers in, pattern out, one sheet on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from analyser.desk.dress import Dressed, dress, own_page
from analyser.desk.library import Known
from analyser.desk.measures import Measures
from analyser.desk.pages.fields import area, field, pick, quantity
from analyser.desk.pages.plan import plan_fields
from analyser.desk.pages.start import proposals
from analyser.desk.planning import GATES, PlanForm, form_of, winds_typed
from analyser.desk.work import MeasuredTrim, Settings, Words, bullets, controls, escape

__all__ = ["Typed", "asking_page", "drawn_page", "filled"]

HANDS = {"": "that of the field, else left", "left": "left", "right": "right", "both": "both"}


class Typed(NamedTuple):
    """What stands in the plan page's form, in ``measures``; ``exact`` the settings it was filled from, None where it was typed."""

    fields: Mapping[str, str]
    winds: Sequence[Sequence[str]]
    measures: Measures
    exact: Settings | None = None


def filled(settings: Settings, measures: Measures) -> Typed:
    """The form before anything was typed: what holds in the folder."""
    form, site, wing = form_of(settings, measures), settings.site, settings.canopy
    fields = {
        **form.heights,
        "landing": form.landing,
        "site": site.name or "",
        "target": "" if site.target is None else f"{site.target[0]:.7g}, {site.target[1]:.8g}",
        "canopy": wing.name or "",
        "airspeed": measures.speed.shown(wing.airspeed_mps),
        "sink": measures.speed.shown(wing.sink_mps),
    }
    return Typed(fields, form.winds, measures, settings)


def _form(typed: Typed, line: str) -> str:
    """The form; ``line`` what was wrong with the last try."""
    fields, measures, wing = typed.fields, typed.measures, typed.exact.canopy if typed.exact else None
    heights = {gate: fields.get(gate, "") for gate in GATES}
    shown = PlanForm(heights, "", fields.get("landing", ""), winds_typed(typed.winds))
    inside = field("site", "Field", fields.get("site", ""), choices="sites")
    inside += field(
        "target", "Target: latitude, longitude", fields.get("target", ""), hint="empty: that of the field"
    )
    inside += field(
        "canopy",
        "Canopy",
        fields.get("canopy", ""),
        choices="canopies",
        hint="one that was measured brings its speeds",
    )
    for key, label, exact in (
        ("airspeed", "Airspeed in full flight", wing.airspeed_mps if wing else None),
        ("sink", "Sink in full flight", wing.sink_mps if wing else None),
    ):
        inside += quantity(
            key,
            label,
            fields.get(key, ""),
            measures.speed,
            exact=exact,
            hint="empty: as measured, else as usual",
        )
    told = f'<span class="line" role="alert">{escape(line)}</span>' if line else ""
    return (
        f'<form class="desk-form" method="get" action="/plan"><input type="hidden" name="units" value="{measures.units}">'
        f'<div class="grid">{inside}</div>{plan_fields(shown, measures, typed.exact)}'
        f"{pick('hand', 'Hand of the pattern', HANDS, fields.get('hand', ''))}"
        f'<p class="send"><button type="submit">Draw</button> {told}</p></form>'
    )


def asking_page(typed: Typed, line: str, known: Known) -> Dressed:
    """The form alone, with the measured trims of the logbook's canopies below it."""
    trims = _trims(known.trims, Words(typed.measures.units))
    measured = f"<h2>Measured here</h2>{bullets(trims)}" if trims else ""
    main = (
        f"{controls(typed.measures.units, None, {}, turned=False).markup}"
        '<section class="chapter" aria-label="Numbers in">'
        "<p>Made on the ground, before the jump, for the wind you type. Heights are above the landing area.</p>"
        f"{_form(typed, line)}{measured}</section>{proposals(known)}"
    )
    kicker = "Landing pattern, planned on the ground"
    return own_page("Plan a pattern", main, "/plan", kicker=kicker, units=typed.measures.units)


def _trims(trims: Mapping[str, MeasuredTrim], words: Words) -> list[str]:
    """The trim last measured of each canopy (ready HTML)."""
    told = []
    for name, trim in sorted(trims.items()):
        forward = words.speed(trim.airspeed_mps, trim.airspeed_sd_mps)
        down = words.speed(trim.sink_mps, trim.sink_sd_mps)
        told.append(f"{escape(name or 'canopy not named')}: {forward} forward, {down} down, at sea level")
    return told


def drawn_page(text: str, typed: Typed, known: Known) -> Dressed:
    """The plan's page with the form above it."""
    inside = f"<details><summary>Change the numbers</summary>{_form(typed, '')}</details>"
    inside += '<p><button type="button" id="desk-print">Print on one sheet</button></p>'
    return dress(text, "/plan", area("Numbers in", inside + proposals(known)))
