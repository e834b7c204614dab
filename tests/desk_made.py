"""A desk on a free port of this machine, in a thread of the test's own process, and a client that speaks to it plainly."""

from __future__ import annotations

import asyncio
import hashlib
import http.client
import json
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from analyser.desk import server as served
from analyser.desk.desk import Desk
from analyser.desk.folder import DeskFolder
from analyser.desk.pool import Pool
from analyser.desk.uploads import Limits

ROOT = Path(__file__).resolve().parent.parent
TRACK = ROOT / "sample_tracks" / "first_light.gpx"
TARGET = "49.7215,-107.9342"


@dataclass
class Answer:
    """Status, headers (lower case) and body of an answer."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Client:
    """Speaks to one desk; ``cookie`` "" for a stranger."""

    host: str
    cookie: str = ""
    desk: Any = None
    address: str = ""
    done: list[str] = field(default_factory=list)

    def ask(self, method: str, path: str, body: Any = None, headers: dict[str, str] | None = None) -> Answer:
        """One request with nothing added but the cookie."""
        sent = {"Cookie": self.cookie} if self.cookie else {}
        connection = http.client.HTTPConnection(self.host, timeout=600)
        try:
            connection.request(method, path, body, sent | (headers or {}))
            got = connection.getresponse()
            return Answer(got.status, {k.lower(): v for k, v in got.getheaders()}, got.read())
        finally:
            connection.close()

    def get(self, path: str) -> Answer:
        return self.ask("GET", path)

    def post(self, path: str, body: Any, **headers: str) -> Answer:
        """A request as the desk's own script sends it."""
        own = {"Origin": f"http://{self.host}", "X-Crabline-Desk": "1"}
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.ask("POST", path, data, own | {k.replace("_", "-"): v for k, v in headers.items()})

    def drop(self, data: bytes, name: str = "track.gpx", **who: str) -> dict[str, Any]:
        """Drop one file and wait until it is dealt with; what became of it."""
        taken = self.post("/tracks", data, X_Name=name)
        assert taken.status == 200, taken.text
        content = taken.json["content"]
        assert self.post("/debrief", {"contents": [content]} | who).status == 200
        self.settle()
        files: dict[str, Any] = self.post("/progress", {"contents": [content]}).json["files"]
        return {"content": content} | files.get(content, {})

    def settle(self) -> None:
        """Wait until no run is under way."""
        while self.post("/progress", {"contents": []}).json["running"]:
            time.sleep(0.05)

    def form(self, jump: str) -> dict[str, str]:
        """The hidden mark that a jump's forms carry."""
        found = re.search(r'name="seen" value="(\w+)"', self.get(jump).text)
        assert found is not None
        return {"seen": found[1]}


def sha_of(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@contextmanager
def opened_desk(folder: Path, *, limits: Limits | None = None, timeout_s: float = 600.0) -> Iterator[Client]:
    """A desk in a thread with its own loop; closed as Close on the page closes it."""
    place = DeskFolder(folder)
    found = served.listen(0)
    client = Client(f"{served.HOST}:{found.getsockname()[1]}")
    ready = threading.Event()

    def told(address: str) -> None:
        client.address = address
        ready.set()

    def make(opened: DeskFolder) -> Desk:
        client.desk = Desk(opened, limits=limits, pool=Pool(2, timeout_s))
        return client.desk

    thread = threading.Thread(
        target=lambda: asyncio.run(served.run(place, found, told, make=make)), name="desk", daemon=True
    )
    thread.start()
    assert ready.wait(600)
    entered = client.get("/" + client.address.split("/", 3)[3])
    client.cookie = entered.headers["set-cookie"].split(";")[0]
    try:
        yield client
    finally:
        with suppress(OSError):  # closed already
            client.post("/close", {})
        thread.join(600)
        assert not thread.is_alive()
