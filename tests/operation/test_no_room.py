"""No room left, or nothing may be written: told as such, nothing lost, and on it goes after.

PostgreSQL is really kept from growing: the system refuses its writes beyond a limit on the
size of a file, as it would on a full disk or beyond a quota.
"""

import errno
import hashlib
import random
import resource
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import lives
import pytest
import sqlalchemy as sa
from devices import Device, picture
from shaken import SEGMENT_MB, Shaken
from sqlalchemy import event
from starlette.testclient import TestClient

import temporary_postgres
from levelbook.archive.blobs import Folder
from levelbook.archive.database import Database
from levelbook.archive.migrating import migrate
from levelbook.archive.moments import later
from levelbook.archive.store import Store
from levelbook.archive.tables import SESSIONS
from levelbook.errors import UsageError
from levelbook.firm import sessions
from levelbook.firm.signing import signing_key

PATIENCE = 60.0
JSON = {"content-type": "application/json"}


@pytest.fixture(scope="module")
def server() -> Iterator[Shaken]:
    """Give a PostgreSQL server of one's own that can be kept from growing."""
    with temporary_postgres.own(SEGMENT_MB, fsync="off") as running:
        shaken = Shaken(running)
        if not shaken.can_narrow:
            pytest.skip("this system does not let us limit the files of a process that runs")
        database = Database(shaken.url)
        migrate(database)
        database.close()
        shaken.fill()
        yield shaken


@contextmanager
def serving(url: str, folder: Path) -> Iterator[tuple[TestClient, Database]]:
    """Give a client of a server over a database, and the database as the server has it."""
    app, database = lives.build(url, folder / "photos")
    with TestClient(app, raise_server_exceptions=False) as client:
        yield client, database


class Hand(Device):
    """A device that sends without a connection of its own."""

    def sends(self, client: TestClient) -> int:
        """Write, send all that waits, and return the status of the answer."""
        self.write()
        answer = client.post(
            f"/api/visits/{self.visit}/sync", content=self._sending(), headers=JSON
        )
        self.answers.append((answer.status_code, answer.json()))
        self.retry = int(answer.headers.get("retry-after", "0"))
        if answer.status_code == 200:
            self.told |= set(answer.json()["accepted"])
            self.waiting = []
        return answer.status_code


def hand(seed: int) -> Hand:
    """Return a device with a visit of its own."""
    return Hand("device01", str(uuid.UUID(int=seed)), random.Random(seed))


def send_until_refused(device: Hand, client: TestClient) -> int:
    """Send until there is no room, and return the status that says so."""
    until = time.monotonic() + PATIENCE
    while (status := device.sends(client)) == 200:
        assert time.monotonic() < until
    return status


def check_kept(device: Hand, database: Database) -> None:
    """Hold the store to having everything that the device wrote, once, as it was written."""
    every = Store(database).entries(device.visit)
    assert {one.id: one.fields for one in every} == {
        name: one["fields"] for name, one in device.sent.items()
    }
    assert len(every) == len(device.sent)
    assert device.told == set(device.sent)


def test_a_table_that_cannot_grow_is_told_as_a_full_disk(server, tmp_path):
    """PostgreSQL cannot extend a table: 507, reading goes on, and with room again all is taken."""
    device = hand(1)
    with serving(server.url, tmp_path) as (client, database):
        assert device.sends(client) == 200
        server.narrow_tables(0)
        try:
            assert send_until_refused(device, client) == 507
            told = device.answers[-1][1]["error"]
            assert (told["code"], device.retry) == ("disk-full", 300)
            assert "stays on the device" in told["remedy"]
            assert device.sends(client) == 507
            history = client.get(f"/api/visits/{device.visit}/history").json()["entries"]
            assert {one["id"] for one in history} == device.told
            assert client.get("/api/visits").status_code == 200
        finally:
            server.widen()
        assert device.sends(client) == 200
        check_kept(device, database)


def test_no_room_to_write_ahead_ends_the_database_and_nothing_else(server, tmp_path):
    """PostgreSQL goes down for want of room: 503 until it has some, and nothing told is lost."""
    device = hand(2)
    with serving(server.url, tmp_path) as (client, database):
        assert device.sends(client) == 200
        server.narrow_log(0.0)
        try:
            assert send_until_refused(device, client) == 503
            assert device.answers[-1][1]["error"]["code"] == "database"
            assert device.retry == 5
            assert client.get("/health/live").status_code == 200
            assert client.get("/health/ready").status_code == 503
        finally:
            server.widen()
        until = time.monotonic() + PATIENCE
        while client.get("/health/ready").json()["checks"]["database"] is False:
            assert time.monotonic() < until
            time.sleep(0.02)
        assert device.sends(client) == 200
        check_kept(device, database)


@pytest.fixture
def own(database: Database, tmp_path: Path) -> Iterator[tuple[TestClient, Database]]:
    """Give a server over a database of each kind."""
    url = database.engine.url.render_as_string(hide_password=False)
    with serving(url, tmp_path) as made:
        yield made


@contextmanager
def only_reading(database: Database) -> Iterator[None]:
    """Let a database take no changes."""
    ask = "SET SESSION CHARACTERISTICS AS TRANSACTION READ ONLY"
    ask = ask if database.postgresql else "PRAGMA query_only=1"

    def shut(connection: Any, _: object) -> None:
        connection.cursor().execute(ask)
        connection.commit()

    database.engine.dispose()
    event.listen(database.engine, "connect", shut)
    yield
    event.remove(database.engine, "connect", shut)
    database.engine.dispose()


def test_a_database_that_only_reads_is_told(own):
    """Where the database takes no changes, as some do whose disk is full, reading goes on."""
    client, database = own
    device = hand(3)
    assert device.sends(client) == 200
    with only_reading(database):
        assert device.sends(client) == 503
        assert device.answers[-1][1]["error"]["code"] == "database"
        assert client.get(f"/api/visits/{device.visit}/history").status_code == 200
    assert device.sends(client) == 200
    check_kept(device, database)


def test_who_is_signed_in_can_read_on(world):
    """That a session was used cannot be written down: whoever reads is not kept from it."""
    owner = world.caller(world.one, "owner")
    assert world.ask("GET", "/api/visits", owner).status_code == 200
    with world.database.use(world.one.id) as connection:
        early = later(datetime.now(UTC), -2 * sessions.TOUCH)
        connection.execute(sa.update(SESSIONS).values(seen=early))
    with only_reading(world.database):
        assert world.ask("GET", "/api/visits", owner).status_code == 200
        assert world.ask("POST", "/api/sign-out", owner).status_code == 503
    assert world.ask("GET", "/api/visits", owner).status_code == 200
    with world.database.look(world.one.id) as connection:
        assert connection.execute(sa.select(SESSIONS.c.seen)).scalar_one() > early


FAILURES = {
    errno.ENOSPC: (507, "disk-full"),
    errno.EDQUOT: (507, "disk-full"),
    errno.EROFS: (503, "files"),
    errno.EIO: (503, "files"),
    errno.ECONNRESET: (503, "files"),
}


@pytest.mark.parametrize("number", FAILURES, ids=errno.errorcode.get)
def test_a_photograph_that_cannot_be_kept_is_not_acknowledged(own, monkeypatch, caplog, number):
    """Whatever the folder or the object store says, the answer tells when to send again."""
    client, _ = own
    data = picture(random.Random(number))
    path = f"/api/photos/{hashlib.sha256(data).hexdigest()}"
    failing = OSError(number, "the secret 4711")
    with monkeypatch.context() as broken, caplog.at_level("ERROR", "levelbook.files"):
        broken.setattr(Folder, "put", lambda *_: _raise(failing))
        answer = client.put(path, content=data)
    told = answer.json()["error"]
    assert (answer.status_code, told["code"]) == FAILURES[number]
    assert int(answer.headers["retry-after"]) > 0
    assert "4711" not in answer.text
    lines = [line for record in caplog.records for line in record.told.get("error", ())]
    assert bool(lines) == (told["code"] == "files")
    assert client.get(path).status_code == 404
    assert client.put(path, content=data).status_code == 200
    assert client.get(path).content == data


def test_another_fault_of_the_system_is_the_programs(own, monkeypatch):
    """A file of the program that is missing is no full disk."""
    client, _ = own
    data = picture(random.Random(4))
    monkeypatch.setattr(Folder, "put", lambda *_: _raise(FileNotFoundError(2, "none")))
    answer = client.put(f"/api/photos/{hashlib.sha256(data).hexdigest()}", content=data)
    assert (answer.status_code, answer.json()["error"]["code"]) == (500, "program")


def _raise(error: Exception) -> None:
    raise error


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """Let this process write no file longer than a size."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_half_a_key_does_not_stand_in_the_way(sqlite_url, tmp_path):
    """A disk that is full on the first release leaves no half key; the next release makes it."""
    database, folder = Database(sqlite_url), tmp_path / "keys"
    with database.use("ash"):
        pass  # what the database itself needs is there
    with files_of_at_most(10), pytest.raises(OSError, match="File too large"):
        signing_key(database, folder, "ash")
    assert list(folder.glob("*")) == []
    made = signing_key(database, folder, "ash")
    assert signing_key(database, folder, "ash").public_key() == made.public_key()
    assert sorted(file.name for file in folder.iterdir()) == ["ash.key", "ash.pub"]
    database.close()


def test_a_key_that_cannot_be_used_is_told_without_a_path(sqlite_url, tmp_path):
    """Whoever releases learns what is wrong, and not where files of the server lie."""
    database, folder = Database(sqlite_url), tmp_path / "keys"
    signing_key(database, folder, "ash")
    (folder / "ash.key").chmod(0o644)
    with pytest.raises(UsageError) as refused:
        signing_key(database, folder, "ash")
    assert "others can use" in refused.value.problem
    assert str(tmp_path) not in f"{refused.value} {refused.value.remedy}"
    database.close()
