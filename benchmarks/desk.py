"""The desk's figures: CPU until it answers, CPU from a drop to the page against the command's, and many files at once.

Linux only (CPU and memory of a whole family of processes are read from /proc). Usage:
``python benchmarks/desk.py [--files 300]``; everything goes to the loopback address of this machine.
"""

from __future__ import annotations

import argparse
import hashlib
import http.client
import json
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_tracks"
TICK = os.sysconf("SC_CLK_TCK")


def family(pid: int) -> list[int]:
    """A process and everything below it."""
    found = [pid]
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in task.read_text().split():
            found += family(int(child))
    return found


def cpu(pid: int) -> float:
    """CPU of a family [s], with that of children that ended."""
    total = 0.0
    for one in family(pid):
        fields = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        total += sum(int(v) for v in (fields[11:15] if one == pid else fields[11:13])) / TICK
    return total


def resident(pid: int) -> float:
    """Peak memory of one process [MB]."""
    return int(re.findall(r"VmHWM:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())[0]) / 1024


class Desk:
    """A desk in a process of its own."""

    def __init__(self, folder: Path) -> None:
        words = [sys.executable, "-m", "analyser", "desk", str(folder), "--no-open"]
        self.process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=ROOT
        )
        assert self.process.stdout is not None
        address = self.process.stdout.readline().strip()
        self.host = re.search("//([^/]+)/", address)[1]  # type: ignore[index]
        got = self.ask("GET", "/" + address.split("/", 3)[3])
        self.ready_cpu = cpu(self.process.pid)
        self.cookie = got[1]["set-cookie"].split(";")[0]

    def ask(
        self, method: str, path: str, body: bytes | None = None, name: str = ""
    ) -> tuple[int, dict[str, str], bytes]:
        """One request."""
        connection = http.client.HTTPConnection(self.host, timeout=300)
        headers = {"Origin": f"http://{self.host}", "X-Crabline-Desk": "1", "X-Name": name}
        headers |= {"Cookie": self.cookie} if hasattr(self, "cookie") else {}
        connection.request(method, path, body, headers)
        got = connection.getresponse()
        answer = got.status, {k.lower(): v for k, v in got.getheaders()}, got.read()
        connection.close()
        return answer

    def post(self, path: str, value: Any) -> Any:
        """A request of a page."""
        return json.loads(self.ask("POST", path, json.dumps(value).encode())[2])

    def drop(self, files: list[tuple[str, bytes]]) -> None:
        """Drop files as the page does, three at a time, and wait until all are dealt with."""
        with ThreadPoolExecutor(3) as hands:
            taken = list(
                hands.map(lambda f: json.loads(self.ask("POST", "/tracks", f[1], f[0])[2])["content"], files)
            )
        self.post("/debrief", {"contents": taken})
        while self.post("/progress", {"contents": []})["running"]:
            time.sleep(0.25)

    def close(self) -> None:
        """As Close on the page."""
        self.post("/close", {})
        self.process.wait(60)


def of_command(words: list[str]) -> float:
    """CPU of a command [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "analyser", *words], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def warmed(pid: int) -> float:
    """CPU [s] when the pool is warm, as it is by the time anybody has found a file: nothing but the server's ticking for two seconds."""
    before = cpu(pid)
    while True:
        time.sleep(2.0)
        now = cpu(pid)
        if now - before < 0.06:
            return now
        before = now


def single(place: Path) -> list[tuple[str, str]]:
    """Start, and one track dropped."""
    track = SAMPLES / "first_light.gpx"
    data = track.read_bytes()
    command = min(of_command(["debrief", str(track), "--html", str(place / "page.html")]) for _ in range(3))
    costs, starts = [], []
    for i in range(3):
        desk = Desk(place / f"one {i}")
        starts.append(desk.ready_cpu)
        before = warmed(desk.process.pid)
        desk.drop([(track.name, data)])
        assert desk.ask("GET", f"/jump/{hashlib.sha256(data).hexdigest()}-1")[0] == 200
        costs.append(cpu(desk.process.pid) - before)
        whole = cpu(desk.process.pid)
        desk.close()
    return [
        ("CPU from start to the first answer", f"{min(starts):.2f} s"),
        ("CPU of crabline debrief --html", f"{command:.2f} s"),
        ("CPU from drop to the page's text", f"{min(costs):.2f} s ({min(costs) / command:.2f} times)"),
        ("CPU of the whole desk until then", f"{whole:.2f} s"),
    ]


def variants(count: int) -> list[tuple[str, bytes]]:
    """Files that differ in their bytes only."""
    names = sorted(p.name for p in SAMPLES.glob("*.gpx"))
    made = []
    for i in range(count):
        name = names[i % len(names)]
        data = (SAMPLES / name).read_bytes() + f"<!-- {i} -->".encode()
        made.append((f"{i:04}-{name}", data))
    return made


def many(place: Path, count: int) -> list[tuple[str, str]]:
    """Many files at once, with a reader of pages beside."""
    files = variants(count)
    desk = Desk(place / "many")
    waits: list[float] = []
    going = True

    def reader() -> None:
        while going:
            begin = time.monotonic()
            assert desk.ask("GET", "/" if len(waits) % 2 else "/help/season")[0] == 200
            waits.append(time.monotonic() - begin)
            time.sleep(0.2)

    thread = threading.Thread(target=reader)
    thread.start()
    begin = time.monotonic()
    desk.drop(files)
    lasted = time.monotonic() - begin
    going = False
    thread.join()
    memory = resident(desk.process.pid)
    desk.close()
    beside = place / "season"
    beside.mkdir()
    for name, data in files:
        (beside / name).write_bytes(data)
    for folder in (place / "many", beside):
        words = [
            "season",
            str(folder),
            "--csv",
            str(folder / "season.out"),
            "--json",
            str(folder / "season.json"),
        ]
        of_command(words)
    same = all(
        (place / "many" / n).read_bytes() == (beside / n).read_bytes() for n in ("season.out", "season.json")
    )
    waits.sort()
    return [
        (f"{count} files at once", f"{lasted:.0f} s on {os.cpu_count()} processors with others at work"),
        (
            "a page asked for meanwhile, 95 of 100 within",
            f"{waits[int(0.95 * len(waits))]:.2f} s ({len(waits)} asked)",
        ),
        ("peak memory of the server", f"{memory:.0f} MB"),
        ("CSV and JSON of the season, byte for byte those of crabline season", "yes" if same else "NO"),
    ]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=300)
    count = parser.parse_args().files
    place = Path(tempfile.mkdtemp())
    try:
        rows = single(place)
        rows += many(place, count) if count else []
    finally:
        shutil.rmtree(place)
    for name, value in rows:
        print(f"| {name} | {value} |")


if __name__ == "__main__":
    main()
