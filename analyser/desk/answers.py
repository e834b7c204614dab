"""Answers: pages, refusals of one line, and JSON; what a request may send."""

from __future__ import annotations

import json
import os
import re
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from analyser.desk.corrections import JumpId
from analyser.desk.dress import Dressed, own_page
from analyser.desk.work import AnalyserError, escape

__all__ = [
    "Fields",
    "Refused",
    "broken_page",
    "fields_of",
    "jump_named",
    "jump_of",
    "line_of",
    "lost",
    "refusal",
    "shown",
]

MOST_BYTES: Final = 300_000
_JUMP: Final = re.compile(r"([0-9a-f]{64})-([0-9]{1,6})")
Fields = dict[str, Any]


class Refused(Exception):
    """A request that the desk does not take, with its status and one line."""

    def __init__(self, status: int, line: str) -> None:
        super().__init__(line)
        self.status = status
        self.line = line


def shown(page: Dressed, status: int = 200) -> Response:
    """A page with its own content policy."""
    return HTMLResponse(page.text, status, {"content-security-policy": page.policy})


def refusal(status: int, line: str) -> Response:
    """One line for the script that asked; what is still coming of its request is not read."""
    return JSONResponse({"line": line}, status, {"connection": "close"})


def lost() -> Response:
    """No such page."""
    main = '<p>There is no such page; what was here may have been moved away.</p><p><a href="/">Start</a></p>'
    return shown(own_page("Not here", main, ""), 404)


def line_of(error: AnalyserError) -> str:
    """The one line of an error, without the folders of this machine."""
    name = os.path.basename(error.file) if error.file else None
    return str(type(error)(error.what, error.hint, name))


def jump_of(request: Request, name: str = "id") -> JumpId:
    """The jump that an address names: a whole hash and a number, nothing else. Raises Refused."""
    found = jump_named(request.path_params[name])
    if found is None:
        raise Refused(404, "no such jump")
    return found


def jump_named(text: str) -> JumpId | None:
    """The jump that a text names; None for anything else."""
    found = _JUMP.fullmatch(text)
    return None if found is None else JumpId(found[1], int(found[2]))


async def fields_of(request: Request) -> Fields:
    """The fields of a form as the desk's script sends them: JSON, texts or lists of texts. Raises Refused."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            raise Refused(413, "too much at once")
    try:
        found = json.loads(body.decode() or "{}")
    except (ValueError, RecursionError):
        raise Refused(400, "not what this desk's pages send") from None
    if not isinstance(found, dict) or not all(_texts(value) for value in found.values()):
        raise Refused(400, "not what this desk's pages send")
    return found


def _texts(value: object) -> bool:
    rows = value if isinstance(value, list) else [value]
    return len(rows) <= 5000 and all(isinstance(one, str) and len(one) <= 500 for one in rows)


def broken_page(here: str, title: str, line: str) -> Response:
    """A page that could not be made, and why."""
    return shown(own_page(title, f'<p class="missing">{escape(line)}</p>', here), 200)
