"""After a restore: what devices still hold of what was acknowledged comes back, once."""

import random
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from returning import FIRM, Device, LostError, Server, as_sent
from store_rows import VISIT, entry, row

from levelbook.app.routes import take_document
from levelbook.archive.backup import backup, restore
from levelbook.archive.blobs import Folder
from levelbook.archive.database import Database
from levelbook.archive.entries import read_entries
from levelbook.archive.life import life_of
from levelbook.archive.moving import move
from levelbook.archive.place import Place, ensure_firm
from levelbook.archive.store import Store
from levelbook.archive.tables import FIRMS, RELEASES, VISITS
from levelbook.demo import house
from levelbook.errors import DocumentError
from levelbook.firm.issues import next_number

SCHEDULES = {"sqlite": 14, "postgresql": 5}
NOW = 1_900_000_000_000


@pytest.fixture
def places(new_database, tmp_path: Path) -> Callable[[str], Place]:
    """Give what makes an empty archive of a kind."""
    made: list[int] = []

    def make(kind: str) -> Place:
        made.append(1)
        return Place("new", new_database(kind), Folder(tmp_path / f"files-{len(made)}"), own=False)

    return make


def played(places, kind: str, seed: int, folder: Path, *, careful: bool) -> tuple[Server, list]:
    """Let devices work, a server be backed up and set back, and all come back in some order."""
    chance = random.Random(seed)
    server = Server(places(kind), chance, loss=0.15)
    ensure_firm(server.place.database, FIRM)
    devices = [Device(f"device{n:02d}", chance, careful=careful) for n in range(3)]
    visits = [f"visit-{seed:04d}-{n}" for n in range(2)]
    backups = [folder / f"{seed}-first"]
    backup(server.place, backups[0], "2026-01-01")
    for step in range(chance.randint(25, 45)):
        device = chance.choice(devices)
        what = chance.random()
        if what < 0.45:
            if chance.random() < 0.1:
                visits.append(f"visit-{seed:04d}-{len(visits)}")
            device.write(chance.choice(visits))
        elif what < 0.88:
            visit = chance.choice(visits)
            try:
                device.exchange(server, visit)
                device.send_photos(server)
            except LostError:
                pass
        elif what < 0.94 and len(backups) < 3:
            backups.append(folder / f"{seed}-{step}")
            backup(server.place, backups[-1], "2026-01-01")
        elif what > 0.96:
            set_back(server, places(kind), chance.choice(backups))
    set_back(server, places(kind), chance.choice(backups))
    server.loss = 0.0
    for _ in range(2):
        for device in chance.sample(devices, len(devices)):
            device.come_back(server)
    for device in devices:  # what others brought in the meantime
        for visit in list(device.entries):
            device.exchange(server, visit)
    return server, devices


def set_back(server: Server, new: Place, file: Path) -> None:
    """Lose the server, and go on with what a backup holds."""
    restore(file, new)
    server.place = new


def lost(server: Server, devices: list[Device]) -> set[str]:
    """Return what some device holds and the server does not: entries and photographs."""
    store, found = Store(server.place.database, FIRM), set()
    for device in devices:
        for visit, held in device.entries.items():
            there = {each.id: as_sent(each) for each in store.entries(visit)}
            assert len(there) == len(store.entries(visit))
            found |= set(held) - set(there)
            assert all(there[n] == as_sent(held[n][0]) for n in set(held) & set(there))
        blobs = server.place.blobs(FIRM)
        found |= {name for name, (data, _) in device.photos.items() if blobs.get(name) != data}
    return found


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_devices_hold_comes_back(places, tmp_path: Path, kind: str) -> None:
    """Whatever was sent, backed up, set back and in which order devices return: nothing is lost.

    In the end every device has what the server has, each entry once.
    """
    brought = 0
    for seed in range(SCHEDULES[kind]):
        server, devices = played(places, kind, seed, tmp_path, careful=True)
        assert lost(server, devices) == set(), seed
        store = Store(server.place.database, FIRM)
        for device in devices:
            assert all(sent for held in device.entries.values() for _, sent in held.values())
            for visit, held in device.entries.items():
                assert set(held) == {each.id for each in store.entries(visit)}
        brought += sum(device.brought for device in devices)
    assert brought > 3 * SCHEDULES[kind]


def test_without_heed_entries_are_lost(places, tmp_path: Path) -> None:
    """The test above can fail: devices that do not heed a server's other life lose entries."""
    missing = 0
    for seed in range(4):
        missing += len(lost(*played(places, "sqlite", seed, tmp_path, careful=False)))
    assert missing > 10


def test_each_restoring_begins_another_life(places, tmp_path: Path) -> None:
    """The archive's word stays, its life's does not; a backup of the same state leaves both."""
    first = places("sqlite")
    ensure_firm(first.database, FIRM)
    archive, life = life_of(first.database, FIRM).split(".")
    assert life_of(first.database, FIRM) == f"{archive}.{life}"
    backup(first, tmp_path / "b", "t")
    told = {f"{archive}.{life}"}
    for kind in ("sqlite", "postgresql", "sqlite"):
        new = places(kind)
        restore(tmp_path / "b", new)
        told.add(life_of(new.database, FIRM))
        assert Store(new.database, FIRM).sync(VISIT, 0, (), "t").life == life_of(new.database, FIRM)
    assert len(told) == 4
    assert {each.split(".")[0] for each in told} == {archive}


def test_a_database_of_before_gets_its_words_at_the_first_sending(database: Database) -> None:
    """Settings that are there stay; what cannot be read counts as none; no firm, no words."""
    ensure_firm(database, FIRM)
    for before in ("{}", '{"colour": "blue"}', "not json", "[]"):
        with database.use(FIRM) as connection:
            connection.execute(sa.update(FIRMS).values(settings=before))
        told = Store(database, FIRM).sync(VISIT, 0, (), "t").life
        assert len(told.split(".")) == 2
        assert told == life_of(database, FIRM)
    with database.use(FIRM) as connection:
        connection.execute(sa.update(FIRMS).values(settings='{"colour": "blue"}'))
    life_of(database, FIRM)
    with database.use(FIRM) as connection:
        assert '"colour": "blue"' in connection.execute(sa.select(FIRMS.c.settings)).scalar_one()
    assert life_of(database, "birch") == Store(database, "birch").sync(VISIT, 0, (), "t").life == ""


def test_a_number_of_another_store_is_noticed(database: Database) -> None:
    """A store copied back by any means is told by the mark of the device's last number."""
    store = Store(database)
    first = store.sync(VISIT, 0, (entry(1), entry(2)), "t1")
    assert (first.again, first.mark) == (False, "t1")
    same = store.sync(VISIT, first.seq, (), "t2", "t1")
    assert (same.again, same.seq, same.mark, same.entries) == (False, first.seq, "t1", ())
    for since, mark in ((first.seq, "t0"), (first.seq + 9, "t1"), (first.seq + 9, "")):
        told = store.sync(VISIT, since, (entry(3),), "t3", mark)
        assert told.again
        assert [each.id for each in told.entries] == [entry(1).id, entry(2).id]
        assert told.seq == store.last(VISIT)
        assert told.mark == "t3"
    old = store.sync(VISIT, first.seq, (), "t4")  # a device that was told no mark
    assert (old.again, [each.id for each in old.entries]) == (False, [entry(3).id])
    none = store.sync("visit-02", first.seq, (), "t5", "t1")
    assert (none.again, none.seq, none.mark, none.entries) == (True, 0, "", ())


def test_numbers_come_back_as_a_browser_has_them(database: Database) -> None:
    """An entry made here of a document, sent back by a browser, is the same and not altered."""
    store = Store(database)
    visit = take_document(store, house())
    made = store.entries(visit)
    sent = [as_sent(each) for each in made]
    again = store.sync(visit, 0, read_entries(sent, visit, NOW), "t")
    assert len(again.accepted) == len(made)
    assert store.entries(visit) == made
    written = {"one": 1.0, "none": -0.0, "large": 1e16, "deep": [{"a": 2.0}], "yes": True}
    read = {"one": 1, "none": 0, "large": 10**16, "deep": [{"a": 2}], "yes": True}
    store.sync(VISIT, 0, (entry(7, fields=written),), "t")
    store.sync(VISIT, 0, (entry(7, fields=read),), "t")
    assert store.entries(VISIT) == (entry(7, fields=written),)
    for other in ({"one": True}, {"one": "1"}, {"one": 2}, {"deep": [{}]}, {"yes": 1}):
        with pytest.raises(DocumentError, match="never altered"):
            store.sync(VISIT, 0, (entry(7, fields=read | other),), "t")


def test_what_comes_back_into_a_released_visit_shows(places, tmp_path: Path) -> None:
    """A visit that was released in the backup counts as changed when more comes back into it."""
    first = places("sqlite")
    ensure_firm(first.database, FIRM)
    server = Server(first, random.Random(1))
    device = Device("device01", random.Random(1))
    device.write(VISIT)
    device.exchange(server, VISIT)
    with first.database.use(FIRM) as connection:
        connection.execute(sa.update(VISITS).values(state="released"))
    backup(first, tmp_path / "b", "t")
    device.write(VISIT)
    device.exchange(server, VISIT)
    set_back(server, places("postgresql"), tmp_path / "b")
    assert state(server.place) == "released"
    device.come_back(server)
    assert (state(server.place), device.brought) == ("changed", 1)
    assert len(Store(server.place.database, FIRM).entries(VISIT)) == 2


def test_numbers_that_were_perhaps_handed_out_are_not_given_again(places, tmp_path: Path) -> None:
    """After restoring, releases are numbered further on, once and in that year alone."""
    first = places("sqlite")
    ensure_firm(first.database, FIRM)
    year = datetime.now(UTC).year
    before = "2020-01-01T00:00:00.000000Z"
    for number, issue in ((f"{year}-0013", 1), (f"{year}-0014", 1), (f"{year}-0014", 2)):
        released(first, number, issue, before)
    assert numbers(first, year) == (f"{year}-0015", f"{year + 1}-0001")
    backup(first, tmp_path / "b", "t")
    new = places("postgresql")
    restore(tmp_path / "b", new)
    assert numbers(new, year) == (f"{year}-1015", f"{year + 1}-0001")
    released(new, f"{year}-0014", 3, "9999-01-01T00:00:00.000000Z")  # of a visit that has a number
    assert numbers(new, year)[0] == f"{year}-1015"
    released(new, f"{year}-1015", 1, "9999-01-01T00:00:00.000000Z")
    assert numbers(new, year)[0] == f"{year}-1016"


def released(place: Place, number: str, issue: int, at: str) -> None:
    """Write a release down, of a visit that is called as its number."""
    told = {"number": number, "issue": issue, "at": at, "visit": number, "files": "{}"}
    with place.database.use(FIRM) as connection:
        made = row(RELEASES, FIRM) | told | {"id": f"{number}-{issue}"}
        connection.execute(sa.insert(RELEASES).values(**made))


def numbers(place: Place, year: int) -> tuple[str, str]:
    """Return the next number of a year and of the one after."""
    with place.database.use(FIRM) as connection:
        return next_number(connection, FIRM, year), next_number(connection, FIRM, year + 1)


def test_a_move_begins_another_life(places) -> None:
    """An archive that is moved to another server numbers anew, and says so by another life."""
    first, new = places("sqlite"), places("postgresql")
    ensure_firm(first.database, FIRM)
    server = Server(first, random.Random(1))
    devices = [Device(f"device{n:02d}", random.Random(n)) for n in range(2)]
    for n, device in enumerate((*devices, *devices)):
        device.write(f"visit-{'ba'[n % 2]}000")
        device.exchange(server, f"visit-{'ba'[n % 2]}000")
    before = server.life()
    move(first, new, None, "t")
    server.place = new
    archive, life = before.split(".")
    assert server.life().split(".")[0] == archive
    assert server.life().split(".")[1] != life
    devices[0].write("visit-b000")
    for device in devices:
        device.come_back(server)
        device.exchange(server, "visit-b000")
        assert len(device.entries["visit-b000"]) == 3
    assert lost(server, devices) == set()


def state(place: Place) -> str:
    """Return the state of the only visit in the list."""
    with place.database.use(FIRM) as connection:
        return str(connection.execute(sa.select(VISITS.c.state)).scalar_one())
