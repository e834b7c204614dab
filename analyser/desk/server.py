"""serve: the desk on a port of this machine, until it is closed."""

from __future__ import annotations

import asyncio
import logging
import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any, Final

import uvicorn
from starlette.types import ASGIApp, Receive, Scope, Send

from analyser.desk.app import make_app
from analyser.desk.desk import Desk
from analyser.desk.folder import DeskFolder
from analyser.desk.guard import Guard
from analyser.desk.work import OutputError, scan

__all__ = ["HOST", "listen", "run", "serve"]

HOST: Final = "127.0.0.1"
LOOK_S: Final = 0.25


def listen(port: int) -> socket.socket:
    """A socket on the loopback address, on ``port`` or on any free one for 0. Raises OutputError."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((HOST, port))
        found.listen(64)
    except OSError as error:
        found.close()
        raise OutputError(
            f"port {port} can not be used ({(error.strerror or '').lower()})", "name another with --port"
        ) from None
    return found


def serve(folder: DeskFolder, found: socket.socket, ready: Callable[[str], None]) -> None:
    """Serve until Ctrl-C, Close on a page, or an hour without one; ``ready`` is told the first address."""
    with suppress(KeyboardInterrupt):
        asyncio.run(run(folder, found, ready))


async def run(
    folder: DeskFolder,
    found: socket.socket,
    ready: Callable[[str], None],
    *,
    make: Callable[[DeskFolder], Desk] = Desk,
) -> None:
    """The same inside a running loop; ``make`` builds the desk."""
    desk = make(folder)
    host = f"{HOST}:{found.getsockname()[1]}"
    guard = Guard(_Watched(make_app(desk), desk), host)
    logging.getLogger("uvicorn").setLevel(
        logging.CRITICAL
    )  # what goes wrong is told by _Watched, in one line
    server = uvicorn.Server(
        uvicorn.Config(
            guard,
            lifespan="off",
            ws="none",
            http="h11",
            log_config=None,
            access_log=False,
            server_header=False,
            date_header=False,
            proxy_headers=False,
            timeout_keep_alive=10,
            timeout_graceful_shutdown=2,
            limit_concurrency=200,
        )
    )
    end = asyncio.create_task(_end(server, desk))
    begin = asyncio.create_task(_begin(server, desk, lambda: ready(f"http://{host}/?token={guard.token}")))
    try:
        await server.serve(sockets=[found])
    finally:
        end.cancel()
        begin.cancel()
        await asyncio.to_thread(desk.close)


async def _begin(server: uvicorn.Server, desk: Desk, ready: Callable[[], None]) -> None:
    """Once it answers: tell, warm the pool, and take up what lies in the folder."""
    while not server.started:
        await asyncio.sleep(0.01)
    ready()
    desk.pool.warm()
    if next(scan([desk.folder.path]), None) is not None or desk.folder.logbook.exists():
        desk.keeper.run()


async def _end(server: uvicorn.Server, desk: Desk) -> None:
    """Close, Ctrl-C or the hour: requests that wait for work are told first, then the server goes."""
    while not (desk.closing.is_set() or server.should_exit or desk.idle()):
        with suppress(TimeoutError):
            await asyncio.wait_for(desk.closing.wait(), LOOK_S)
    await asyncio.to_thread(desk.pool.close)
    server.should_exit = True


class _Watched:
    """Every request is a sign of an open page; a fault costs its own request and one line with time and kind."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self._app = app
        self._desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._desk.alive()
        started = False

        async def noting(message: Any) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self._app(scope, receive, noting)
        except Exception as error:
            print(
                f"{datetime.now(UTC):%H:%M:%S} UTC error: {type(error).__name__}", file=sys.stderr, flush=True
            )
            if not started:
                head = {
                    "type": "http.response.start",
                    "status": 500,
                    "headers": [(b"content-type", b"application/json")],
                }
                await send(head)
                await send(
                    {
                        "type": "http.response.body",
                        "body": b'{"line": "an unforeseen error; nothing was saved"}',
                    }
                )
