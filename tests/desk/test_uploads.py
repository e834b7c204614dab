"""What is taken in: counted while it streams, one temporary file each, nothing left of what is refused."""

from __future__ import annotations

import gzip
import http.client
import json
import os
import socket
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from desk_made import TRACK, Client, opened_desk, sha_of

from analyser.desk.uploads import Limits, file_name
from analyser.errors import AnalyserError
from analyser.importers.read import read
from analyser.importers.source import MAX_FILE_BYTES

MB = 1_000_000
LIMITS = Limits(file_bytes=2 * MB, waiting_files=40, waiting_bytes=8 * MB, silence_s=3.0)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with opened_desk(tmp_path_factory.mktemp("desk"), limits=LIMITS) as client:
        yield client


def left_over(desk: Client) -> list[str]:
    return [name for name in os.listdir(desk.desk.folder.hidden) if name.endswith(".part")]


def head(desk: Client, *more: str) -> bytes:
    lines = [
        "POST /tracks HTTP/1.1",
        f"Host: {desk.host}",
        f"Cookie: {desk.cookie}",
        f"Origin: http://{desk.host}",
        "X-Crabline-Desk: 1",
        "X-Name: big.gpx",
        *more,
    ]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def connected(desk: Client) -> socket.socket:
    name, _, port = desk.host.partition(":")
    return socket.create_connection((name, int(port)), timeout=600)


def answered(line: socket.socket) -> str:
    got = b""
    while b"\r\n\r\n" not in got or b"}" not in got:
        piece = line.recv(65536)
        if not piece:
            break
        got += piece
    return got.decode()


def test_a_gigabyte_declared_is_refused_before_it_is_sent(tmp_path: Path) -> None:
    with opened_desk(tmp_path / "usual") as desk, connected(desk) as line:
        line.sendall(head(desk, f"Content-Length: {1 << 30}"))
        told = answered(line)
        assert " 413 " in told.split("\r\n")[0]
        assert "too large" in told
        assert left_over(desk) == []


def sent_undeclared(desk: Client, size: int) -> int:
    """Send a body of that size without saying so; how much of it went out before the line was cut."""
    block = b"x" * 65536
    sent = 0
    with connected(desk) as line:
        line.sendall(head(desk, "Transfer-Encoding: chunked"))
        with suppress(OSError):
            while sent < size:
                line.sendall(f"{len(block):x}\r\n".encode() + block + b"\r\n")
                sent += len(block)
    return sent


def test_what_is_not_declared_is_counted(desk: Client) -> None:
    assert sent_undeclared(desk, 50 * MB) < 50 * MB, "the desk went on reading"
    assert left_over(desk) == []
    assert desk.get("/").status == 200


@pytest.mark.slow
def test_a_gigabyte_undeclared_is_cut_off_where_the_limit_is(tmp_path: Path) -> None:
    with opened_desk(tmp_path / "usual") as desk:
        assert sent_undeclared(desk, 3 << 29) < MAX_FILE_BYTES + 50 * MB, "the desk went on reading"
        assert left_over(desk) == []
        assert not list((tmp_path / "usual").glob("*.gpx"))
        assert desk.get("/").status == 200


def test_more_than_was_declared_does_not_come_in(desk: Client) -> None:
    with connected(desk) as line:
        line.sendall(head(desk, "Content-Length: 10") + b"0123456789")
        line.sendall(b"and more that is no request\r\n\r\n")
        assert " 200 " in answered(line).split("\r\n")[0]
    assert left_over(desk) == []
    kept = desk.desk.folder.path / "big.gpx"
    assert kept.read_bytes() == b"0123456789"
    kept.unlink()


def test_less_than_was_declared_leaves_nothing(desk: Client) -> None:
    with connected(desk) as line:
        line.sendall(head(desk, "Content-Length: 1000") + b"<gpx")
    desk.get("/")
    with connected(desk) as line:  # silent, but open
        line.sendall(head(desk, "Content-Length: 1000") + b"<gpx")
        assert "stopped coming in" in answered(line)
    assert left_over(desk) == []
    assert not (desk.desk.folder.path / "big.gpx").exists()


@pytest.mark.slow
def test_a_bomb_of_gzip_costs_one_line(desk: Client) -> None:
    bomb = gzip.compress(b"<?xml version='1.0'?><gpx>" + b" " * (300 * MB), 9)
    assert len(bomb) < LIMITS.file_bytes
    found = desk.drop(bomb, "bomb.gpx.gz")
    assert "unpacks to" in found["failed"]
    page = desk.get("/").text
    assert "bomb.gpx.gz" in page
    assert "unpacks to" in page


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "is empty"),
        (b"\x89PNG\r\n\x1a\n" + b"0" * 50, "it is a picture, not a track"),
        (b"hello", ""),
        (b"PK\x03\x04" + b"0" * 50, "ZIP archive"),
    ],
)
def test_what_is_no_track_is_refused_with_the_commands_line(
    desk: Client, data: bytes, line: str, tmp_path: Path
) -> None:
    desk.get("/")
    before = set(os.listdir(desk.desk.folder.path))
    (tmp_path / "notes.txt").write_bytes(data)
    with pytest.raises(AnalyserError) as caught:
        read(tmp_path / "notes.txt")
    answer = desk.post("/tracks", data, X_Name="notes.txt")
    assert answer.status == 422
    assert answer.json["line"] == f"notes.txt: {caught.value.what}; {caught.value.hint}"
    assert line in answer.json["line"]
    assert answer.json["line"].startswith("notes.txt: ")
    assert set(os.listdir(desk.desk.folder.path)) == before
    assert left_over(desk) == []


def test_the_same_track_again_is_known_and_not_kept_twice(desk: Client) -> None:
    first = desk.drop(TRACK.read_bytes(), "first.gpx")
    assert first["jumps"] == [f"/jump/{sha_of(TRACK)}-1"]
    again = desk.post("/tracks", TRACK.read_bytes(), X_Name="other-name.gpx").json
    assert again == {"content": sha_of(TRACK), "name": "first.gpx", "known": True}
    assert not (desk.desk.folder.path / "other-name.gpx").exists()


def test_another_track_of_the_same_name_lies_beside_it(desk: Client) -> None:
    data = (TRACK.parent / "long_spot.gpx").read_bytes()
    desk.post(
        "/tracks", TRACK.read_bytes(), X_Name="first.gpx"
    )  # there already or not, as the tests are shared out
    assert desk.post("/tracks", data, X_Name="first.gpx").json["name"] == "first-2.gpx"
    assert (desk.desk.folder.path / "first.gpx").read_bytes() == TRACK.read_bytes()


@pytest.mark.slow
def test_ten_thousand_small_files_are_bounded(tmp_path: Path) -> None:
    """All of them, with the usual limits: what is beyond them is refused until what waits was debriefed; nothing piles up, nothing is lost."""
    with opened_desk(tmp_path) as desk:
        limit = Limits().waiting_files
        answers = list(sent_in_a_row(desk, 10_000))
        assert {status for status, _ in answers} == {200, 429}
        assert [status for status, _ in answers[: limit + 1]] == [200] * limit + [429]
        assert "too many files wait" in answers[limit][1]["line"]
        assert len(desk.desk.waiting) <= limit
        taken = [told["content"] for status, told in answers if status == 200]
        assert len(list(tmp_path.glob("*.gpx"))) == len(taken)
        assert left_over(desk) == []
        assert desk.get("/").status == 200
        desk.settle()
        assert desk.post("/tracks", b"<gpx>more</gpx>", X_Name="more.gpx").status == 200


def sent_in_a_row(desk: Client, count: int) -> Iterator[tuple[int, dict[str, str]]]:
    """Small files over one line that is kept open, as a browser sends them; status and answer of each."""
    own = {"Cookie": desk.cookie, "Origin": f"http://{desk.host}", "X-Crabline-Desk": "1"}
    line = http.client.HTTPConnection(desk.host, timeout=600)
    for i in range(count):
        line.request("POST", "/tracks", f"<gpx>{i}</gpx>".encode(), own | {"X-Name": f"{i}.gpx"})
        got = line.getresponse()
        yield got.status, json.loads(got.read())
    line.close()


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("a.gpx", "a.gpx"),
        ("../../etc/passwd", "passwd"),
        ("..%2F..%2Fa.gpx", "a.gpx"),
        ("C:\\tracks\\a.gpx", "a.gpx"),
        ("..", "track-"),
        ("", "track-"),
        (".hidden.gpx", "hidden.gpx"),
        ("logbook.toml", "track-logbook.toml"),
        ("LOGBOOK.csv", "track-LOGBOOK.csv"),
        ("logbook.sqlite-wal", "track-logbook.sqlite-wal"),
        ("con.gpx", "track-con.gpx"),
        ("%3Cimg%20src=x%20onerror=alert(1)%3E.gpx", "_img src=x onerror=alert(1)_.gpx"),
        ("a%00b%0A.gpx", "a_b_.gpx"),
        ("%E2%80%AEgpx.fit", "_gpx.fit"),
        ("Z%C3%BCrich.gpx", "Zürich.gpx"),
        ("%FF%FE.gpx", "��.gpx"),
    ],
)
def test_names_are_one_part_of_a_path(given: str, kept: str) -> None:
    assert file_name(given) == kept


def test_long_names_keep_their_suffix() -> None:
    name = file_name("ä" * 400 + ".gpx")
    assert name.endswith(".gpx")
    assert len(name.encode()) <= 160
