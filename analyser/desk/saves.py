"""What the forms of a jump save: target, who and what, plan; each is tried by the reader, written, and debriefed again."""

from __future__ import annotations

import asyncio
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from analyser.desk.answers import Fields, Refused, fields_of, jump_named, jump_of, line_of, refusal
from analyser.desk.changes import changes
from analyser.desk.corrections import Change, Changed, JumpId
from analyser.desk.desk import Desk
from analyser.desk.library import JumpFacts
from analyser.desk.measures import UNITS, measures_of
from analyser.desk.planning import GATES, PlanForm, form_of, plan_text, winds_typed
from analyser.desk.work import DISPLAY_SYSTEMS, AnalyserError, LocalFrame, Words, parse_target

__all__ = ["again", "corrections", "save"]

WHO: Final = ("jumper", "canopy", "site", "note", "exclude")


async def save(request: Request) -> Response:
    """One form of a jump's page."""
    desk: Desk = request.app.state.desk
    jump = jump_of(request)
    fields = await fields_of(request)
    facts = await desk.library.ask(desk.library.jump, jump)
    if facts is None:
        raise Refused(404, "no such jump")
    makers = {"target": _target, "who": _who, "plan": _plan}
    if request.path_params["form"] not in makers:
        raise Refused(404, "no such form")
    try:
        change = makers[request.path_params["form"]](desk, facts, fields)
        await asyncio.to_thread(desk.corrections.save, [change])
        await desk.run()
    except Changed as error:
        return refusal(409, line_of(error))
    except AnalyserError as error:
        return refusal(422, line_of(error))
    await _note_changes(desk, facts)
    return JSONResponse({"saved": True, "go": f"/jump/{jump}"})


async def _note_changes(desk: Desk, before: JumpFacts) -> None:
    after = await desk.library.ask(desk.library.jump, before.id)
    if after is not None:
        desk.remember(before.id, changes(before.document, after.document, Words(UNITS)))


def _text(fields: Fields, name: str) -> str:
    value = fields.get(name, "")
    return value.strip() if isinstance(value, str) else ""


def _change(facts: JumpFacts, fields: Fields, values: dict[str, Any], plan: str | None = None) -> Change:
    return Change(facts.whole, facts.track, values, plan, _text(fields, "seen") or None)


def _target(desk: Desk, facts: JumpFacts, fields: Fields) -> Change:
    """From a click (metres east and north of the page's origin), a field of the logbook, or as typed."""
    clicked, site = _text(fields, "clicked"), _text(fields, "from_site")
    if clicked:
        lat, lon = parse_target(_text(fields, "origin"))
        try:
            east, north = (float(part) for part in clicked.split(","))
            place = LocalFrame(lat, lon).to_geodetic(east, north)
            target: tuple[float, float] | None = parse_target(f"{float(place[0]):.7f},{float(place[1]):.7f}")
        except ValueError:
            raise Refused(400, "not what this desk's pages send") from None
    else:
        typed = site or _text(fields, "target")
        target = parse_target(typed) if typed else None
    return _change(facts, fields, {"target": target})


def _who(desk: Desk, facts: JumpFacts, fields: Fields) -> Change:
    """Only what differs from what was shown, so that a name from a file above is not repeated for every jump."""
    shown = {key: facts.who[{"exclude": "excluded"}.get(key, key)] or "" for key in WHO}
    typed = {key: _text(fields, key) for key in WHO}
    return _change(facts, fields, {key: typed[key] for key in WHO if typed[key] != shown[key]})


def _plan(desk: Desk, facts: JumpFacts, fields: Fields) -> Change:
    heights = {gate: _text(fields, gate) for gate in GATES}
    cells = fields.get("wind", [])
    cells = cells if isinstance(cells, list) else [cells]
    rows = [cells[i : i + 3] for i in range(0, len(cells) - 2, 3)]
    typed = PlanForm(heights, _text(fields, "hand"), _text(fields, "landing"), winds_typed(rows))
    units = _text(fields, "units") or UNITS
    if units not in DISPLAY_SYSTEMS:
        raise Refused(400, "not what this desk's pages send")
    measures = measures_of(units)
    was = str(desk.corrections.own(facts.whole).get("own plan", ""))
    return _change(facts, fields, {}, plan_text(was, form_of(facts.settings, measures), typed, measures))


async def corrections(request: Request) -> Response:
    """The season's form: the same words for several jumps."""
    desk: Desk = request.app.state.desk
    fields = await fields_of(request)
    values: dict[str, Any] = {key: _text(fields, key) for key in WHO if _text(fields, key)}
    ticked = fields.get("jump", [])
    ticked = [ticked] if isinstance(ticked, str) else ticked
    if not ticked or not values:
        return refusal(422, "tick at least one jump and type what is to change")
    try:
        found = [await desk.library.ask(desk.library.jump, _id(one)) for one in ticked]
        rows = [Change(facts.whole, facts.track, values) for facts in found if facts is not None]
        await asyncio.to_thread(desk.corrections.save, rows)
        await desk.run()
    except AnalyserError as error:
        return refusal(422, line_of(error))
    return JSONResponse({"saved": True, "go": "/season"})


def _id(text: str) -> JumpId:
    found = jump_named(text)
    if found is None:
        raise Refused(400, "not what this desk's pages send")
    return found


async def again(request: Request) -> Response:
    """Try the tracks that failed once more."""
    desk: Desk = request.app.state.desk
    try:
        await desk.run(retry=True)
    except AnalyserError as error:
        return refusal(422, line_of(error))
    return JSONResponse({"saved": True, "go": "/"})
