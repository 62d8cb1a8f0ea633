"""A server as it is started: how it may be reached, what it refuses, and how it stops."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient
from two_firms import PASSWORD, quick

from databases import superuser_url
from levelbook.app.hosts import OnlyHosts
from levelbook.archive.migrating import open_database, require_current
from levelbook.cli.firm import new
from levelbook.cli.main import main
from levelbook.cli.serve import serve as start
from levelbook.cli.served import LOOPBACK, Served, check_served, found_at
from levelbook.errors import UsageError
from levelbook.firm import invitations

SITE = "https://levels.example.org"


def served(host="127.0.0.1", address="", *, secure=False, proxy=False) -> Served:
    """Return a way of serving."""
    return Served(host, address, secure=secure, behind_proxy=proxy)


@pytest.mark.parametrize(
    ("way", "option"),
    [
        (served("0.0.0.0"), "--host"),
        (served("0.0.0.0", "http://levels.example.org"), "--host"),
        (served("192.0.2.1", SITE), "--host"),
        (served("0.0.0.0", secure=True), "--address"),
        (served("0.0.0.0", proxy=True), "--address"),
        (served("127.0.0.1", proxy=True), "--address"),
        (served("0.0.0.0", "http://levels.example.org", secure=True), "--address"),
        (served("0.0.0.0", "http://levels.example.org", proxy=True), "--address"),
        (served("127.0.0.1", SITE), "--address"),
        (served("0.0.0.0", f"{SITE}/levels", proxy=True), "--address"),
        (served("0.0.0.0", f"{SITE}?a=b", proxy=True), "--address"),
        (served("0.0.0.0", "https://ann@levels.example.org", proxy=True), "--address"),
        (served("0.0.0.0", "levels.example.org", proxy=True), "--address"),
        (served("0.0.0.0", "https://", proxy=True), "--address"),
        (served("0.0.0.0", "ftp://levels.example.org", proxy=True), "--address"),
    ],
)
def test_passwords_are_never_served_in_the_clear(way, option):
    """Other machines come by https alone, and the address says so and nothing else."""
    with pytest.raises(UsageError) as refused:
        check_served(way)
    assert refused.value.place == option


@pytest.mark.parametrize(
    ("way", "address"),
    [
        (served(), "http://localhost:8321"),
        (served("::1"), "http://localhost:8321"),
        (served("localhost", secure=True), "https://localhost:8321"),
        (served("127.0.0.1", SITE, proxy=True), SITE),
        (served("0.0.0.0", f"{SITE}/", proxy=True), SITE),
        (served("0.0.0.0", f"{SITE}:8443", secure=True), f"{SITE}:8443"),
        (served("127.0.0.1", "http://localhost:9000"), "http://localhost:9000"),
    ],
)
def test_these_ways_are_taken(way, address):
    """In the clear on this machine alone, or https by a certificate or a proxy."""
    check_served(way)
    assert found_at(way, 8321) == address


def test_the_walls_between_firms_must_hold(database, database_url):
    """A role of PostgreSQL that stands above row-level security is refused."""
    require_current(database)
    if not database.postgresql:
        return
    with pytest.raises(UsageError, match="row-level security does not bind"):
        open_database(superuser_url(database_url))
    with pytest.raises(UsageError, match="row-level security does not bind"):
        new("Alder Ridge", "ann@alder.example", superuser_url(database_url))


def test_the_demo_house_is_for_ones_own_machine(sqlite_url):
    """A demo that is asked for on a firm's database is refused, and not passed over."""
    with pytest.raises(UsageError, match=r"--demo.*leave out --demo"):
        start(demo=True, database=sqlite_url)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:8321", 200),
        ("localhost", 200),
        ("LOCALHOST:80", 200),
        ("[::1]:8321", 200),
        ("evil.example", 421),
        ("localhost.evil.example:8321", 421),
        ("127.0.0.1.evil.example", 421),
        ("evil.example@localhost:x", 200),
        ("[", 421),
        ("", 421),
    ],
)
def test_ones_own_machine_answers_to_its_own_names(host, status):
    """A name of another site that was made to point here is refused (DNS rebinding)."""

    async def here(_):
        return PlainTextResponse("here")

    app = Starlette(routes=[Route("/", here)])
    app.add_middleware(OnlyHosts, hosts=LOOPBACK)
    assert TestClient(app).get("/", headers={"host": host}).status_code == status


def run(capfd, *arguments: str) -> tuple[int, str]:
    """Run a command in this process and return its code and everything it printed."""
    capfd.readouterr()
    code = main(list(arguments))
    told = capfd.readouterr()
    return code, told.out + told.err


def test_a_firm_is_made_and_its_owner_comes_in(database, database_url, capfd):
    """The printed address holds a token that works once; the firm is then listed."""
    about = ("--database", database_url, "--address", f"{SITE}/")
    given = ("Cedar Levels", "--owner", "Cleo@Cedar.example", *about)
    code, told = run(capfd, "firm", "new", *given)
    assert code == 0, told
    token = re.search(rf"Invitation: {re.escape(SITE)}/#/invitation/([\w-]{{43}})\n", told)[1]
    now = datetime.now(UTC)
    email = invitations.accept(database, quick(), token, ("Cleo", PASSWORD), now)
    assert email == "cleo@cedar.example"
    code, listed = run(capfd, "firm", "list", "--database", database_url)
    firm = re.search(r"Firm: (\S+)", told)[1]
    assert (code, listed) == (0, f"{firm}  Cedar Levels\n")
    code, told = run(capfd, "firm", "reset", "cleo@cedar.example", *about)
    token = re.search(r"New password: \S+/#/invitation/([\w-]{43})\n", told)[1]
    assert invitations.accept(database, quick(), token, ("", "a lantern, nine apples"), now)
    code, told = run(capfd, "firm", "invite", "dan@cedar.example", "--role", "reviewer", *about)
    assert (code, "/#/invitation/" in told) == (0, True)


def test_an_empty_database_gets_its_tables(bare_url, capfd):
    """The first firm makes them; serving does not, on a database that others may use, too."""
    if bare_url.startswith("postgresql"):
        code, told = run(capfd, "serve", "--database", bare_url, "--port", "0")
        assert (code, "levelbook archive migrate" in told) == (2, True)
    given = ("Cedar", "--owner", "c@c.example", "--database", bare_url)
    code, told = run(capfd, "firm", "new", *given)
    assert code == 0, told


@pytest.mark.parametrize(
    "command",
    [
        ("serve", "--port", "0"),
        ("firm", "list"),
        ("firm", "new", "Cedar", "--owner", "c@c.example"),
    ],
)
def test_a_database_that_is_away_is_told(command, capfd):
    """It is the operator's to mend, and no fault of the program: the code is 2."""
    code, told = run(capfd, *command, "--database", "postgresql://nobody@127.0.0.1:9/x")
    assert (code, "does not answer" in told, "check user" in told) == (2, True, True)


def test_the_audit_list_is_checked_from_the_command_line(database, database_url, capfd):
    """It tells lines and last chain, and whether one that was written down is still there."""
    about = ("--database", database_url)
    run(capfd, "firm", "new", "Cedar Levels", "--owner", "c@cedar.example", *about)
    code, told = run(capfd, "firm", "audit", *about)
    assert (code, told.startswith("2 lines, the last chain is ")) == (0, True)
    chain = told.split()[-1]
    run(capfd, "firm", "invite", "d@cedar.example", *about)
    assert run(capfd, "firm", "audit", "--expect", chain, *about)[0] == 0
    code, told = run(capfd, "firm", "audit", "--expect", "0" * 64, *about)
    assert (code, "is not in the list" in told) == (1, True)
    code, told = run(capfd, "firm", "audit", "--json", *about)
    assert (code, '"lines": 3' in told, '"broken": null' in told) == (0, True, True)


@pytest.mark.parametrize(
    ("arguments", "place"),
    [
        (("invite", "dan@cedar.example", "--firm", "nobody"), "--firm"),
        (("invite", "dan@cedar.example"), "--firm"),
        (("invite", "dan"), "EMAIL"),
        (("invite", "dan@cedar.example", "--firm", "{one}", "--role", "admin"), "role"),
        (("invite", "dan@cedar.example", "--firm", "{one}", "--name", "a\nb"), "--name"),
        (("reset", "nobody@cedar.example"), "EMAIL"),
        (("new", " ", "--owner", "c@cedar.example"), "NAME"),
        (("new", "Cedar", "--owner", "cleo"), "--owner"),
        (("audit",), "--firm"),
    ],
)
def test_a_wrong_command_is_told_where(world, arguments, place, capfd):
    """Each in a line with place and remedy, and nothing is changed."""
    url = world.database.engine.url.render_as_string(hide_password=False)
    url = url.replace("postgresql+psycopg", "postgresql")
    given = [word.replace("{one}", world.one.id) for word in arguments]
    code, told = run(capfd, "firm", *given, "--database", url)
    assert (code, told.startswith(f"levelbook: {place}: ")) == (2, True), told


def test_options_of_a_firm_need_its_database(capfd):
    """An address or a proxy means nothing at one's own machine."""
    for option in (("--behind-proxy",), ("--address", SITE)):
        code, told = run(capfd, "serve", *option)
        assert (code, f"levelbook: {option[0]}: " in told) == (2, True)


@pytest.mark.slow
def test_requests_in_hand_end_before_the_server_stops(sqlite_url, tmp_path):
    """Told to stop in the middle of a request, it takes the rest of it, answers, and ends."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "levelbook", "serve", "--database", sqlite_url]
    command += ["--data", str(tmp_path), "--port", str(port)]
    process = subprocess.Popen(command, env=os.environ | {"OMP_NUM_THREADS": "1"})
    try:
        body = b'{"email": "nobody@nowhere.example", "password": "seven grey herons"}'
        head = (
            f"POST /api/sign-in HTTP/1.1\r\nHost: localhost:{port}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        )
        with _connected(port) as connection:
            connection.sendall(head.encode() + body[:20])
            time.sleep(0.3)
            process.send_signal(signal.SIGTERM)
            time.sleep(0.7)
            assert process.poll() is None
            connection.sendall(body[20:])
            answer = b""
            while piece := connection.recv(65_536):
                answer += piece
        assert answer.startswith(b"HTTP/1.1 401 ")
        assert process.wait(timeout=15) in (0, -signal.SIGTERM, 128 + signal.SIGTERM)
    finally:
        process.kill()
        process.wait()


def _connected(port: int) -> socket.socket:
    """Return a connection to a server that is starting."""
    for _ in range(600):
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=20)
        except OSError:
            time.sleep(0.1)
    raise AssertionError("the server did not start")
