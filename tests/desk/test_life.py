"""How a desk begins and ends: killable work, Ctrl-C, an hour without a page, nothing written down but times and kinds."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import subprocess
import sys
import threading
import time
from multiprocessing import active_children
from pathlib import Path
from typing import Any

import pytest
from desk_made import ROOT, TARGET, TRACK, Client, opened_desk, sha_of

from analyser.batch.processes import Slot
from analyser.desk.desk import IDLE_S, Desk
from analyser.desk.folder import DeskFolder
from analyser.desk.pool import Closed, Pool
from analyser.desk.tasks import Task
from analyser.errors import AnalyserError, FormatError


def odd_work(task: Task) -> Any:
    """Hangs, crashes, raises or answers, as asked."""
    if task.name == "hang":
        time.sleep(600.0)
    if task.name == "crash":
        os._exit(3)
    if task.name == "error":
        return FormatError("is broken", "mend it", "a.gpx")
    return (task.argument, os.getpid())


def test_a_hang_is_killed_and_the_rest_goes_on() -> None:
    pool = Pool(2, 1.0, odd_work)
    try:
        with pytest.raises(AnalyserError, match="took longer than 1 s"):
            pool.submit(Task("hang", None)).result(600)
        pool._timeout_s = 600.0  # a busy machine may need longer than a second for what does not hang
        fine = [pool.submit(Task("fine", i)) for i in range(6)]
        assert [f.result(600)[0] for f in fine] == list(range(6))
    finally:
        pool.close()


def test_a_crash_costs_itself_and_the_rest_goes_on() -> None:
    pool = Pool(2, 600.0, odd_work)
    try:
        crashed, broken = (pool.submit(Task(name, None)) for name in ("crash", "error"))
        fine = [pool.submit(Task("fine", i)) for i in range(6)]
        assert [f.result(600)[0] for f in fine] == list(range(6))
        with pytest.raises(AnalyserError, match="crashed"):
            crashed.result(600)
        with pytest.raises(FormatError, match="is broken"):
            broken.result(600)
        assert len({f.result()[1] for f in fine}) <= 5  # two at a time, and a new one for each that was lost
    finally:
        pool.close()


def test_closing_ends_what_hangs_and_says_so() -> None:
    pool = Pool(1, 600.0, odd_work)
    hung, waiting = pool.submit(Task("hang", None)), pool.submit(Task("fine", 1))
    pool.close()
    for future in (hung, waiting, pool.submit(Task("fine", 2))):
        with pytest.raises(Closed):
            future.result(600)


def test_a_process_that_dies_idle_is_replaced() -> None:
    pool = Pool(1, 600.0, odd_work)
    try:
        _, pid = pool.submit(Task("fine", 1)).result(600)
        os.kill(pid, signal.SIGKILL)
        while any(process.pid == pid for process in active_children()):
            time.sleep(0.01)
        value, other = pool.submit(Task("fine", 2)).result(600)
        assert value == 2
        assert other != pid
    finally:
        pool.close()


def test_a_machine_that_starts_no_process_costs_one_line_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    real, refused = Slot._start, [True]

    def start(slot: Any) -> None:
        if refused[0]:
            raise BlockingIOError(11, "Resource temporarily unavailable")
        real(slot)

    monkeypatch.setattr(Slot, "_start", start)
    pool = Pool(1, 600.0, odd_work)
    line = "no process could be started .resource temporarily unavailable."
    try:
        for _ in range(3):
            with pytest.raises(AnalyserError, match=line):
                pool.submit(Task("fine", 1)).result(600)
        refused[0] = False
        assert pool.submit(Task("fine", 2)).result(600)[0] == 2
        crashed = pool.submit(Task("crash", None))
        refused[0] = True  # the process that crashes is not replaced
        with pytest.raises(AnalyserError, match=line):
            crashed.result(600)
        refused[0] = False
        assert pool.submit(Task("fine", 3)).result(600)[0] == 3
    finally:
        pool.close()


def test_an_hour_without_a_page_is_the_end(tmp_path: Path) -> None:
    now = [100.0]

    async def lived() -> None:
        desk = Desk(DeskFolder(tmp_path), pool=Pool(1, 600.0, odd_work), clock=lambda: now[0])
        assert not desk.idle()
        now[0] += IDLE_S - 1.0
        assert not desk.idle()
        desk.alive()
        now[0] += IDLE_S
        assert not desk.idle()
        now[0] += 1.0
        assert desk.idle()
        desk.close()

    asyncio.run(lived())
    DeskFolder(tmp_path).close()  # the lock is free again


def test_every_request_is_a_sign_of_life(tmp_path: Path) -> None:
    with opened_desk(tmp_path) as client:
        client.desk._seen = -1e9
        client.get("/")
        assert not client.desk.idle()


def started(folder: Path) -> tuple[subprocess.Popen[str], Client]:
    words = [sys.executable, "-m", "analyser", "desk", str(folder), "--no-open"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    assert process.stdout is not None
    address = process.stdout.readline().strip()
    client = Client(re.search("//([^/]+)/", address)[1], address=address)  # type: ignore[index]
    client.cookie = client.get("/" + address.split("/", 3)[3]).headers["set-cookie"].split(";")[0]
    return process, client


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_ctrl_c_ends_it_in_the_middle_and_nothing_is_lost(tmp_path: Path) -> None:
    process, client = started(tmp_path)
    taken = [
        client.post("/tracks", TRACK.read_bytes() + f"<!--{i}-->".encode(), X_Name=f"{i}.gpx").json
        for i in range(6)
    ]
    client.post("/debrief", {"contents": [t["content"] for t in taken]})
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=600)
    assert process.returncode in (0, 130)
    assert "Traceback" not in errors
    with opened_desk(tmp_path) as again:
        again.settle()
        files = again.post("/progress", {"contents": [t["content"] for t in taken]}).json["files"]
        assert all("jumps" in files[t["content"]] for t in taken)


@pytest.mark.slow
@pytest.mark.parametrize("way", ["close", "ctrl-c"])
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_who_waits_while_it_is_closed_is_told_and_nothing_is_printed(tmp_path: Path, way: str) -> None:
    """A form is being saved, its debrief under way: the save holds, the page is told, no fault is printed."""
    process, client = started(tmp_path)
    client.drop(TRACK.read_bytes(), "first.gpx")
    jump = f"/jump/{sha_of(TRACK)}-1"
    mark = client.form(jump)
    told: list[int] = []
    waiting = threading.Thread(
        target=lambda: told.append(client.post(f"{jump}/target", mark | {"target": TARGET}).status)
    )
    waiting.start()
    while waiting.is_alive() and not client.post("/progress", {"contents": []}).json["running"]:
        time.sleep(0.005)
    if way == "close":
        client.post("/close", {})
    else:
        process.send_signal(signal.SIGINT)
    waiting.join(600)
    _, errors = process.communicate(timeout=600)
    assert process.returncode in (0, 130)
    assert told in ([200], [503])
    assert errors.count("\n") == 1, errors
    with opened_desk(tmp_path) as again:
        again.settle()
        assert again.get(f"{jump}/file/json").json["landing"]["offset_m"] > 0


def test_close_ends_it_and_nothing_of_the_tracks_is_written_down(tmp_path: Path) -> None:
    process, client = started(tmp_path)
    client.drop(TRACK.read_bytes(), "secret-name.gpx", jumper="Secret Jumper")
    client.drop(b"<gpx>secret content", "secret-bad.gpx")
    client.get("/jump/secret-address-1")
    client.post("/tracks", b"secret", X_Name="secret.txt")
    assert client.post("/close", {}).json == {"closed": True}
    out, errors = process.communicate(timeout=600)
    assert process.returncode == 0
    assert out == ""
    assert errors.count("\n") == 1, errors
    assert "secret" not in errors.lower().replace(str(tmp_path).lower(), "")


def test_a_port_in_use_is_one_line(tmp_path: Path) -> None:
    with opened_desk(tmp_path / "a") as client:
        words = [
            sys.executable,
            "-m",
            "analyser",
            "desk",
            str(tmp_path / "b"),
            "--no-open",
            "--port",
            client.host.split(":")[1],
        ]
        done = subprocess.run(words, capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 1
    assert re.fullmatch(
        r"error: port \d+ can not be used \(address already in use\); name another with --port\n", done.stderr
    )
