"""Who is let in: every refusal of the desk's guard, spoken over a plain socket as a stranger would."""

from __future__ import annotations

import http.client
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_made import Client, opened_desk

HEADERS = {
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
}
POSTS = [
    "/tracks",
    "/debrief",
    "/progress",
    "/corrections",
    "/again",
    "/alive",
    "/jump/" + "0" * 64 + "-1/who",
]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with opened_desk(tmp_path_factory.mktemp("desk")) as client:
        yield client


def raw(desk: Client, path: str, headers: list[tuple[str, str]], method: str = "GET") -> int:
    """The status of a request whose headers are all given, Host too."""
    connection = http.client.HTTPConnection(desk.host, timeout=600)
    connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    for name, value in headers:
        connection.putheader(name, value)
    connection.endheaders()
    status = connection.getresponse().status
    connection.close()
    return status


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1:{port}.evil.example", ""],
)
def test_a_foreign_host_is_refused_even_with_the_cookie(desk: Client, host: str) -> None:
    name = host.format(port=desk.host.split(":")[1])
    for path in ("/", "/season", "/static/desk.js", "/nowhere"):
        assert raw(desk, path, [("Host", name), ("Cookie", desk.cookie)]) == 400


def test_two_hosts_are_refused(desk: Client) -> None:
    hosts = [("Host", desk.host), ("Host", "evil.example"), ("Cookie", desk.cookie)]
    assert raw(desk, "/", hosts) == 400


@pytest.mark.parametrize("path", ["/", "/season", "/help", "/static/desk.js", "/nowhere"])
def test_without_the_cookie_nothing_is_shown(desk: Client, path: str) -> None:
    stranger = Client(desk.host)
    refused = stranger.get(path)
    assert refused.status == 403
    assert b"crabline desk printed" in refused.body
    assert "set-cookie" not in refused.headers


@pytest.mark.parametrize("cookie", ["crabline=1", "crabline-{port}=", "crabline-{port}=guess", "{cookie}x"])
def test_a_wrong_cookie_is_none(desk: Client, cookie: str) -> None:
    text = cookie.format(port=desk.host.split(":")[1], cookie=desk.cookie)
    assert Client(desk.host, text).get("/").status == 403


@pytest.mark.parametrize(
    "query", ["token=", "token=guess", "token=é", "token={token}&token=x", "Token={token}"]
)
def test_a_wrong_token_is_refused(desk: Client, query: str) -> None:
    token = desk.address.rpartition("=")[2]
    sent = query.format(token=token).encode("utf-8").decode("latin-1")
    assert raw(desk, "/?" + sent.replace("é", "%C3%A9").replace("Ã©", "%C3%A9"), [("Host", desk.host)]) == 403


def test_the_token_is_for_the_first_address_only(desk: Client) -> None:
    token = desk.address.rpartition("=")[2]
    assert Client(desk.host).get(f"/season?token={token}").status == 403


def test_the_cookie_cannot_be_read_nor_sent_from_elsewhere(desk: Client) -> None:
    entered = Client(desk.host).get("/" + desk.address.split("/", 3)[3])
    assert entered.status == 303
    assert entered.headers["location"] == "/"
    flags = {part.strip().lower() for part in entered.headers["set-cookie"].split(";")[1:]}
    assert {"httponly", "samesite=strict", "path=/"} <= flags
    assert not any(flag.startswith("domain") for flag in flags)


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"X-Crabline-Desk": "1"},
        {"Origin": "http://{host}"},
        {"Origin": "http://evil.example", "X-Crabline-Desk": "1"},
        {"Origin": "null", "X-Crabline-Desk": "1"},
        {"Origin": "https://{host}", "X-Crabline-Desk": "1"},
        {"Origin": "http://{host}.evil.example", "X-Crabline-Desk": "1"},
        {"Origin": "http://localhost:1", "X-Crabline-Desk": "1"},
    ],
    ids=str,
)
def test_a_write_needs_our_origin_and_our_header(desk: Client, path: str, headers: dict[str, str]) -> None:
    sent = {name: value.format(host=desk.host) for name, value in headers.items()}
    assert desk.ask("POST", path, b"{}", sent).status == 403


def test_a_write_needs_the_cookie_too(desk: Client) -> None:
    assert Client(desk.host).post("/close", {}).status == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECTX"])
def test_other_methods_are_refused(desk: Client, method: str) -> None:
    answer = desk.ask(method, "/", None, {"Origin": "http://evil.example"})
    assert answer.status == 405
    assert not [name for name in answer.headers if name.startswith("access-control")]


@pytest.mark.parametrize("path", ["/", "/help", "/nowhere", "/static/desk.js", "/static/../logbook.toml"])
def test_every_answer_carries_the_safe_headers(desk: Client, path: str) -> None:
    for client in (desk, Client(desk.host)):
        headers = client.get(path).headers
        assert {name: headers.get(name) for name in HEADERS} == HEADERS
        policy = headers["content-security-policy"]
        for part in ("default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "connect-src 'self'"):
            assert part in policy
        assert "'unsafe-inline'" not in policy.split("script-src")[1].split(";")[0]
        assert "'unsafe-eval'" not in policy
        assert not [name for name in headers if name.startswith("access-control")]
        assert "server" not in headers


@pytest.mark.parametrize(
    "path",
    [
        "/jump/../../etc/passwd",
        "/jump/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/jump/" + "0" * 64 + "-1",
        "/jump/" + "A" * 64 + "-1",
        "/jump/" + "0" * 63 + "-1",
        "/jump/" + "0" * 64 + "-1/file/../../x",
        "/jump/" + "0" * 64 + "-99999999999999999999",
        "/jump/" + "0" * 64 + "-٣",
        "/static/..%2f..%2flogbook.toml",
        "/static/%2e%2e/desk.py",
        "/static//etc/passwd",
        "/help/../../../etc/passwd",
        "/help/..%2f..%2fREADME",
        "/help/img/..%2f..%2fREADME.md",
        "/beside/" + "0" * 64 + "-1/..%2f..",
    ],
)
def test_no_address_leads_out_of_the_logbook(desk: Client, path: str) -> None:
    answer = desk.get(path.encode("utf-8").decode("latin-1").replace("Ù£", "%D9%A3"))
    assert answer.status == 404
    assert b"root:" not in answer.body


def test_the_desk_listens_on_the_loopback_only(desk: Client, tmp_path: Path) -> None:
    assert desk.host.startswith("127.0.0.1:")
    assert desk.desk.folder.path.stat().st_mode & 0o077 in (
        0,
        0o055,
    )  # its own are 0700; this one the test made
