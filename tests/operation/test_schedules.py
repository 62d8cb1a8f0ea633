"""Whatever breaks, nothing acknowledged is lost, nothing released changes, errors are clean.

Two hundred schedules with fixed seeds, a quarter of them in the usual run. In each, two
devices send readings and a photograph to
a server that dies, runs out of room, has its clock wrong or loses its database, and to which
connections are cut; then all is counted. Law and faults are the same on both databases but
for those that only one of them has.
"""

import hashlib
import http.client
import io
import json
import os
import random
import signal
import threading
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from lives import Fault, Life, Nest
from PIL import Image

import temporary_postgres
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate
from levelbook.archive.store import Store
from levelbook.archive.tables import LOCAL, VISITS

SCHEDULES = {"sqlite": 150, "postgresql": 44, "releases": 6}
BATCH = 10
"""Schedules in one test."""
SHARE = int(os.environ.get("LEVELBOOK_FAULTS", "4"))
"""Of how many schedules one is played; ``LEVELBOOK_FAULTS=1`` plays all two hundred."""
CLEAN = (503, 507)
BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"


def test_there_are_two_hundred() -> None:
    """The number of schedules is what is said of them."""
    assert sum(SCHEDULES.values()) == 200


@pytest.fixture(scope="module")
def nest() -> Iterator[Nest]:
    """Give the warm process that servers come from."""
    with Nest() as warm:
        yield warm


@pytest.fixture(scope="module")
def server() -> Iterator[temporary_postgres.Server]:
    """Give a PostgreSQL server of one's own, which keeps what it has committed."""
    with temporary_postgres.own() as running:
        yield running


@pytest.fixture(autouse=True)
def _none_left(request: pytest.FixtureRequest) -> Iterator[None]:
    """End a server that a failed test left alive."""
    yield
    warm = request.getfixturevalue("nest") if "nest" in request.fixturenames else None
    if warm is not None and warm.last is not None:
        warm.last.end()


@dataclass
class Device:
    """A device: entries that wait, and those that the server said it has."""

    visit: str
    chance: random.Random
    sent: dict[str, dict[str, Any]] = field(default_factory=dict)
    waiting: list[str] = field(default_factory=list)
    told: set[str] = field(default_factory=set)
    photos: dict[str, bytes] = field(default_factory=dict)
    kept: set[str] = field(default_factory=set)
    answers: list[tuple[int, dict[str, Any]]] = field(default_factory=list)

    def write(self) -> None:
        """Write some readings down."""
        for _ in range(self.chance.randint(1, 4)):
            entry = _entry(self.visit, f"r{len(self.sent)}", self.chance)
            self.sent[entry["id"]] = entry
            self.waiting.append(entry["id"])

    def work(self, port: int, times: int) -> None:
        """Write and send, some of it in half; stop when the server is gone."""
        for _ in range(times):
            self.write()
            try:
                if self.chance.random() < 0.2:
                    self.cut(port)
                self.send(port)
                if self.chance.random() < 0.2:
                    self.photograph(port)
            except (OSError, http.client.HTTPException):
                return

    def send(self, port: int) -> None:
        """Send what waits, and note what was acknowledged."""
        entries = [self.sent[name] for name in self.waiting]
        body = json.dumps({"since": 0, "entries": entries}).encode()
        status, told = ask(port, "POST", f"/api/visits/{self.visit}/sync", body)
        self.answers.append((status, told))
        if status == 200:
            self.told |= set(told["accepted"])
            self.waiting = [name for name in self.waiting if name not in self.told]

    def cut(self, port: int) -> None:
        """Begin to send, and hang up in the middle of it."""
        entries = [self.sent[name] for name in self.waiting]
        body = json.dumps({"since": 0, "entries": entries}).encode()
        path = f"/api/visits/{self.visit}/sync"
        if self.photos and self.chance.random() < 0.5:
            sha256, body = next(iter(self.photos.items()))
            path = f"/api/photos/{sha256}"
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        connection.putrequest("PUT" if "photos" in path else "POST", path)
        connection.putheader("content-type", "application/json")
        connection.putheader("content-length", str(len(body)))
        connection.endheaders(body[: self.chance.randrange(len(body))])
        connection.close()

    def lacking(self) -> list[str]:
        """Return the photographs that were not taken in yet."""
        return [sha256 for sha256 in self.photos if sha256 not in self.kept]

    def photograph(self, port: int) -> None:
        """Take a photograph, or send one again that was not taken in."""
        lacking = self.lacking()
        data = self.photos[lacking[0]] if lacking else _picture(self.chance)
        sha256 = hashlib.sha256(data).hexdigest()
        self.photos[sha256] = data
        status, told = ask(port, "PUT", f"/api/photos/{sha256}", data)
        self.answers.append((status, told))
        if status == 200:
            self.kept.add(sha256)


def ask(port: int, method: str, path: str, body: bytes = b"") -> tuple[int, dict[str, Any]]:
    """Send one request; return status and answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.request(method, path, body, {"content-type": "application/json"})
        answer = connection.getresponse()
        data = answer.read()
        kind = answer.getheader("content-type", "")
        return answer.status, json.loads(data) if kind == "application/json" else {"raw": data}
    finally:
        connection.close()


def _entry(visit: str, of: str, chance: random.Random) -> dict[str, Any]:
    fields = {"station": "s", "setup": "s1", "value": f"{chance.uniform(-1, 1):.1f}"}
    return {
        "id": str(uuid.UUID(int=chance.getrandbits(128))),
        "visit": visit,
        "clock": f"{time.time_ns() // 1_000_000:016d}-0000-device01",
        "device": "device01",
        "author": "A",
        "made": "",
        "do": "set",
        "kind": "reading",
        "of": of,
        "fields": fields,
    }


def _picture(chance: random.Random) -> bytes:
    data = io.BytesIO()
    noise = Image.frombytes("RGB", (40, 40), chance.randbytes(4800))
    noise.save(data, "PNG")
    return data.getvalue()


@dataclass
class Place:
    """Where a schedule plays: a database, a folder, and who is about."""

    url: str
    folder: Path
    chance: random.Random
    server: temporary_postgres.Server | None = None

    def fault(self) -> Fault:
        """Choose what is wrong in a life."""
        if self.chance.random() < 0.15:
            return Fault(days=self.chance.choice((-400.0, -3.0, -0.5, 0.5, 3.0, 4000.0)))
        kind = self.chance.random()
        if self.server is None and kind < 0.25:
            file = Path(self.url.removeprefix("sqlite:///"))
            return Fault(pages=file.stat().st_size // 4096 + self.chance.randint(0, 6))
        if self.server is None and kind < 0.5:
            files = [f.stat().st_size for f in (self.folder.parent).glob("levelbook.sqlite*")]
            return Fault(bytes=max(files) + self.chance.randint(0, 60_000))
        return Fault()


def play(nest: Nest, place: Place) -> list[Device]:
    """Let a server live once or twice, with devices at it; then send what still waits."""
    chance = place.chance
    devices = [Device(str(uuid.UUID(int=chance.getrandbits(128))), chance) for _ in range(2)]
    for _ in range(chance.choice((1, 1, 2))):
        fault = place.fault()
        life = nest.begin(place.url, place.folder, fault)
        how = [] if fault.pages or fault.bytes or fault.days else _ways(place)
        _together(life, devices, place, chance.choice(["kill", "end", *how]))
        check_answers(devices, fault)
    if any(device.waiting or device.lacking() for device in devices):
        life = nest.begin(place.url, place.folder)
        for device in devices:
            device.send(life.port)
            for _ in device.lacking():
                device.photograph(life.port)
            assert not device.waiting, device.answers[-1]
        life.end()
        check_answers(devices, Fault())
    return devices


def _ways(place: Place) -> list[str]:
    return [] if place.server is None else ["restart", "crash"]


def _together(life: Life, devices: list[Device], place: Place, how: str) -> None:
    """Let both devices work while the server, or its database, comes to an end."""
    chance = place.chance
    times = chance.randint(2, 4)
    threads = [threading.Thread(target=d.work, args=(life.port, times)) for d in devices]
    for thread in threads:
        thread.start()
    if how == "kill":
        time.sleep(chance.random() * 0.08)
        life.end()
    elif how != "end":
        assert place.server is not None
        time.sleep(chance.random() * 0.08)
        place.server.stop(signal.SIGKILL if how == "crash" else signal.SIGINT)
        place.server.start()
    for thread in threads:
        thread.join()
    if how != "kill":
        life.end(signal.SIGTERM)


def check_answers(devices: list[Device], fault: Fault) -> None:
    """Hold each answer that is an error to being clean: a status that says so, and a remedy."""
    for device in devices:
        for status, told in device.answers:
            allowed = (200, *CLEAN, 422) if fault.days < -0.9 else (200, *CLEAN)
            assert status in allowed, (status, told, fault)
            assert status == 200 or told["error"]["remedy"], told
        device.answers.clear()


def check_kept(place: Place, devices: list[Device]) -> None:
    """Hold the store to the law: what was acknowledged is there, once, as it was written."""
    database = Database(place.url)
    store = Store(database)
    for device in devices:
        held = {entry.id: entry for entry in store.entries(device.visit)}
        assert device.told <= set(held)
        assert len(held) == len(store.entries(device.visit))
        assert set(held) <= set(device.sent)
        assert all(e.fields == device.sent[e.id]["fields"] for e in held.values())
        blobs = Blobs(database, Folder(place.folder))
        assert all(blobs.get(sha256) == device.photos[sha256] for sha256 in device.kept)
        with database.look(LOCAL) as connection:
            query = VISITS.select().where(VISITS.c.id == device.visit)
            assert connection.execute(query).one().readings == len(held)
    database.close()


def batches(kind: str) -> list[range]:
    """Return the numbers of a kind's schedules, some at a time."""
    every = range(0, SCHEDULES[kind], SHARE)
    return [every[k : k + BATCH] for k in range(0, len(every), BATCH)]


@pytest.mark.parametrize("seeds", batches("sqlite"), ids=str)
def test_nothing_acknowledged_is_lost_in_a_file(nest, tmp_path, sqlite_template, seeds):
    """Kills, cuts, full disks and wrong clocks, with SQLite."""
    for seed in seeds:
        folder = tmp_path / str(seed)
        folder.mkdir()
        file = folder / "levelbook.sqlite"
        file.write_bytes(sqlite_template.read_bytes())
        place = Place(file_url(file), folder / "photos", random.Random(seed))
        check_kept(place, play(nest, place))


@pytest.mark.parametrize("seeds", batches("postgresql"), ids=str)
def test_nothing_acknowledged_is_lost_on_a_server(nest, server, tmp_path, seeds):
    """Kills, cuts, wrong clocks and a database that is restarted or crashes, with PostgreSQL."""
    database = Database(server.url())
    migrate(database)
    database.close()
    for seed in seeds:
        chance = random.Random(1000 + seed)
        place = Place(server.url(), tmp_path / str(seed) / "photos", chance, server)
        check_kept(place, play(nest, place))


@pytest.mark.parametrize("seed", range(0, SCHEDULES["releases"], min(SHARE, 3)))
def test_of_two_releases_at_once_one_is_made_and_stays(nest, server, tmp_path, seed):
    """Of two who release a visit at once one does, and its files stay, kill or not."""
    chance = random.Random(2000 + seed)
    url = server.url() if seed % 2 else file_url(tmp_path / "levelbook.sqlite")
    database = Database(url)
    migrate(database)
    database.close()
    photos = tmp_path / "photos"
    life = nest.begin(url, photos)
    visit = ask(life.port, "POST", "/api/import", BOOK.read_bytes())[1]["visit"]
    first = _state(life, visit, "for review")
    assert first[0] == 201, first
    found: list[tuple[int, dict[str, Any]]] = []

    def release() -> None:
        try:
            told = ask(life.port, "POST", f"/api/visits/{visit}/release", b'{"reason": ""}')
            found.append(told)
        except (OSError, http.client.HTTPException):
            found.append((0, {}))

    killed = seed >= 3
    threads = [threading.Thread(target=release) for _ in range(2)]
    for thread in threads:
        thread.start()
    if killed:
        time.sleep(chance.random() * 1.5)
        life.end()
    for thread in threads:
        thread.join()
    if killed:
        life = nest.begin(url, photos)
    _check_one_release(life, visit, found, killed=killed)
    life.end(signal.SIGTERM)


def _check_one_release(
    life: Life, visit: str, found: list[tuple[int, dict[str, Any]]], *, killed: bool
) -> None:
    """Hold the visit to one release at most, whole, which further work leaves as it is."""
    statuses = sorted(status for status, _ in found)
    assert statuses in ([201, 409],) or (killed and set(statuses) <= {0, 201, 409})
    every = ask(life.port, "GET", f"/api/visits/{visit}/reviews")[1]["releases"]
    assert len(every) == 1 or (killed and 201 not in statuses and not every)
    before = [_files(life, release) for release in every]
    entry = _entry(visit, "r-late", random.Random(visit)) | {"fields": {"struck": True}, "of": "r8"}
    body = json.dumps({"since": 0, "entries": [entry]}).encode()
    assert ask(life.port, "POST", f"/api/visits/{visit}/sync", body)[0] == 200
    assert [_files(life, release) for release in every] == before


def _files(life: Life, release: dict[str, Any]) -> dict[str, str]:
    """Fetch the files of a release; each must be what its hash says."""
    hashes = {}
    for name, sha256 in release["files"].items():
        status, told = ask(life.port, "GET", f"/api/releases/{release['id']}/{name}")
        assert status == 200
        if "raw" in told:
            assert hashlib.sha256(told["raw"]).hexdigest() == sha256
        hashes[name] = sha256
    return hashes


def _state(life: Life, visit: str, to: str) -> tuple[int, dict[str, Any]]:
    body = json.dumps({"state": to, "reason": "ready"}).encode()
    return ask(life.port, "POST", f"/api/visits/{visit}/state", body)
