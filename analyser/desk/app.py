"""app: the addresses of the desk and what is behind each."""

from __future__ import annotations

import asyncio
from importlib.resources import files
from typing import Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from analyser.desk import drops, fields, saves, sheets
from analyser.desk.answers import Refused, broken_page, jump_of, line_of, lost, refusal, shown
from analyser.desk.desk import Desk
from analyser.desk.dress import dress
from analyser.desk.library import JumpFacts
from analyser.desk.measures import measures_of, units_of
from analyser.desk.pages.help import help_page, help_picture
from analyser.desk.pages.jump import jump_panel
from analyser.desk.pages.many import coach_page, empty_page, season_page
from analyser.desk.pages.start import start_page
from analyser.desk.pool import Closed
from analyser.desk.tasks import FILES, Both, Download, OfLogbook
from analyser.desk.work import AnalyserError, bundle_name, page_name

__all__ = ["make_app"]

STATIC: Final = {"desk.css": "text/css", "desk.js": "text/javascript"}


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


async def start(request: Request) -> Response:
    desk = _desk(request)
    found = await desk.library.ask(desk.library.overview)
    return shown(start_page(found, str(desk.folder.path), desk.keeper.progress.warnings, units_of(request)))


async def _known_jump(request: Request, name: str = "id") -> JumpFacts:
    desk = _desk(request)
    facts = await desk.library.ask(desk.library.jump, jump_of(request, name))
    if facts is None:
        raise Refused(404, "no such jump")
    return facts


async def jump(request: Request) -> Response:
    """The page that was made with the debrief, under the desk's forms; made again where it is gone."""
    desk = _desk(request)
    facts = await _known_jump(request)
    path = desk.folder.pages / page_name(*facts.id)
    if not path.is_file():
        await desk.run()
    try:
        text = await asyncio.to_thread(path.read_text, encoding="utf-8")
    except OSError:
        return lost()
    known = (await desk.library.ask(desk.library.overview)).known
    others = await desk.library.ask(desk.library.pickable)
    mark = await asyncio.to_thread(desk.corrections.mark, facts.whole)
    panel = jump_panel(facts, known, others, mark, desk.changed(facts.id), measures_of(units_of(request)))
    return shown(dress(text, "", panel))


async def file(request: Request) -> Response:
    """A file made of a jump, as the command makes it."""
    desk = _desk(request)
    facts = await _known_jump(request)
    kind = FILES.get(request.path_params["kind"])
    if kind is None:
        raise Refused(404, "no such file")
    asked = Download(
        request.path_params["kind"], str(facts.track), facts.settings, facts.id.jump, units_of(request)
    )
    text = await desk.does("file", asked)
    name = f"{facts.id.sha256[:8]}-{facts.id.jump}{kind.suffix}"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(text, media_type=kind.media, headers=headers)


async def beside(request: Request) -> Response:
    desk = _desk(request)
    a, b = await _known_jump(request), await _known_jump(request, "other")
    asked = Both((str(a.track), str(b.track)), (a.id.jump, b.id.jump), a.settings, units_of(request))
    try:
        text = await desk.does("both", asked)
    except AnalyserError as error:
        return broken_page("", "Two jumps", line_of(error))
    back = "".join(f'<li><a href="/jump/{f.id}">{name}</a></li>' for f, name in ((a, "first"), (b, "second")))
    return shown(
        dress(
            text,
            "",
            f'<aside class="wrap desk-panel noprint" aria-label="Jumps"><ul class="plain">{back}</ul></aside>',
        )
    )


def _of_logbook(request: Request) -> OfLogbook:
    return OfLogbook(str(_desk(request).folder.logbook), units_of(request))


async def season(request: Request) -> Response:
    desk = _desk(request)
    lines = await desk.library.ask(desk.library.pickable)
    if not lines:
        return shown(empty_page("/season", "Season"))
    known = (await desk.library.ask(desk.library.overview)).known
    return shown(season_page(await desk.does("season", _of_logbook(request)), lines, known))


async def coach(request: Request) -> Response:
    desk = _desk(request)
    if not await desk.library.ask(desk.library.pickable):
        return shown(empty_page("/coach", "Coach"))
    return shown(coach_page(await desk.does("coach", _of_logbook(request))))


async def talk(request: Request) -> Response:
    name = request.query_params.get("jumper")
    asked = _of_logbook(request)._replace(jumper=name or "")
    text = await _desk(request).does("talk", asked) if name is not None else ""
    return shown(dress(text, "/coach")) if text else lost()


async def help_(request: Request) -> Response:
    page = help_page(request.path_params.get("name", ""))
    return lost() if page is None else shown(page)


async def help_img(request: Request) -> Response:
    picture = help_picture(request.path_params["name"])
    return lost() if picture is None else Response(picture, media_type="image/png")


async def static(request: Request) -> Response:
    name = request.path_params["name"]
    if name in STATIC:
        text = files("analyser.desk").joinpath("assets", name).read_bytes()
        return Response(text, media_type=STATIC[name])
    bundle = _desk(request).folder.pages / bundle_name()
    if name == bundle.name and bundle.is_file():
        return FileResponse(bundle, media_type="text/javascript")
    return lost()


async def alive(request: Request) -> Response:
    return JSONResponse({"alive": True})


async def close(request: Request) -> Response:
    _desk(request).closing.set()
    return JSONResponse({"closed": True})


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    if request.method == "POST":
        return refusal(error.status, error.line)
    return lost() if error.status == 404 else broken_page("", "Not possible", error.line)


async def _told(request: Request, error: Exception) -> Response:
    assert isinstance(error, AnalyserError)
    if request.method == "POST":
        return refusal(422, line_of(error))
    return broken_page("", "This could not be done", line_of(error))


async def _closed(request: Request, error: Exception) -> Response:
    return refusal(503, "the desk is closing")


async def _nowhere(request: Request, error: Exception) -> Response:
    return lost()


def make_app(desk: Desk) -> Starlette:
    """The application behind the guard."""
    routes = [
        Route("/", start),
        Route("/jump/{id}", jump),
        Route("/jump/{id}/file/{kind}", file),
        Route("/jump/{id}/{form}", saves.save, methods=["POST"]),
        Route("/beside/{id}/{other}", beside),
        Route("/season", season),
        Route("/coach", coach),
        Route("/talk", talk),
        Route("/plan", sheets.plan),
        Route("/help", help_),
        Route("/help/{name}", help_),
        Route("/help/img/{name}", help_img),
        Route("/static/{name}", static),
        Route("/field", fields.look),
        Route("/field/picture/{name}", fields.picture),
        Route("/field/picture", fields.take, methods=["POST"]),
        Route("/field/place", fields.place, methods=["POST"]),
        Route("/field/remove", fields.remove, methods=["POST"]),
        Route("/tracks", drops.take, methods=["POST"]),
        Route("/debrief", drops.begin, methods=["POST"]),
        Route("/progress", drops.progress, methods=["POST"]),
        Route("/corrections", saves.corrections, methods=["POST"]),
        Route("/again", saves.again, methods=["POST"]),
        Route("/alive", alive, methods=["POST"]),
        Route("/close", close, methods=["POST"]),
    ]
    handlers = {Refused: _refused, AnalyserError: _told, Closed: _closed, 404: _nowhere}
    app = Starlette(routes=routes, exception_handlers=handlers)
    app.state.desk = desk
    return app
