"""A real browser makes a passkey on the server and signs in with it."""

import socket
import threading
import time
from pathlib import Path

import pytest
import uvicorn
from two_firms import PASSWORD, made

from levelbook.app.settings import Settings
from levelbook.archive.database import Database

SCRIPT = (Path(__file__).parent / "passkey_page.js").read_text("utf-8")
SCRIPT = SCRIPT.partition("\n")[2]
DEVICE = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
}


@pytest.fixture
def served(sqlite_url, tmp_path):
    """Give a world that a browser reaches, and its address."""
    listening = socket.create_server(("127.0.0.1", 0))
    address = f"http://localhost:{listening.getsockname()[1]}"
    database = Database(sqlite_url)
    with made(database, tmp_path, Settings(address)) as world:
        config = uvicorn.Config(world.app, log_level="error", lifespan="off", proxy_headers=False)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield world, address
        server.should_exit = True
        thread.join()


@pytest.mark.browser
def test_a_browser_makes_and_uses_a_passkey(browser, served):
    """Made while signed in by password; after signing out it lets the person in by itself."""
    world, address = served
    context = browser.new_context()
    page = context.new_page()
    tools = context.new_cdp_session(page)
    tools.send("WebAuthn.enable")
    tools.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})
    page.goto(f"{address}/")
    body = {"email": world.one.email("reviewer"), "password": PASSWORD, "device": "browser"}
    assert _post(page, "/api/sign-in", body, "") == 200
    csrf = page.evaluate("fetch('/api/me').then((r) => r.json())")["csrf"]
    kept = page.evaluate(SCRIPT, {"what": "make", "csrf": csrf})
    assert kept["status"] == 201, kept
    assert kept["body"]["passkey"]["name"] == "this browser"
    assert _post(page, "/api/sign-out", {}, csrf) == 200
    assert page.evaluate("fetch('/api/me').then((r) => r.status)") == 401
    entered = page.evaluate(SCRIPT, {"what": "use", "csrf": ""})
    assert entered["status"] == 200, entered
    assert entered["body"]["person"]["id"] == world.one.people["reviewer"]
    assert page.evaluate("document.cookie") == ""
    context.close()


def _post(page, path: str, body: dict, csrf: str) -> int:
    """Send a request from within the page and return the answer's status."""
    script = """([path, body, csrf]) => fetch(path, {
        method: "POST",
        headers: { "content-type": "application/json", "x-levelbook-csrf": csrf },
        body: JSON.stringify(body),
    }).then((answer) => answer.status)"""
    return page.evaluate(script, [path, body, csrf])
