"""What a file says never becomes part of a page: scripts in every field of a track, a plan, a logbook and a file name."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import chromium
from desk_made import TRACK, Client, opened_desk

from analyser.desk.tasks import FILES

pytestmark = pytest.mark.browser

EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>\"'&{0}\u202e"
QUOTED = EVIL.replace("\\", "").replace('"', '\\"')


def escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def hostile_track() -> bytes:
    """The sample with hostile words in its creator, name, description and comments."""
    text = TRACK.read_text(encoding="utf-8")
    assert "<trk>" in text
    begin = text.index("<gpx")
    text = text[:begin] + text[begin:].replace('creator="crabline sample"', f'creator="{escaped(EVIL)}"', 1)
    words = "".join(f"<{tag}>{escaped(EVIL)}</{tag}>" for tag in ("cmt", "desc", "src", "type"))
    start = text.index("<trk>") + len("<trk>")
    end = text.index("<trkseg>", start)
    return (text[:start] + f"<name>{escaped(EVIL)}</name>{words}" + text[end:]).encode()


PLAN = f"""
[site]
name = "{QUOTED}"
target = [49.7215, -107.9342]
[[site.keep_out]]
name = "{QUOTED}"
below_ft = 1000
polygon = [[49.724076, -107.929428], [49.720783, -107.919878], [49.720306, -107.920268]]
[[site.standard]]
name = "{QUOTED}"
radius_m = 200
source = "{QUOTED}"
[jumper]
name = "{QUOTED}"
[canopy]
name = "{QUOTED}"
[[jump]]
file = "nowhere {QUOTED}.gpx"
note = "n"
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    folder: Path = tmp_path_factory.mktemp("evil")
    (folder / "logbook.toml").write_text(PLAN, encoding="utf-8")
    if os.name == "posix":
        (folder / "<img src=x onerror=alert(3)>.gpx").write_bytes(hostile_track())
        (folder / "<script>alert(4)<_script>.gpx").write_bytes(b"<gpx><script>alert(5)</script></gpx>")
        (folder / "broken.gpx").write_bytes(b"<gpx><" + EVIL.encode())
    with opened_desk(folder) as client:
        client.settle()
        found = client.drop(
            shutil.os.fsencode(hostile_track().decode() + " "), "%3Cscript%3Ealert(6)%3C%2Fscript%3E.gpx"
        )
        client.form(found["jumps"][0])
        mark = client.form(found["jumps"][0])
        told = client.post(
            f"{found['jumps'][0]}/who", mark | {"note": EVIL.replace("\u202e", ""), "exclude": EVIL[:40]}
        )
        assert told.status == 200, told.text
        client.done = found["jumps"]
        yield client


@pytest.mark.slow
def test_no_word_of_a_file_becomes_markup(desk: Client, tmp_path: Path) -> None:
    with chromium() as browser:
        context = browser.new_context()
        page = context.new_page()
        trouble: list[str] = []
        page.on("dialog", lambda d: (trouble.append(f"dialog {d.message}"), d.dismiss()))
        page.on("console", lambda m: trouble.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda e: trouble.append(str(e)))
        page.goto(desk.address)
        jump = desk.done[0]
        name = jump.removeprefix("/jump/")
        paths = [
            "/",
            jump,
            "/season",
            "/coach",
            f"/beside/{name}/{name}",
            "/plan?site="
            + "%3Cscript%3Ealert(7)%3C/script%3E&canopy=%22%3E%3Cimg%20src=x%20onerror=alert(8)%3E&airspeed=%3Cb%3E",
        ]
        for path in paths:
            page.goto(f"http://{desk.host}{path}")
            page.wait_for_load_state("networkidle")
            page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
            found: Any = page.evaluate(
                "() => [...document.querySelectorAll('img, script')].filter(n => n.getAttribute('src') === 'x' || /alert/.test(n.textContent) && n.type !== 'application/json').length"
            )
            assert found == 0, path
            assert trouble == [], path
            assert "alert(" in page.content() or "beside" in path, (
                f"{path} shows nothing of the words, so it proves nothing"
            )
        context.close()


@pytest.mark.slow
def test_downloads_are_not_shown_as_pages(desk: Client) -> None:
    for kind in FILES:
        answer = desk.get(f"{desk.done[0]}/file/{kind}")
        assert answer.status == 200
        assert answer.headers["content-disposition"].startswith("attachment; filename=")
        assert answer.headers["x-content-type-options"] == "nosniff"
        if kind == "page":
            assert b"<script>alert(1)" not in answer.body
