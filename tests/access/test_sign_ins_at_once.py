"""Many sign-ins at once: four passwords are checked at a time, and nobody else waits for them."""

import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
import two_firms
from test_coming_in import sign_in
from two_firms import PASSWORD

from levelbook.app import sign_in as routes
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.tables import ATTEMPTS
from levelbook.firm import limits
from levelbook.firm.passwords import Passwords

MANY, PATIENCE = 12, 30.0


class Gate:
    """Holds whoever hashes a password until it is opened, and counts them."""

    def __init__(self) -> None:
        self._lock, self.opened = threading.Lock(), threading.Event()
        self.inside, self.most, self.came = 0, 0, 0

    def held(self, real: Callable) -> Callable:
        """Return a function that waits at the gate first."""

        def wait(passwords: Passwords, *given: str | None) -> object:
            with self._lock:
                self.came += 1
                self.inside += 1
                self.most = max(self.most, self.inside)
            assert self.opened.wait(PATIENCE)
            with self._lock:
                self.inside -= 1
            return real(passwords, *given)

        return wait


@pytest.fixture
def gate(world, monkeypatch) -> Iterator[Gate]:
    """Give the gate before every check and hash of a password."""
    made = Gate()
    for name in ("check", "hash"):
        monkeypatch.setattr(Passwords, name, made.held(getattr(Passwords, name)))
    yield made
    made.opened.set()


def limiter(world):
    """Return what limits the server's checks of passwords."""
    found = next(r for r in world.app.routes if getattr(r, "path", "") == "/api/sign-in")
    return found.endpoint.__self__._limiter


def waiting(world) -> int:
    """Return how many requests wait for their turn."""
    return world.client.portal.call(lambda: limiter(world).statistics().tasks_waiting)


def test_four_are_checked_at_once(world, gate):
    """Of twelve sign-ins four are inside; the others wait without a thread, and then come in."""
    emails = [world.one.email("owner"), "nobody@nowhere.example"]
    answers: list[int] = []

    def come(number: int) -> None:
        answers.append(sign_in(world, emails[number % 2]).status_code)

    threads = [threading.Thread(target=come, args=(number,)) for number in range(MANY)]
    for thread in threads:
        thread.start()
    until = time.monotonic() + PATIENCE
    while gate.came + waiting(world) < MANY and time.monotonic() < until:
        time.sleep(0.005)
    assert (gate.inside, waiting(world)) == (routes.AT_ONCE, MANY - routes.AT_ONCE)
    owner = world.caller(world.one, "owner")
    assert world.ask("GET", "/api/visits", owner).status_code == 200
    assert gate.inside == routes.AT_ONCE
    gate.opened.set()
    for thread in threads:
        thread.join()
    assert gate.most == routes.AT_ONCE == 4
    assert sorted(answers) == [200] * (MANY // 2) + [401] * (MANY // 2)


def test_all_that_hashes_goes_through_the_same_door(world, gate):
    """A changed password and an accepted invitation count among the four."""
    owner = world.caller(world.one, "owner")
    token = world.ask(
        "POST",
        "/api/invitations",
        owner,
        json={"email": "new@alder.example", "role": "surveyor"},
    ).json()["token"]
    change = {"old": PASSWORD, "new": "nine lanterns under an apple"}
    accepted = {"name": "New", "password": "a heron on seven stones"}
    given = {"headers": {"origin": two_firms.ADDRESS}}
    asked = [
        lambda: world.ask("POST", "/api/password", owner, json=change),
        lambda: world.ask("POST", f"/api/invitations/{token}", json=accepted, **given),
        *[lambda: sign_in(world, world.other.email("owner"))] * 6,
    ]
    threads = [threading.Thread(target=each) for each in asked]
    threads[0].start()
    threads[1].start()
    until = time.monotonic() + PATIENCE
    while gate.came < 2 and time.monotonic() < until:
        time.sleep(0.005)
    for thread in threads[2:]:
        thread.start()
    while gate.came + waiting(world) < len(asked) and time.monotonic() < until:
        time.sleep(0.005)
    assert (gate.inside, waiting(world)) == (4, len(asked) - 4)
    gate.opened.set()
    for thread in threads:
        thread.join()
    assert gate.most == 4


def test_who_sweeps_waits_for_nobody(postgres_url):
    """Old counts go, but for one that somebody else is just counting: no two wait for each other.

    On PostgreSQL; in SQLite one writes at a time.
    """
    database, now = Database(postgres_url), datetime(2026, 5, 4, tzinfo=UTC)
    old = now - timedelta(seconds=2 * limits.FORGOTTEN + limits.SPAN)
    with database.use(EVERY_FIRM) as connection:
        for key in ("counted", "free"):
            limits.take_address(connection, key, old)
    with database.use(EVERY_FIRM) as counting:
        limits.take_address(counting, "counted", now)
        with database.use(EVERY_FIRM) as sweeping:
            sweeping.execute(sa.text("SET LOCAL lock_timeout = '3s'"))
            limits.sweep(sweeping, now)
    with database.look(EVERY_FIRM) as connection:
        left = connection.execute(sa.select(ATTEMPTS.c.key, ATTEMPTS.c.count)).all()
    assert left == [("counted", 1)]
    database.close()
