"""Guard: who may ask the desk for what, before any route is looked up; and the headers of every answer."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Iterable
from http import HTTPStatus
from typing import Any, Final
from urllib.parse import parse_qs

from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HEADER", "POLICY", "Guard", "policy"]

HEADER: Final = "x-crabline-desk"
"""Every request that changes something carries it; no form and no foreign page can."""

POLICY: Final = (
    "default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS: Final = (
    ("x-content-type-options", "nosniff"),
    ("cache-control", "no-store"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
)
_TEXTS: Final = {
    400: "This address leads nowhere.",
    403: "Open the address that crabline desk printed; this one is not let in.",
    405: "The desk does not do that.",
}


def policy(scripts: Iterable[str] = ()) -> str:
    """The content policy of a page that runs the desk's own script and those of the given hashes."""
    return POLICY.format(scripts=" ".join(["'self'", *scripts]))


class Guard:
    """Wraps the desk: loopback name, cookie, origin and own header are checked before routing.

    ``host`` is the only Host let in (``127.0.0.1:PORT``), so that a name that was bent to this machine is refused; ``token`` in
    the first address is exchanged for the cookie.
    """

    def __init__(self, app: ASGIApp, host: str) -> None:
        self.app = app
        self.host = host
        self.token = secrets.token_urlsafe(32)
        self.session = secrets.token_urlsafe(32)
        self.cookie = f"crabline-{host.rpartition(':')[2]}"  # cookies know no ports, so the name does

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            return
        guarded = _with_headers(send)
        headers = _headers(scope)
        status = self._refused(scope, headers)
        if status is not None:
            await _answer(guarded, status, [])
        elif self._enters(scope, headers):
            cookie = f"{self.cookie}={self.session}; Path=/; HttpOnly; SameSite=Strict"
            await _answer(guarded, HTTPStatus.SEE_OTHER, [("location", "/"), ("set-cookie", cookie)])
        elif not self._known(headers):
            await _answer(guarded, HTTPStatus.FORBIDDEN, [])
        else:
            await self.app(scope, receive, guarded)

    def _refused(self, scope: Scope, headers: dict[str, list[str]]) -> HTTPStatus | None:
        if headers.get("host") != [self.host]:
            return HTTPStatus.BAD_REQUEST
        if scope["method"] in ("GET", "HEAD"):
            return None
        if scope["method"] != "POST":
            return HTTPStatus.METHOD_NOT_ALLOWED
        own = headers.get("origin") == [f"http://{self.host}"] and headers.get(HEADER) == ["1"]
        return None if own else HTTPStatus.FORBIDDEN

    def _enters(self, scope: Scope, headers: dict[str, list[str]]) -> bool:
        if scope["method"] != "GET" or scope["path"] != "/":
            return False
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [])
        return len(given) == 1 and _same(given[0], self.token)

    def _known(self, headers: dict[str, list[str]]) -> bool:
        pairs = [p.strip().partition("=") for line in headers.get("cookie", ()) for p in line.split(";")]
        return any(name == self.cookie and _same(value, self.session) for name, _, value in pairs)


def _same(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode(), wanted.encode())


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            given: list[Any] = list(message.get("headers", []))
            names = {name.lower() for name, _ in given}
            more = [*_HEADERS, ("content-security-policy", policy())]
            given += [(n.encode(), v.encode()) for n, v in more if n.encode() not in names]
            message = {**message, "headers": given}
        await send(message)

    return guarded


async def _answer(send: Send, status: HTTPStatus, headers: list[tuple[str, str]]) -> None:
    body = _TEXTS.get(status.value, "").encode()
    lines = [("content-type", "text/plain; charset=utf-8"), ("content-length", str(len(body))), *headers]
    if status.value >= 400:
        lines.append(("connection", "close"))  # what is still coming is not read
    start = {"type": "http.response.start", "status": status.value}
    await send(start | {"headers": [(n.encode(), v.encode()) for n, v in lines]})
    await send({"type": "http.response.body", "body": body})
