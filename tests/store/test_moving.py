"""Moving an archive between one's own machine and servers: nothing lost, nothing twice."""

import hashlib
from pathlib import Path

import pytest
import sqlalchemy as sa
from store_rows import VISIT, entry, listed, row

from levelbook.archive.blobs import Folder
from levelbook.archive.chain import TOLD
from levelbook.archive.database import Database
from levelbook.archive.moving import move
from levelbook.archive.place import Place, ensure_firm, open_place
from levelbook.archive.rows import KEPT, read_rows
from levelbook.archive.store import Store
from levelbook.archive.tables import (
    AUDIT,
    INSTRUMENTS,
    LINKS,
    LOCAL,
    METADATA,
    PEOPLE,
    RELEASES,
    REVIEWS,
    VISIT_WORDS,
    VISITS,
)
from levelbook.errors import ConflictError, DamagedError, UsageError
from levelbook.firm import audit
from levelbook.firm.roles import OWNER, Who

PICTURE = b"\x89PNG invented"
NAME = hashlib.sha256(PICTURE).hexdigest()
NOW = "2027-03-01T00:00:00Z"
NOT_MADE_UP = ("visit_words", "audit")
ACCOUNTS = ("people", "passkeys", "invitations")


@pytest.fixture
def mine(tmp_path: Path):
    """Give an archive of one's own machine with three visits, a photograph and a review."""
    place = open_place(str(tmp_path / "mine"), new=True)
    store = Store(place.database)
    for number in range(3):
        entries = [entry(n, device=f"device0{number}") for n in range(4)]
        about = {"label": f"{number} Juniper Bend", "foundation": "slab-on-ground"}
        entries.append(entry(9, device=f"device0{number}", kind="property", of="", fields=about))
        store.sync(f"visit-{number:02d}", 0, entries, f"2027-01-0{number + 1}")
    place.blobs(LOCAL).put(PICTURE, "image/png", "t")
    note(place, LOCAL, "visit for review", "visit-00")
    with place.database.use(LOCAL) as connection:
        for table in (REVIEWS, RELEASES, LINKS, INSTRUMENTS):
            made = row(table, LOCAL)
            made |= {"visit": "visit-00"} if "visit" in table.c else {}
            connection.execute(sa.insert(table).values(**made))
    yield place
    place.close()


@pytest.fixture
def server(database: Database, tmp_path: Path) -> Place:
    """Give a server's archive with a firm that has begun its own list of what happened."""
    return a_server(database, tmp_path / "server-files")


def a_server(database: Database, files: Path) -> Place:
    """Make a server's archive with one firm."""
    ensure_firm(database, "ash")
    place = Place("server", database, Folder(files), own=False)
    note(place, "ash", "firm-made", "ash")
    return place


def note(place: Place, firm: str, action: str, subject: str) -> None:
    """Write a line into a firm's audit list."""
    with place.database.use(firm) as connection:
        audit.note(connection, Who(firm, "person", OWNER, ""), action, subject)


def held(place: Place, firm: str) -> dict[str, list[dict[str, object]]]:
    """Return all rows of a firm, without what names their place: number, firm, chain."""
    told = {}
    with place.database.snapshot() as connection:
        place.database.name_firm(connection, firm)
        for table in (*KEPT, VISIT_WORDS):
            if table.name not in ("firms", "audit", *ACCOUNTS):
                rows = read_rows(connection, table, firm)
                told[table.name] = [
                    {k: v for k, v in r.items() if k not in ("seq", "firm")} for r in rows
                ]
    return told


def lines(place: Place, firm: str) -> list[tuple[object, ...]]:
    """Return a firm's audit list, after checking that its chain holds."""
    with place.database.use(firm) as connection:
        assert audit.check(connection, firm).broken is None
        return [tuple(r[name] for name in TOLD) for r in read_rows(connection, AUDIT, firm)]


def test_to_the_server_and_back(mine: Place, server: Place, tmp_path: Path) -> None:
    """What went to a firm's server and came back into a new folder is what it was."""
    there = move(mine, server, "ash", NOW)
    assert (there.visits, there.entries, there.files, there.lines) == (3, 15, 1, 1)
    assert held(server, "ash") == held(mine, LOCAL)
    assert server.blobs("ash").get(NAME) == PICTURE
    again = open_place(str(tmp_path / "again"), new=True)
    back = move(server, again, None, NOW)
    assert held(again, LOCAL) == held(mine, LOCAL)
    assert again.blobs(LOCAL).get(NAME) == PICTURE
    assert back.sha256 == there.sha256
    assert set(lines(mine, LOCAL)) <= set(lines(server, "ash")) == set(lines(again, LOCAL))
    assert [line[2] for line in lines(server, "ash")] == [
        "firm-made",
        "visit for review",
        "archive-moved",
    ]
    again.close()


def test_moving_again_adds_nothing(mine: Place, server: Place) -> None:
    """A move that is started again finds everything there, and says so."""
    first = move(mine, server, "ash", NOW)
    before = held(server, "ash"), lines(server, "ash")
    again = move(mine, server, "ash", NOW)
    assert again.added == 0
    assert again.sha256 == first.sha256
    assert (held(server, "ash"), lines(server, "ash")) == before


@pytest.mark.parametrize("step", [1, 2, 3, 5, 8])
def test_a_move_that_broke_off_goes_on(mine, server, monkeypatch, step: int) -> None:
    """Broken off at any step and started again, it ends as if it had not been."""
    calls = []
    written = Database.use

    def use(self, firm):
        if self is server.database:
            calls.append(firm)
            if len(calls) == step:
                raise ConnectionError("the network went away")
        return written(self, firm)

    monkeypatch.setattr(Database, "use", use)
    with pytest.raises(ConnectionError):
        move(mine, server, "ash", NOW)
    monkeypatch.undo()
    move(mine, server, "ash", NOW)
    assert held(server, "ash") == held(mine, LOCAL)
    assert server.blobs("ash").get(NAME) == PICTURE


def test_work_that_went_on_is_added(mine: Place, server: Place) -> None:
    """After work at home a second move brings what is new, and the list follows."""
    move(mine, server, "ash", NOW)
    Store(mine.database).sync("visit-01", 0, [entry(20, device="device01")], "2027-02-01")
    with mine.database.use(LOCAL) as connection:
        connection.execute(sa.insert(REVIEWS).values(**row(REVIEWS, LOCAL) | {"visit": "visit-01"}))
        here = VISITS.c.id == "visit-01"
        connection.execute(sa.update(VISITS).where(here).values(state="for review"))
    more = move(mine, server, "ash", NOW)
    assert (more.visits, more.entries, more.others) == (0, 1, 1)
    assert held(server, "ash") == held(mine, LOCAL)


def test_work_on_both_sides_is_kept(mine: Place, server: Place) -> None:
    """Entries that either side has alone are there in the end, and the list counts them."""
    move(mine, server, "ash", NOW)
    Store(server.database, "ash").sync("visit-01", 0, [entry(30, device="device30")], "2027-02-02")
    Store(mine.database).sync("visit-01", 0, [entry(20, device="device01")], "2027-02-01")
    move(mine, server, "ash", NOW)
    visit = {r.id: r for r in listed(server.database, "ash")}["visit-01"]
    assert (visit.readings, visit.updated) == (6, "2027-02-02")
    back = move(server, mine, "ash", NOW)
    assert back.entries == 1
    assert {e.id for e in Store(mine.database).entries("visit-01")} == {
        e.id for e in Store(server.database, "ash").entries("visit-01")
    }


def test_entries_that_differ_are_refused(mine: Place, server: Place) -> None:
    """The same entry with other content on the server is told, and stays as it is."""
    other = entry(1, device="device01", author="B")
    Store(server.database, "ash").sync("visit-01", 0, [other], "t")
    with pytest.raises(ConflictError, match=r"entry-device01-0001: .*differently on both sides"):
        move(mine, server, "ash", NOW)
    assert Store(server.database, "ash").entries("visit-01") == (other,)


@pytest.mark.parametrize("table", [REVIEWS, RELEASES])
def test_decisions_that_differ_are_refused(mine: Place, server: Place, table: sa.Table) -> None:
    """A visit reviewed or released otherwise on the server is told."""
    made = row(table, "ash", 5) | {"visit": "visit-00"}
    made |= {"id": f"{LOCAL}-1"} if "id" in table.c else {}
    with server.database.use("ash") as connection:
        connection.execute(sa.insert(table).values(**made))
    with pytest.raises(ConflictError, match="differently on both sides"):
        move(mine, server, "ash", NOW)


def test_what_another_firm_has_is_told(mine: Place, server: Place) -> None:
    """An id that another firm of the server has taken stops the move, and shows nothing of it."""
    ensure_firm(server.database, "birch")
    made = row(RELEASES, "birch", 7) | {"id": f"{LOCAL}-1"}
    with server.database.use("birch") as connection:
        connection.execute(sa.insert(RELEASES).values(**made))
    with pytest.raises(ConflictError, match="releases"):
        move(mine, server, "ash", NOW)


def test_which_firm(mine: Place, server: Place, tmp_path: Path) -> None:
    """Where it is not clear which firm is meant, or there is none, it is asked for."""
    with pytest.raises(UsageError, match=r"no firm 'elm'; give one of: ash"):
        move(mine, server, "elm", NOW)
    ensure_firm(server.database, "birch")
    with pytest.raises(UsageError, match=r"several firms; give one of: ash, birch"):
        move(mine, server, None, NOW)
    with pytest.raises(UsageError, match="several firms"):
        move(server, mine, None, NOW)
    bare = Place("bare", server.database, server.shelf, own=True)
    assert bare.own
    new = open_place(str(tmp_path / "new"), new=True)
    move(mine, new, None, NOW)
    assert held(new, LOCAL) == held(mine, LOCAL)
    new.close()


def test_a_server_without_a_firm(mine: Place, sqlite_url: str, tmp_path: Path) -> None:
    """A server needs a firm before anything is moved to it; how to make one is told."""
    empty = Place("empty", Database(sqlite_url), Folder(tmp_path / "files"), own=False)
    with pytest.raises(UsageError, match="levelbook firm new"):
        move(mine, empty, None, NOW)
    empty.close()


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_from_server_to_server(server: Place, new_database, tmp_path: Path, kind: str) -> None:
    """Between servers all firms go, with their people; nobody stays signed in."""
    ensure_firm(server.database, "birch")
    for firm in ("ash", "birch"):
        with server.database.use(firm) as connection:
            for table in METADATA.sorted_tables:
                if table.name not in ("firms", "attempts", "blobs", "visits", *NOT_MADE_UP):
                    connection.execute(sa.insert(table).values(**row(table, firm)))
        Store(server.database, firm).sync(VISIT, 0, [entry(1)], "t")
        server.blobs(firm).put(PICTURE, "image/png", "t")
        note(server, firm, "visit released", VISIT)
    other = Place("other", new_database(kind), Folder(tmp_path / "other"), own=False)
    moved = move(server, other, None, NOW)
    assert moved.firms == ["ash", "birch"]
    for firm in ("ash", "birch"):
        assert held(other, firm) == held(server, firm)
        assert lines(other, firm)[:-1] == lines(server, firm)
        for database in (server.database, other.database):
            with database.use(firm) as connection:
                people = list(read_rows(connection, PEOPLE, firm))
                assert [p["id"] for p in people] == [f"{firm}-1"]
                sessions = METADATA.tables["sessions"]
                kept = list(read_rows(connection, sessions, firm))
                assert len(kept) == (1 if database is server.database else 0)
    assert move(server, other, "ash", NOW).added == 0


def test_a_damaged_photograph_stops_the_move(mine: Place, server: Place) -> None:
    """What is not what was kept is not passed on as if it were."""
    mine.shelf.file(LOCAL, NAME).write_bytes(b"cut")
    with pytest.raises(DamagedError, match=NAME):
        move(mine, server, "ash", NOW)


def test_a_loss_on_the_way_is_told(mine: Place, server: Place, monkeypatch) -> None:
    """If the target has less in the end than was to be moved, that is an error."""
    from levelbook.archive import moving

    real = moving.write_rows

    def loses(connection, table, rows):
        return real(connection, table, [r for r in rows if r.get("id") != "entry-device02-0003"])

    monkeypatch.setattr(moving, "write_rows", loses)
    with pytest.raises(DamagedError, match="not the same on both sides"):
        move(mine, server, "ash", NOW)
    monkeypatch.undo()
    assert move(mine, server, "ash", NOW).entries == 1
