"""Every answer is guarded by its headers, every request held to its size and its time."""

import asyncio
import re
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import served
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.testclient import TestClient

from levelbook.app.headers import file_policy, guard_headers
from levelbook.app.server import make_app
from levelbook.app.sizes import LONGEST_ADDRESS, MOST_HEADERS, SIZES, USUAL, Sizes, most_bytes
from levelbook.app.slow import PIECE, Patient, Pieces

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"
PATHS = {
    "/api/visits/[^/]*/sync": "/api/visits/visit-0001/sync",
    "/api/photos/[^/]*": "/api/photos/" + "a" * 64,
    "/api/import/(preview|take)": "/api/import/take",
}
GUARDS = ("x-content-type-options", "x-frame-options", "referrer-policy", "permissions-policy")


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    """Give a client of one's own machine."""
    app = make_app(tmp_path_factory.mktemp("guarded"))

    async def broken(_: Request) -> Response:
        raise ZeroDivisionError("the secret 4711")

    app.router.routes.insert(0, Route("/", broken))
    with TestClient(app, raise_server_exceptions=False) as made:
        yield made


@pytest.fixture(scope="module")
def visit(client):
    """Take the small house in and give its visit."""
    return client.post("/api/import", content=BOOK.read_bytes()).json()["visit"]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/visits", 200),
        ("GET", "/api/visits/VISIT/report.html", 200),
        ("GET", "/api/visits/VISIT/plan.svg", 200),
        ("GET", "/api/nothing", 404),
        ("POST", "/api/visits", 405),
        ("GET", "/health/live", 200),
        ("GET", "/", 500),
        ("GET", f"/api/visits?search={'x' * LONGEST_ADDRESS}", 414),
        ("GET", "/r/nobody-knows-it", 404),
    ],
)
def test_every_answer_has_its_guards(client, visit, method, path, status):
    """No answer, not even that of a fault, comes without its headers or allows inline code."""
    answer = client.request(method, path.replace("VISIT", visit))
    assert answer.status_code == status
    assert all(name in answer.headers for name in GUARDS)
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert "default-src" in answer.headers["content-security-policy"]
    assert answer.headers["x-request-id"]
    assert "4711" not in answer.text


def test_a_report_runs_its_own_code_and_no_other(client, visit):
    """The hashes of the report's own style and script are allowed, in a sandbox."""
    answer = client.get(f"/api/visits/{visit}/report.html")
    policy = answer.headers["content-security-policy"]
    assert policy == file_policy(answer.content)
    assert re.findall(r"(\w+)-src 'sha256-", policy) == ["style", "script"]
    assert "sandbox allow-scripts" in policy


@pytest.mark.parametrize(
    "html",
    [
        b"<script>alert(1)</script>",
        b"<!doctype html><html><head><title><meta http-equiv=...",
        b'<!doctype html>\n<html lang="en">\n<head>\n<title>x</title><meta charset="utf-8">\n'
        b'<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        b"style-src 'sha256-AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA='; script-src 'x'",
        b"",
    ],
)
def test_a_file_that_names_no_code_runs_none(html):
    """Whatever a file holds further down, it cannot allow itself anything."""
    assert "script-src" not in file_policy(html)
    assert "default-src 'none'" in file_policy(html)


@pytest.mark.parametrize(
    ("scheme", "host", "kept"),
    [
        ("https", b"levels.example", True),
        ("https", b"levels.example:8443", True),
        ("https", b"localhost:8321", False),
        ("https", b"127.0.0.1:8321", False),
        ("https", b"[::1]:8321", False),
        ("http", b"levels.example", False),
    ],
)
def test_https_is_kept_to_where_it_is_used(scheme, host, kept):
    """A browser that came by https is told to stay there, but not at this machine's own name."""
    found = guard_headers({"scheme": scheme, "path": "/", "headers": [(b"host", host)]})
    assert ("strict-transport-security" in found) == kept


@pytest.mark.parametrize(
    ("method", "path", "most"),
    [
        ("POST", "/api/visits/visit-0001/sync", 12_000_000),
        ("POST", "/api/import", 10_000_000),
        ("POST", "/api/import/preview", 40_000_000),
        ("POST", "/api/import/take", 40_000_000),
        ("PUT", "/api/photos/" + "a" * 64, 8_000_000),
        ("GET", "/api/photos/" + "a" * 64, USUAL),
        ("POST", "/api/sign-in", USUAL),
        ("POST", "/api/visits/a/b/sync", USUAL),
        ("DELETE", "/api/import", USUAL),
    ],
)
def test_each_address_has_its_size(method, path, most):
    """The table says what each address takes; what it does not name takes little."""
    assert most_bytes(method, path) == most


@pytest.mark.parametrize(
    ("method", "path", "size"),
    [
        *((m, PATHS.get(p.pattern, "/api/import"), size + 1) for m, p, size in SIZES),
        ("POST", "/api/sign-in", USUAL + 1),
        ("POST", "/nowhere", USUAL + 1),
    ],
)
def test_what_is_larger_is_refused(client, method, path, size):
    """A body beyond its address's size is refused by its own word, before it is read."""
    answer = client.request(method, path, headers={"content-length": str(size)}, content=b"{}")
    assert answer.status_code == 413
    assert answer.json()["error"]["remedy"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"content-length": "-1"}, 400),
        ({"content-length": "1e3"}, 400),
        ({"x-long": "x" * MOST_HEADERS}, 431),
    ],
)
def test_heads_that_are_none_are_refused(client, headers, status):
    """A length that is none, and headers without end, are refused."""
    assert client.post("/api/import", headers=headers, content=b"").status_code == status


def _taking(**patience: float) -> Starlette:
    """Return an app that reads whatever it is sent."""

    async def take(request: Request) -> Response:
        return PlainTextResponse(str(len(await request.body())))

    from levelbook.app.server import HANDLERS

    routes = [Route("/take", take, methods=["POST"])]
    middleware = [Middleware(Sizes, **patience)]
    return Starlette(routes=routes, middleware=middleware, exception_handlers=HANDLERS)


def _speak(port: int, *parts: bytes, pause: float = 0.0) -> bytes:
    """Send parts with pauses and return the answer."""
    with socket.create_connection(("127.0.0.1", port)) as sock:
        sock.settimeout(20)
        try:
            for part in parts:
                sock.sendall(part)
                time.sleep(pause)
        except ConnectionError:
            pass
        return served.read_all(sock)


POST = b"POST /take HTTP/1.1\r\nhost: a\r\nconnection: close\r\n"


def test_a_body_without_length_is_counted_as_it_comes():
    """A body in chunks, whose length is told nowhere, is refused where it grows too large."""
    chunk = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
    with served.running(_taking()) as port:
        head = POST + b"transfer-encoding: chunked\r\n\r\n"
        assert b" 413 " in _speak(port, head, *[chunk] * 8).partition(b"\r\n")[0]
        assert b" 200 " in _speak(port, head, chunk, b"0\r\n\r\n").partition(b"\r\n")[0]


def test_a_body_that_stops_is_not_waited_for():
    """A sender who pauses too long, or trickles for ever, gets 408; a slow one is served."""
    head = POST + b"content-length: 12\r\n\r\n"
    with served.running(_taking(pause=0.3, whole=1.0)) as port:
        assert b" 408 " in _speak(port, head, b"abc").partition(b"\r\n")[0]
        trickled = _speak(port, head, *[b"x"] * 10, pause=0.15)
        assert b" 408 " in trickled.partition(b"\r\n")[0]
        assert b" 200 " in _speak(port, head, b"x" * 6, b"x" * 6, pause=0.1).partition(b"\r\n")[0]


class Hasty(Patient):
    """A connection with little patience."""

    head, stalled = 0.3, 0.3


def test_a_head_that_trickles_is_cut_off():
    """A request whose head does not arrive in time is cut off, the first and later ones."""
    whole = b"POST /take HTTP/1.1\r\nhost: a\r\ncontent-length: 0\r\n\r\n"
    with served.running(_taking(), http=Hasty, timeout_keep_alive=1) as port:
        assert _speak(port, b"POST /take HT", b"TP/1.1\r\n", pause=0.3) == b""
        assert _speak(port, whole, b"POST /ta", pause=0.3).count(b"200 OK") == 1
        assert _speak(port, whole, whole, pause=0.1).count(b"200 OK") == 2


def test_an_answer_that_nobody_reads_is_given_up():
    """A client that asks and does not read holds its connection for a while only."""

    async def much(_: Request) -> Response:
        return PlainTextResponse("x" * 30_000_000)

    app = Starlette(routes=[Route("/much", much)])
    with served.running(app, http=Hasty) as port, socket.socket() as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        sock.connect(("127.0.0.1", port))
        sock.settimeout(20)
        sock.sendall(b"GET /much HTTP/1.1\r\nhost: a\r\n\r\n")
        time.sleep(1.0)
        assert len(served.read_all(sock)) < 30_000_000


@pytest.mark.parametrize("size", [0, 1, PIECE, PIECE + 1, 3 * PIECE, 3 * PIECE + 5])
@pytest.mark.parametrize("more", [False, True])
def test_an_answer_is_handed_on_in_pieces(size, more):
    """No piece is larger than told, none is missing, and only the last one is the last."""
    body, sent = bytes(n % 251 for n in range(size)), []

    async def app(_scope, _receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": body, "more_body": more})

    async def send(message):
        sent.append(message)

    with ThreadPoolExecutor(1) as aside:  # a browser's tests may keep a loop going in this thread
        aside.submit(lambda: asyncio.run(Pieces(app)({"type": "http"}, None, send))).result()
    assert sent[0]["status"] == 200
    assert b"".join(each["body"] for each in sent[1:]) == body
    assert max(len(each["body"]) for each in sent[1:]) <= PIECE
    assert [each["more_body"] for each in sent[1:]] == [True] * (len(sent) - 2) + [more]


class Watchful(Patient):
    """A connection whose answer must move on within a second."""

    stalled = 1.0


def test_a_slow_client_gets_the_whole_answer(tmp_path):
    """Who takes an answer slowly, but goes on taking it, is not cut off."""
    size = 48 * PIECE

    async def much(_: Request) -> Response:
        return PlainTextResponse("x" * size)

    app = Starlette(routes=[Route("/much", much)], middleware=[Middleware(Pieces)])
    with served.running(app, http=Watchful) as port, socket.socket() as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        sock.connect(("127.0.0.1", port))
        sock.settimeout(20)
        sock.sendall(b"GET /much HTTP/1.1\r\nhost: a\r\nconnection: close\r\n\r\n")
        taken, begun = 0, time.monotonic()
        while piece := sock.recv(PIECE):
            taken += len(piece)
            behind = taken / size * 2.5 - (time.monotonic() - begun)
            time.sleep(max(behind, 0.0))
    assert taken > size
    assert make_app(tmp_path).user_middleware[0].cls is Pieces
