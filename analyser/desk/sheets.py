"""The plan page: what was typed into its address, drawn in the pool; the form alone before that, and where it could not be drawn."""

from __future__ import annotations

import asyncio
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from analyser.desk.answers import line_of, shown
from analyser.desk.desk import Desk
from analyser.desk.library import Known
from analyser.desk.measures import measures_of, units_of
from analyser.desk.pages.sheet import HANDS, Typed, asking_page, drawn_page, filled
from analyser.desk.planning import PlanAsked, settings_of, sheet_text
from analyser.desk.work import DISPLAY_SYSTEMS, AnalyserError, Settings, SettingsError

__all__ = ["plan"]

MOST_WINDS: Final = 60


async def plan(request: Request) -> Response:
    """The form, or the plan that it asks for."""
    desk: Desk = request.app.state.desk
    known = (await desk.library.ask(desk.library.overview)).known
    typed = _typed(request)
    if not typed.fields:
        try:
            settings = await asyncio.to_thread(settings_of, desk.folder.path)
        except SettingsError as error:
            return shown(asking_page(filled(Settings(), typed.measures), line_of(error), known))
        return shown(asking_page(filled(settings, typed.measures), "", known))
    try:
        text = await desk.does("plan", _asked(desk, typed, known))
    except AnalyserError as error:
        return shown(asking_page(typed, line_of(error), known))
    return shown(drawn_page(text, typed, known))


def _typed(request: Request) -> Typed:
    query = request.query_params
    units = query.get("units", "")
    measures = measures_of(units if units in DISPLAY_SYSTEMS else units_of(request))
    cells = [cell[:20] for cell in query.getlist("wind")[: 3 * MOST_WINDS]]
    winds = [cells[i : i + 3] for i in range(0, len(cells) - 2, 3)]
    fields = {key: value[:200] for key, value in query.items() if key not in ("wind", "units")}
    return Typed(fields, winds, measures)


def _asked(desk: Desk, typed: Typed, known: Known) -> PlanAsked:
    """What a field known by name and a measured canopy bring is added to what was typed. Raises SettingsError."""
    fields = dict(typed.fields)
    target = known.sites.get(fields.get("site", "").strip())
    if target is not None and not fields.get("target", "").strip():
        fields["target"] = f"{target[0]!r},{target[1]!r}"
    hand = fields.get("hand", "")
    return PlanAsked(
        sheet_text(fields, typed.winds, typed.measures),
        hand if hand in HANDS else "",
        typed.measures.units,
        str(desk.folder.path),
        known.trims.get(fields.get("canopy", "").strip()),
    )
