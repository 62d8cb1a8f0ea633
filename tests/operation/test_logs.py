"""The log tells every request, and nothing of a house, a person or a secret, whatever is sent."""

import io
import json
import logging

import pytest
import two_firms
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

from levelbook.app import logs
from levelbook.app.server import make_app

MARK = "Heron77"
KEYS = {"time", "level", "source", "event", "method", "route", "status", "ms", "request", "firm"}
HOSTILE = (
    MARK,
    f"{MARK}\r\nlevel: forged",
    f'{MARK}","level":"error","x":"',
    f"{MARK}%00%0a${{jndi:x}}",
    f"{MARK}\u2028\u202e😀",
)


@pytest.fixture
def log():
    """Give the log as text; loggers are as they were afterwards."""
    names = ("levelbook", "uvicorn")
    kept = [(logging.getLogger(n), dict(vars(logging.getLogger(n)))) for n in names]
    stream = io.StringIO()
    logs.set_up(stream)
    yield stream
    for logger, before in kept:
        logger.handlers, logger.propagate = before["handlers"], before["propagate"]
        logger.setLevel(before["level"])


def lines(log: io.StringIO) -> list[dict[str, object]]:
    """Return the lines of the log; each must be an object by itself."""
    return [json.loads(line) for line in log.getvalue().splitlines()]


def test_each_request_is_one_line(log, tmp_path):
    """A request is told by route, status, time and number, and the answer carries the number."""
    with TestClient(make_app(tmp_path)) as client:
        answer = client.get("/api/visits/visit-0001/live?x=1")
    (line,) = [one for one in lines(log) if one["event"] == "request"]
    assert line.keys() == KEYS
    assert line["route"] == "/api/visits/{visit}/live"
    assert (line["status"], line["method"], line["firm"]) == (404, "GET", "local")
    assert line["request"] == answer.headers["x-request-id"]


@pytest.mark.parametrize("mark", HOSTILE)
def test_nothing_that_was_sent_reaches_the_log(log, world, mark):
    """Names, addresses, queries, headers, bodies and secrets stay out of the log."""
    owner = world.caller(world.one, "owner")
    plain = mark.encode("unicode_escape").decode("ascii")
    quoted = plain.replace("/", "")
    sign = {"email": f"{MARK}@example.org", "password": mark, "device": mark}
    asked = (
        ("GET", f"/api/visits?search={quoted}", owner, {}),
        ("GET", f"/api/visits/{quoted}/live", owner, {}),
        ("GET", f"/r/{quoted}", None, {"headers": {"user-agent": plain, "referer": plain}}),
        ("GET", f"/{quoted}", None, {"headers": {"x-request-id": plain, "cookie": plain}}),
        ("POST", "/api/sign-in", None, {"json": sign}),
        ("POST", "/api/invitations", owner, {"json": {"email": sign["email"], "role": mark}}),
        ("POST", "/api/import", owner, {"content": mark.encode()}),
        ("POST", f"/api/invitations/{quoted}", None, {"json": {"password": mark}}),
        (MARK.upper(), "/api/visits", owner, {}),
    )
    for method, path, caller, more in asked:
        world.ask(method, path, caller, **more)
    told = log.getvalue()
    assert len([one for one in lines(log) if one["event"] == "request"]) == len(asked)
    assert MARK.lower() not in told.lower()
    for secret in (owner.token, owner.csrf, two_firms.PASSWORD, "forged", "@"):
        assert secret not in told


def test_a_fault_is_told_by_its_lines_alone(log, tmp_path):
    """An error's text, which may quote a user, stays out; where it happened is told."""

    async def broken(_: Request) -> Response:
        try:
            int(MARK)
        except ValueError as error:
            raise RuntimeError(f"for {MARK}") from error
        raise AssertionError

    app = make_app(tmp_path)
    app.router.routes.insert(0, Route("/api/visits", broken))
    with TestClient(app, raise_server_exceptions=False) as client:
        answer = client.get("/api/visits")
    assert answer.status_code == 500
    assert MARK not in answer.text
    (line,) = [one for one in lines(log) if one["event"] == "request"]
    assert (line["status"], line["level"]) == (500, "error")
    assert line["request"] == answer.headers["x-request-id"]
    try:
        int(MARK)
    except ValueError:
        logging.getLogger("uvicorn.error").exception("Exception in %s", MARK)
    last = lines(log)[-1]
    assert last["event"] == "Exception in %s"
    assert last["error"][0] == "builtins.ValueError"
    assert "operation/test_logs.py" in last["error"][1]
    assert MARK not in log.getvalue()


@settings(max_examples=200)
@given(st.text(), st.text())
def test_a_line_stays_a_line(message, argument):
    """Whatever a record holds, its line is one line of JSON, without the record's arguments."""
    record = logging.LogRecord("x", logging.INFO, "f", 1, message, (argument,), None)
    line = logs.JsonLines().format(record)
    assert "\n" not in line
    assert line.isascii()
    assert json.loads(line)["event"] == message[:200]
