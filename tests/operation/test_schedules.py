"""Whatever breaks, nothing acknowledged is lost, nothing released changes, errors are clean.

Two hundred schedules with fixed seeds, half of them in the usual run. In each, two devices
send readings and a photograph to a server that dies, runs out of room, has its clock wrong or
jumping, or loses its database, and to which connections are cut; then all is counted. Law and
faults are the same on both databases but for those that only one of them has. Some play at
once; on PostgreSQL what one schedule does to the database strikes the others, too.
"""

import os
import random
import shutil
import signal
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from devices import Device
from lives import Fault, Life, Nest
from released import (
    Released,
    check_one,
    files,
    listed,
    release_twice,
    released,
    take_in,
    wait_until_well,
    write_on,
)
from shaken import SEGMENT_MB, Shaken

import temporary_postgres
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate
from levelbook.archive.store import Store
from levelbook.archive.tables import LOCAL, VISITS

SCHEDULES = {"sqlite": 97, "postgresql": 97, "releases": 6}
BATCH, AT_ONCE = 16, 4
"""Schedules in one test, and at once."""
SHARE = int(os.environ.get("LEVELBOOK_FAULTS", "2"))
"""Of how many schedules one is played; ``LEVELBOOK_FAULTS=1`` plays all two hundred."""
TWICE = range(SCHEDULES["releases"]) if SHARE == 1 else (0, 3, 4)
"""Schedules of releases that are played: the odd ones on PostgreSQL, all but two broken."""
CLEAN = (503, 507)
PATIENCE = 120.0


def test_there_are_two_hundred() -> None:
    """The number of schedules is what is said of them."""
    assert sum(SCHEDULES.values()) == 200


@pytest.fixture(scope="module")
def nest() -> Iterator[Nest]:
    """Give the warm process that servers come from."""
    with Nest() as warm:
        yield warm


@pytest.fixture(scope="module")
def server() -> Iterator[Shaken]:
    """Give a PostgreSQL server of one's own, which keeps what it has committed.

    It is killed, while the machine goes on: what it handed to the system is there without
    waiting for the disk.
    """
    with temporary_postgres.own(SEGMENT_MB, fsync="off") as running:
        yield Shaken(running)


@pytest.fixture(scope="module")
def file_place(nest: Nest, tmp_path_factory: pytest.TempPathFactory) -> "Place":
    """Give a folder with a database in a file and one released visit, to be copied."""
    folder = tmp_path_factory.mktemp("before")
    return _with_release(nest, file_url(folder / "levelbook.sqlite"), folder / "photos")


@pytest.fixture(scope="module")
def server_place(nest: Nest, server: Shaken, tmp_path_factory: pytest.TempPathFactory) -> "Place":
    """Give a PostgreSQL database with one released visit, and a folder of photographs."""
    place = _with_release(nest, server.url, tmp_path_factory.mktemp("before") / "photos")
    server.fill()
    place.server = server
    return place


def _with_release(nest: Nest, url: str, folder: Path) -> "Place":
    database = Database(url)
    migrate(database)
    database.close()
    life = nest.begin(url, folder)
    place = Place(url, folder, released(life, url))
    life.end(signal.SIGTERM)
    return place


@pytest.fixture(autouse=True)
def _none_left(request: pytest.FixtureRequest) -> Iterator[None]:
    """End the servers that a failed test left alive."""
    yield
    if "nest" in request.fixturenames:
        for life in list(request.getfixturevalue("nest").lives):
            life.end()


@dataclass
class Place:
    """Where a schedule plays: a database, a folder, what was released there, who is about."""

    url: str
    folder: Path
    released: Released
    chance: random.Random = field(default_factory=random.Random)
    server: Shaken | None = None

    def fault(self) -> Fault:
        """Choose what is wrong in a life."""
        if self.chance.random() < 0.2:
            days = self.chance.choice((-400.0, -3.0, -0.5, 0.5, 3.0, 4000.0))
            return Fault(days=days, jump=self.chance.choice((0, 0, 4, 9)))
        kind = self.chance.random()
        if self.server is None and kind < 0.25:
            file = Path(self.url.removeprefix("sqlite:///"))
            return Fault(pages=file.stat().st_size // 4096 + self.chance.randint(0, 6))
        if self.server is None and kind < 0.5:
            return Fault(bytes=_largest(self) + self.chance.randint(0, 60_000))
        return Fault()

    def ways(self) -> dict[str, Callable[[], None]]:
        """Return what can become of the database of a life, by name."""
        if self.server is None:
            return {}
        server, chance = self.server, self.chance
        return {
            "restart": lambda: server.restart(signal.SIGINT),
            "crash": lambda: server.restart(signal.SIGKILL),
        } | (
            {
                "table full": lambda: server.narrow_tables(chance.randint(0, 1)),
                "log full": lambda: server.narrow_log(chance.random()),
            }
            if server.can_narrow
            else {}
        )


def play(nest: Nest, place: Place) -> list[Device]:
    """Let a server live once or twice, with devices at it; then send what still waits."""
    chance = place.chance
    visits = [str(uuid.UUID(int=chance.getrandbits(128))) for _ in range(2)]
    visits[1] = chance.choice((visits[0], visits[1], visits[1], place.released.visit))
    devices = [Device(f"device{chance.getrandbits(32):08x}", v, chance) for v in visits]
    for _ in range(chance.choice((1, 1, 2))):
        fault = place.fault()
        life = nest.begin(place.url, place.folder, fault)
        ways = {} if fault != Fault() else place.ways()
        how = chance.choice(["kill", "end", *ways])
        _together(life, devices, place, how)
        check_answers(devices, fault)
    life = nest.begin(place.url, place.folder)
    for device in devices:
        device.catch_up(life.port, time.monotonic() + PATIENCE)
    life.end()
    check_answers(devices, Fault())
    return devices


def _together(life: Life, devices: list[Device], place: Place, how: str) -> None:
    """Let both devices work while the server, or its database, comes to an end."""
    times, after = place.chance.randint(2, 4), place.chance.random() * 0.08
    threads = [threading.Thread(target=d.work, args=(life.port, times)) for d in devices]
    for thread in threads:
        thread.start()
    ways = place.ways()
    if how == "kill":
        time.sleep(after)
        life.end()
    elif how in ways:
        time.sleep(after)
        ways[how]()
    for thread in threads:
        thread.join()
    if how != "kill":
        life.end(signal.SIGTERM)
    if how.endswith("full") and place.server is not None:
        place.server.widen()


def check_answers(devices: list[Device], fault: Fault) -> None:
    """Hold each answer that is an error to being clean: a status that says so, and a remedy."""
    allowed = {200, *CLEAN} | ({422} if fault.days < -0.9 else set())
    for device in devices:
        for status, told in device.answers:
            nothing_yet = status == 404 and told["error"]["problem"] == "there is no such visit"
            assert status in allowed or nothing_yet, (status, told, fault)
            assert status == 200 or told["error"]["remedy"], told
            assert status not in CLEAN or int(told["retry"]) > 0, told
        device.answers.clear()


def check_kept(place: Place, devices: list[Device]) -> None:
    """Hold the store to the law: what was acknowledged is there, once, as it was written.

    What was released before is as it was.
    """
    database = Database(place.url)
    store, blobs = Store(database), Blobs(database, Folder(place.folder))
    for visit in {device.visit for device in devices}:
        here = [device for device in devices if device.visit == visit]
        sent = {name: one for device in here for name, one in device.sent.items()}
        every = store.entries(visit)
        held = {one.id: one for one in every}
        assert len(held) == len(every)
        assert all(device.told <= set(held) for device in here)
        assert all(held[i].fields == one["fields"] for i, one in sent.items() if i in held)
        if visit != place.released.visit:
            assert set(held) <= set(sent)
            with database.look(LOCAL) as connection:
                query = VISITS.select().where(VISITS.c.id == visit)
                assert connection.execute(query).one().readings == len(held)
    for device in devices:
        assert all(blobs.get(sha256) == device.photos[sha256] for sha256 in device.kept)
    place.released.check(database, blobs)
    database.close()


def batches(kind: str) -> list[range]:
    """Return the numbers of a kind's schedules, some at a time."""
    every = range(0, SCHEDULES[kind], SHARE)
    return [every[k : k + BATCH] for k in range(0, len(every), BATCH)]


def play_all(nest: Nest, places: list[Place]) -> None:
    """Play schedules, some at once; then hold each to the law."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        played = list(pool.map(lambda place: play(nest, place), places))
    for place, devices in zip(places, played, strict=True):
        check_kept(place, devices)


@pytest.mark.parametrize("seeds", batches("sqlite"), ids=str)
def test_nothing_acknowledged_is_lost_in_a_file(nest, file_place, tmp_path, seeds):
    """Kills, cuts, full disks and wrong clocks, with SQLite."""
    places = []
    for seed in seeds:
        folder = tmp_path / str(seed)
        shutil.copytree(file_place.folder.parent, folder)
        url = file_url(folder / "levelbook.sqlite")
        places.append(Place(url, folder / "photos", file_place.released, random.Random(seed)))
    play_all(nest, places)


@pytest.mark.parametrize("seeds", batches("postgresql"), ids=str)
def test_nothing_acknowledged_is_lost_on_a_server(nest, server_place, seeds):
    """Kills, cuts, wrong clocks and a database that restarts, crashes or is full."""
    at, server = server_place, server_place.server
    places = [
        Place(at.url, at.folder, at.released, random.Random(1000 + seed), server) for seed in seeds
    ]
    play_all(nest, places)


@pytest.mark.parametrize("seed", TWICE)
def test_of_two_releases_at_once_one_is_made_and_stays(
    nest, file_place, server_place, tmp_path, seed
):
    """Of two who release a visit at once one does, and its files stay, whatever breaks."""
    chance, place = random.Random(2000 + seed), server_place if seed % 2 else file_place
    url, folder, server = place.url, place.folder, place.server
    if server is None:
        shutil.copytree(folder.parent, tmp_path / "copy")
        url, folder = file_url(tmp_path / "copy" / "levelbook.sqlite"), tmp_path / "copy" / "photos"
    here = Place(url, folder, place.released, chance, server)
    life = nest.begin(url, folder)
    visit = take_in(life)
    how = "end" if seed < 2 else chance.choice(["kill", *(here.ways() or ["full"])])
    if how == "full":
        life.end(signal.SIGTERM)
        life = nest.begin(url, folder, Fault(bytes=_largest(here) + chance.randint(0, 99_999)))
    threads, answers = release_twice(life, visit)
    _break(life, here, how)
    for thread in threads:
        thread.join()
    if how != "kill":
        life.end(signal.SIGTERM)
    if server is not None:
        server.widen()
    life = nest.begin(url, folder)
    wait_until_well(life, time.monotonic() + PATIENCE)
    check_one(life, visit, answers, broken=how != "end")
    first = listed(life, visit)[0]
    before = files(life, first)
    write_on(life, visit)
    life.end()
    life = nest.begin(url, folder)
    assert files(life, listed(life, visit)[0]) == before
    assert len(listed(life, visit)) == 2
    life.end(signal.SIGTERM)
    check_kept(here, [])


def _break(life: Life, place: Place, how: str) -> None:
    """Let something break while releases are made."""
    ways = place.ways()
    if how == "kill" or how in ways:
        time.sleep(place.chance.random() * 1.5)
    if how == "kill":
        life.end()
    elif how in ways:
        ways[how]()


def _largest(place: Place) -> int:
    return max(f.stat().st_size for f in place.folder.parent.glob("levelbook.sqlite*"))
