"""Backup while the archive is in use, and restoring it: equal to one moment, or refused."""

import hashlib
import io
import json
import threading
import zipfile
from pathlib import Path

import pytest
import sqlalchemy as sa
from PIL import Image
from starlette.testclient import TestClient
from store_rows import VISIT, entry, listed, row

from levelbook.app.server import make_app
from levelbook.archive import encrypted
from levelbook.archive.backup import GAP, backup, opened, restore
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.container import MANIFEST, Reader, Writer
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import HEAD, SAME_ROWS, migrate
from levelbook.archive.place import PHOTOS, STORE, Place, ensure_firm, open_place
from levelbook.archive.rows import KEPT, LEFT_OUT, read_rows, to_line
from levelbook.archive.store import Store
from levelbook.archive.tables import FIRMS, LOCAL, METADATA, VISITS
from levelbook.errors import DamagedError, UsageError

PICTURE = b"\x89PNG and what follows"
USUAL_COST = encrypted.COST
ANY = "altered|damaged|cut off|no backup|not what was written|not those|not in its place"
SECRET = b"a long password, invented"


@pytest.fixture(autouse=True)
def quick_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw keys quickly: what is tested here is not how dear a guess is."""
    monkeypatch.setattr(encrypted, "COST", 4)


@pytest.fixture
def server(database: Database, tmp_path: Path) -> Place:
    """Give a server's archive of two firms, with something in every table."""
    place = Place("server", database, Folder(tmp_path / "files"), own=False)
    for firm in ("ash", "birch"):
        with database.use(firm) as connection:
            for table in METADATA.sorted_tables:
                if table.name not in ("attempts", "blobs", "visit_words"):
                    connection.execute(sa.insert(table).values(**row(table, firm)))
        Store(database, firm).sync(VISIT, 0, [entry(n) for n in range(3)], "2027-01-01")
        place.blobs(firm).put(PICTURE + firm.encode(), "image/png", "t")
    return place


@pytest.fixture
def empty(new_database, tmp_path: Path):
    """Give what makes an empty server's archive, of a kind."""

    def make(kind: str) -> Place:
        return Place("new", new_database(kind), Folder(tmp_path / f"new-{kind}"), own=False)

    return make


def everything(place: Place) -> dict[str, object]:
    """Return all rows of an archive that a backup keeps, and all of its files.

    The words of the archive's life are another after each restoring, and left out.
    """
    told: dict[str, object] = {}
    with place.database.snapshot() as connection:
        for firm in ("ash", "birch", LOCAL):
            place.database.name_firm(connection, firm)
            for table in KEPT:
                rows = read_rows(connection, table, firm)
                told[f"{firm}/{table.name}"] = [
                    r | {"settings": ""} if table is FIRMS else r for r in rows
                ]
    for key, rows in list(told.items()):
        if key.endswith("/blobs"):
            firm = key.partition("/")[0]
            told |= {r["sha256"]: place.blobs(firm).get(r["sha256"]) for r in rows}
    return told


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
@pytest.mark.parametrize("password", [None, SECRET])
def test_an_archive_comes_back_equal(server, empty, tmp_path, kind, password) -> None:
    """From either database into either, in the clear and encrypted: every row and every file."""
    out = tmp_path / "backup"
    told = backup(server, out, "2027-01-01", password)
    assert (told.firms, told.visits, told.entries, told.files) == (2, 4, 8, 2)
    target = empty(kind)
    assert restore(out, target, password) == told
    assert everything(target) == everything(server)
    again = tmp_path / "again"
    backup(target, again, "2027-01-01")
    with opened(out, password) as first, opened(again) as second:
        pairs = list(zip(first.parts, second.parts, strict=True))
        assert {a.table for a, b in pairs if a != b} == {"firms"}
    target.close()


def test_every_table_is_kept_or_left_out_on_purpose() -> None:
    """A new table is in every backup unless it is named as one that is not."""
    assert {t.name for t in KEPT} | set(LEFT_OUT) == {t.name for t in METADATA.sorted_tables}
    assert len(KEPT) == len(METADATA.tables) - len(LEFT_OUT)


def test_what_is_left_out(server, empty, tmp_path) -> None:
    """Nobody is signed in after restoring, and visits are found by their words again."""
    ash = Store(server.database, "ash")
    fields = {"label": "Juniper Bend"}
    ash.sync(VISIT, 0, (entry(9, kind="property", of="", fields=fields),), "t")
    backup(server, tmp_path / "backup", "t")
    target = empty("sqlite")
    restore(tmp_path / "backup", target)
    with target.database.use("ash") as connection:
        count = "SELECT count(*) FROM {}"
        assert connection.execute(sa.text(count.format("sessions"))).scalar() == 0
        words = sa.text("SELECT word FROM visit_words WHERE visit = :v AND firm = 'ash'")
        found = set(connection.execute(words, {"v": VISIT}).scalars())
    assert {"juniper", "bend"} <= found


def test_numbers_go_on_past_those_that_devices_saw(server, empty, tmp_path) -> None:
    """A device that was told numbers after the backup was taken misses nothing written later."""
    backup(server, tmp_path / "backup", "t")
    ash = Store(server.database, "ash")
    since = ash.sync(VISIT, 0, [entry(n, device="device02") for n in range(50)], "t").seq
    for kind in ("sqlite", "postgresql"):
        target = empty(kind)
        restore(tmp_path / "backup", target)
        store = Store(target.database, "ash")
        store.sync(VISIT, 0, [entry(1, device="device03")], "t")
        told = store.sync(VISIT, since, (), "t")
        assert told.again
        assert entry(1, device="device03") in told.entries
        assert store.last(VISIT) > GAP
        target.close()


def test_a_folder_of_ones_own_machine(tmp_path: Path) -> None:
    """A local archive comes back from its backup into a new folder, photographs and all."""
    place = open_place(str(tmp_path / "mine"), new=True)
    Store(place.database).sync(VISIT, 0, [entry(1)], "t")
    place.blobs(LOCAL).put(PICTURE, "image/png", "t")
    (tmp_path / "mine" / PHOTOS / hashlib.sha256(b"older").hexdigest()).write_bytes(b"older")
    place.close()
    place = open_place(str(tmp_path / "mine"))
    told = backup(place, tmp_path / "backup", "t")
    assert (told.firms, told.visits, told.entries, told.files) == (1, 1, 1, 2)
    new = open_place(str(tmp_path / "new"), new=True)
    restore(tmp_path / "backup", new)
    assert everything(new) == everything(place)
    new.close()
    place.close()


def test_into_a_database_without_tables(bare_url, server, tmp_path) -> None:
    """An empty database gets its tables on restoring."""
    backup(server, tmp_path / "backup", "t")
    place = open_place(bare_url, str(tmp_path / "new-files"), new=True)
    restore(tmp_path / "backup", place)
    assert everything(place) == everything(server)
    place.close()


def test_writers_go_on_meanwhile(database: Database, empty, tmp_path: Path) -> None:
    """Taken while devices write, a backup has all that was acknowledged before, and no half."""
    place = Place("server", database, Folder(tmp_path / "files"), own=False)
    ensure_firm(database, "ash")
    devices = [f"device{n:02d}" for n in range(4)]
    told: dict[str, int] = dict.fromkeys(devices, 0)
    stop, failed = threading.Event(), []

    def write(device: str) -> None:
        store = Store(database, "ash")
        while not stop.is_set():
            number = told[device]
            pair = [entry(2 * number + k, device=device) for k in (0, 1)]
            data = f"{device} {number}".encode()
            try:
                place.blobs("ash").put(data, "image/png", "t")
                store.sync(f"visit-{device}", 0, pair, f"t{number}")
            except Exception as error:  # noqa: BLE001 - told below
                failed.append(error)
                return
            told[device] = number + 1

    threads = [threading.Thread(target=write, args=(device,)) for device in devices]
    for thread in threads:
        thread.start()
    while min(told.values()) < 5:
        stop.wait(0.01)
    before = dict(told)
    backup(place, tmp_path / "backup", "t")
    after = dict(told)
    stop.set()
    for thread in threads:
        thread.join(60)
    assert failed == []
    target = empty("postgresql" if database.postgresql else "sqlite")
    restore(tmp_path / "backup", target)
    for device in devices:
        found = Store(target.database, "ash").entries(f"visit-{device}")
        assert [e.id for e in found] == [f"entry-{device}-{n:04d}" for n in range(len(found))]
        assert len(found) % 2 == 0
        assert before[device] <= len(found) // 2 <= after[device] + 1
        rows = {r.id: r for r in listed(target.database, "ash")}
        assert rows[f"visit-{device}"].readings == len(found)
        for number in range(before[device]):
            data = f"{device} {number}".encode()
            assert target.blobs("ash").get(hashlib.sha256(data).hexdigest()) == data
    target.close()


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """Give the backup of a small archive of one's own machine."""
    place = open_place(str(tmp_path / "mine"), new=True)
    Store(place.database).sync(VISIT, 0, [entry(1), entry(2)], "t")
    place.blobs(LOCAL).put(PICTURE, "image/png", "t")
    backup(place, tmp_path / "plain", "2027-01-01")
    backup(place, tmp_path / "sealed", "2027-01-01", SECRET)
    place.close()
    return tmp_path


def refused(file: Path, told: str, password: bytes | None = None) -> None:
    """Assert that a backup is refused, and told why."""
    with pytest.raises(UsageError, match=told), opened(file, password) as reader:
        reader.check()


@pytest.mark.parametrize(("name", "password"), [("plain", None), ("sealed", SECRET)])
def test_every_altered_byte_is_refused(small: Path, name: str, password: bytes | None) -> None:
    """Whichever byte of a backup is altered, it is refused: every 7th, and all near its ends."""
    whole = (small / name).read_bytes()
    places = {*range(0, len(whole), 7), *range(60), *range(len(whole) - 180, len(whole))}
    bad = small / "bad"
    for place in sorted(places):
        altered = bytearray(whole)
        altered[place] ^= 0x55
        bad.write_bytes(altered)
        refused(bad, ANY, password)


@pytest.mark.parametrize(("name", "password"), [("plain", None), ("sealed", SECRET)])
def test_a_cut_or_longer_backup_is_refused(small, name, password) -> None:
    """Cut off anywhere, or with something put before or after it, a backup is refused."""
    whole = (small / name).read_bytes()
    bad = small / "bad"
    for length in [*range(0, len(whole), 53), len(whole) - 1]:
        bad.write_bytes(whole[:length])
        refused(bad, ANY, password)
    for other in (whole + b"x", b"x" + whole, whole + whole):
        bad.write_bytes(other)
        refused(bad, ANY, password)


def test_pieces_cannot_change_places(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The pieces of an encrypted backup, whole in themselves, are refused in another order."""
    monkeypatch.setattr(encrypted, "PIECE", 400)
    place = open_place(str(small / "mine"))
    backup(place, small / "pieces", "t", SECRET)
    place.close()
    whole = (small / "pieces").read_bytes()
    size, head = 400 + encrypted.TAG, encrypted.HEAD
    pieces = [whole[at : at + size] for at in range(head, len(whole), size)]
    assert len(pieces) > 5
    with opened(small / "pieces", SECRET) as reader:
        reader.check()
    bad = small / "bad"
    for order in ([0, 2, 1], [0, 1, 1], [0, 1]):
        rest = pieces[3:] if len(order) == 3 else pieces[2:-1]
        bad.write_bytes(whole[:head] + b"".join(pieces[n] for n in order) + b"".join(rest))
        refused(bad, r"piece \d+ of \d+ was altered, or is not in its", SECRET)


def test_parts_cannot_change_places(small: Path) -> None:
    """A backup packed anew with its parts in another order, or one left out, is refused."""
    bad = small / "bad"
    for choose in (lambda parts: parts[::-1], lambda parts: parts[1:]):
        with zipfile.ZipFile(small / "plain") as old, zipfile.ZipFile(bad, "w") as new:
            infos = old.infolist()
            for info in [*choose(infos[:-1]), infos[-1]]:
                new.writestr(info, old.read(info))
        refused(bad, "parts are not those of its manifest")


def test_the_damaged_part_is_named(small: Path) -> None:
    """Whoever reads the refusal learns which part is not what was written."""
    whole = bytearray((small / "plain").read_bytes())
    whole[whole.index(PICTURE) + 3] ^= 1
    (small / "bad").write_bytes(whole)
    name = hashlib.sha256(PICTURE).hexdigest()
    refused(small / "bad", f"bad: its part files/local/{name}.*another copy")


def test_nothing_is_written_of_a_damaged_backup(small: Path) -> None:
    """A backup that is refused leaves the archive that it was for as it was."""
    whole = bytearray((small / "plain").read_bytes())
    whole[len(whole) // 2] ^= 1
    (small / "bad").write_bytes(whole)
    place = open_place(str(small / "new"), new=True)
    with pytest.raises(DamagedError):
        restore(small / "bad", place)
    assert listed(place.database) == ()
    assert list((small / "new" / PHOTOS).iterdir()) == []
    place.close()


def test_a_target_that_holds_something_is_refused(small, server, tmp_path) -> None:
    """Restoring never mixes: a folder or database with anything in it is refused."""
    mine = open_place(str(small / "mine"))
    with pytest.raises(UsageError, match=r"not empty: it holds rows of"):
        restore(small / "plain", mine)
    mine.close()
    backup(server, tmp_path / "of-server", "t")
    with pytest.raises(UsageError, match="not empty: it holds the firm ash"):
        restore(tmp_path / "of-server", server)
    with pytest.raises(UsageError, match="one's own machine"):
        restore(small / "plain", server)
    new = open_place(str(small / "new"), new=True)
    with pytest.raises(UsageError, match="of a server, with firms"):
        restore(tmp_path / "of-server", new)
    new.close()


def test_password(small: Path) -> None:
    """An encrypted backup needs its password, and shows nothing without."""
    assert PICTURE not in (small / "sealed").read_bytes()
    assert PICTURE in (small / "plain").read_bytes()
    with pytest.raises(UsageError, match="is encrypted"), opened(small / "sealed"):
        pass
    with pytest.raises(UsageError, match="not the right one"), opened(small / "sealed", b"x"):
        pass
    with opened(small / "plain", b"not needed") as reader:
        reader.check()


def test_two_backups_share_no_key(small: Path) -> None:
    """The same content under the same password is encrypted otherwise each time."""
    place = open_place(str(small / "mine"))
    backup(place, small / "other", "2027-01-01", SECRET)
    place.close()
    one, other = ((small / n).read_bytes() for n in ("sealed", "other"))
    assert len(one) == len(other)
    assert one[encrypted.HEAD :][:64] != other[encrypted.HEAD :][:64]


def test_the_usual_key_is_dear() -> None:
    """A guess at a password costs 128 MB of memory."""
    assert (1 << USUAL_COST) * 8 * 128 == 128 * 2**20


def test_a_damaged_photograph_is_told(small: Path) -> None:
    """A backup that would lack a file is refused, or made without it and told so."""
    place = open_place(str(small / "mine"))
    name = hashlib.sha256(PICTURE).hexdigest()
    place.shelf.file(LOCAL, name).write_bytes(b"cut")
    with pytest.raises(DamagedError, match=name):
        backup(place, small / "lacking", "t")
    assert not list(small.glob("lacking*"))
    told = backup(place, small / "lacking", "t", lacking=True)
    assert told.lacking == (f"local/{name}",)
    new = open_place(str(small / "new"), new=True)
    assert restore(small / "lacking", new).lacking == told.lacking
    with pytest.raises(DamagedError, match="taken away"):
        new.blobs(LOCAL).get(name)
    new.close()
    place.close()


def test_no_backup_is_written_over(small: Path) -> None:
    """A name that is taken is refused; what is there stays."""
    before = (small / "plain").read_bytes()
    place = open_place(str(small / "mine"))
    with pytest.raises(UsageError, match="already"):
        backup(place, small / "plain", "t")
    place.close()
    assert (small / "plain").read_bytes() == before
    assert (small / "plain").stat().st_mode & 0o077 == 0


def crafted(file: Path, *, schema: str = HEAD, lines: list[bytes] | None = None) -> Path:
    """Write a backup, whole in itself, that no program of ours would."""
    with file.open("wb") as stream:
        writer = Writer(stream)
        writer.add("firms/local/firms.jsonl", LOCAL, "firms", [to_line(row(FIRMS, LOCAL))])
        if lines is not None:
            writer.add("firms/local/entries.jsonl", LOCAL, "entries", lines)
        writer.close("t", schema, ())
    return file


GOOD_LINE = {"seq": 1, "firm": LOCAL, "id": "e", "visit": "v", "body": "{}", "received": "t"}


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (b"{}\n", "no row of the table entries"),
        (b"[1]\n", "no row of the table entries"),
        (b"not json\n", "no row of the table entries"),
        (to_line(GOOD_LINE | {"more": 1}), "no row of the table entries"),
        (to_line(GOOD_LINE | {"firm": "ash"}), "another firm's"),
        (to_line(GOOD_LINE)[:-1], "last line of its part .* cut off"),
        (to_line(GOOD_LINE | {"body": None}), "refused by the database"),
        (to_line(GOOD_LINE) * 2, "refused by the database"),
    ],
)
def test_rows_that_are_none(tmp_path: Path, line: bytes, told: str) -> None:
    """A backup that is whole but holds what is no row is refused with the line, and undone."""
    file = crafted(tmp_path / "crafted", lines=[line])
    place = open_place(str(tmp_path / "new"), new=True)
    with pytest.raises(DamagedError, match=told):
        restore(file, place)
    assert listed(place.database) == ()
    place.close()


@pytest.mark.parametrize("schema", SAME_ROWS)
def test_a_backup_of_a_schema_with_the_same_rows(
    tmp_path: Path, schema: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A backup that an earlier release made comes back, and its visits are found as now."""
    place = open_place(str(tmp_path / "old"), new=True)
    visit = row(VISITS, LOCAL) | {"inspector": "Ada Moss", "words": " ada moss"}
    with place.database.use(LOCAL) as connection:
        connection.execute(sa.insert(VISITS).values(**visit))
    monkeypatch.setattr("levelbook.archive.backup.HEAD", schema)
    backup(place, tmp_path / "backup", "2027-01-01")
    monkeypatch.undo()
    place.close()
    place = open_place(str(tmp_path / "new"), new=True)
    assert restore(tmp_path / "backup", place).visits == 1
    with place.database.look(LOCAL) as connection:
        words = connection.execute(sa.select(VISITS.c.words)).scalar_one()
    assert ("=ada" in words) == (schema != HEAD)  # marked by the release that needs it, else left
    place.close()


def test_another_schema_is_told(tmp_path: Path) -> None:
    """A backup of another release's schema is refused with what to do."""
    file = crafted(tmp_path / "crafted", schema="0099")
    with pytest.raises(UsageError, match="of the schema 0099"), opened(file):
        pass


def test_what_is_no_backup(tmp_path: Path) -> None:
    """A missing file, any other file, and an archive that is not ours are each told."""
    with pytest.raises(UsageError, match="no such file"), opened(tmp_path / "none"):
        pass
    other = tmp_path / "other"
    other.write_bytes(b"some text")
    with pytest.raises(DamagedError, match="this is no backup"), opened(other):
        pass
    for manifest in ({}, {"format": "other/1"}, [], {"format": "levelbook-backup/1", "parts": 3}):
        with zipfile.ZipFile(other, "w") as made:
            made.writestr(MANIFEST, json.dumps(manifest))
        with pytest.raises(DamagedError, match="list of parts"), opened(other):
            pass


def test_a_backup_takes_what_the_app_keeps(tmp_path: Path) -> None:
    """The store and the photographs that the app writes in its folder are those backed up."""
    picture = io.BytesIO()
    Image.new("L", (8, 8)).save(picture, "PNG")
    digest = hashlib.sha256(picture.getvalue()).hexdigest()
    with TestClient(make_app(tmp_path / "app", demo=True)) as client:
        sent = client.put(f"/api/photos/{digest}", content=picture.getvalue())
        assert sent.status_code == 200
        count = len(client.get("/api/visits").json()["visits"])
    place = open_place(str(tmp_path / "app"))
    told = backup(place, tmp_path / "backup", "2027-01-01")
    place.close()
    assert (told.visits, told.files) == (count, 1) == (1, 1)
    assert told.entries > 50


def test_places_are_told_apart(tmp_path: Path, sqlite_url: str) -> None:
    """A folder without a store, and a database without a word on its files, are refused."""
    with pytest.raises(UsageError, match="no archive in this folder"):
        open_place(str(tmp_path))
    with pytest.raises(UsageError, match="where the files of this database lie"):
        open_place(sqlite_url)
    old = Database(file_url(tmp_path / STORE))
    migrate(old, "0001")
    old.close()
    place = open_place(str(tmp_path))
    assert isinstance(place.blobs(LOCAL), Blobs)
    place.close()


def test_a_reader_stops_at_what_is_told(tmp_path: Path) -> None:
    """A part that unpacks to more than the manifest says is not read to its end."""
    file = crafted(tmp_path / "crafted", lines=[b"x" * 5_000_000 + b"\n"])
    with file.open("rb") as stream:
        reader = Reader(stream, "crafted")
        part = reader.parts[1]
        short = type(part)(part.name, part.firm, part.table, 1, 10, part.sha256)
        with pytest.raises(DamagedError, match="not what was written"):
            list(reader.pieces(short))
