"""The store on both databases: kept once, told to whoever lacks it, whoever writes meanwhile."""

import threading
from contextlib import suppress

import pytest
import sqlalchemy as sa
from store_rows import VISIT, entry, listed

from levelbook.archive.database import Database
from levelbook.archive.entries import read_entries
from levelbook.archive.store import Store
from levelbook.archive.tables import ENTRIES, LOCAL
from levelbook.errors import DocumentError

NOW = 1_900_000_000_000


def test_a_sending_counts_once(database: Database) -> None:
    """The same sending twice leaves one entry, and both are acknowledged."""
    store = Store(database)
    first = store.sync(VISIT, 0, (entry(1), entry(2)), "t")
    again = store.sync(VISIT, 0, (entry(1), entry(2)), "t")
    assert first.accepted == again.accepted == ("entry-device01-0001", "entry-device01-0002")
    assert store.entries(VISIT) == (entry(1), entry(2))
    assert again.entries == ()
    assert store.last(VISIT) == first.seq == again.seq


def test_an_altered_entry_is_refused_whole(database: Database) -> None:
    """An id that is taken by other content is refused, and nothing of the sending kept."""
    store = Store(database)
    store.sync(VISIT, 0, (entry(1),), "t")
    with pytest.raises(DocumentError, match="never altered"):
        store.sync(VISIT, 0, (entry(3), entry(1, author="B")), "t")
    assert store.entries(VISIT) == (entry(1),)


def test_the_list_tells_what_the_document_says(database: Database) -> None:
    """Inspector, instrument, foundation and year come from the record, and follow it."""
    store = Store(database)

    def write(number: int, kind: str, of: str, /, **fields: object) -> None:
        store.sync(VISIT, 0, (entry(number, kind=kind, of=of, fields=fields),), f"t{number}")

    write(1, "property", "", label="12 Juniper Bend", foundation="pier-and-beam", year_built=1999)
    write(2, "visit", "", date="2027-01-15", surveyor="A. Surveyor")
    write(3, "instrument", "L1", kind="hydrostatic", serial="S-77")
    write(4, "instrument", "L2", kind="hydrostatic")
    assert told(database) == ("A. Surveyor", "S-77, L2", "pier-and-beam", 1999)
    write(5, "property", "", year_built="about 1950", foundation=None)
    write(6, "visit", "", surveyor="B.\0 Surveyor")
    assert told(database) == ("B. Surveyor", "S-77, L2", "", None)
    assert listed(database, search="juniper")[0].updated == "t6"
    assert listed(database, search="juni\0per zzz") == ()


def told(database: Database) -> tuple[object, ...]:
    """Return what the list tells of the only visit beyond its rows of the app."""
    query = "SELECT inspector, instrument, foundation, year_built FROM visits"
    with database.use(LOCAL) as connection:
        return tuple(connection.execute(sa.text(query)).one())


def test_hostile_text_is_kept_or_refused(database: Database) -> None:
    """Any text that is one comes back as it was; half a character is refused with its place."""
    store = Store(database)
    strange = {"label": "a\0b\u2028'; DROP TABLE entries; -- 😀", "": "\x7f"}
    store.sync(VISIT, 0, (entry(1, kind="property", of="", fields=strange),), "t")
    assert store.entries(VISIT)[0].fields == strange
    half = {
        "id": "entry-0002", "visit": VISIT, "clock": f"{NOW:016d}-0000-device01",
        "device": "device01", "author": "A", "made": "", "do": "set", "kind": "station",
        "of": "p1", "fields": {"note": "x"},
    }  # fmt: skip
    for change in ({"author": "\ud83d"}, {"of": "\udc00"}, {"fields": {"note": "\ud83d"}}):
        with pytest.raises(DocumentError, match=r"entries\[0\]: it holds text that is none"):
            read_entries([half | change], VISIT, NOW)
    assert read_entries([half], VISIT, NOW)[0].of == "p1"


def overtaken(database: Database) -> set[str]:
    """Return what a device misses that sends while an earlier sending is not yet committed.

    The earlier one has its number and waits; the device sends, then asks for what is new.
    """
    store = Store(database)
    before = store.sync(VISIT, 0, (entry(1),), "t").seq
    seen: list[set[str]] = []

    def device() -> None:
        first = store.sync(VISIT, before, (entry(2, device="device02"),), "t")
        written.wait(20)
        later = store.sync(VISIT, first.seq, (), "t")
        seen.append({e.id for e in (*first.entries, *later.entries)})

    written = threading.Event()
    thread = threading.Thread(target=device)
    slow = entry(3, device="device03")
    with database.use(LOCAL) as connection:
        database.hold(connection, f"{LOCAL}/{VISIT}")
        row = {"firm": LOCAL, "visit": VISIT, "received": "t", "id": slow.id}
        connection.execute(sa.insert(ENTRIES).values(body=body_of(slow), **row))
        thread.start()
        thread.join(0.5)
    written.set()
    thread.join(20)
    return {slow.id} - seen[0]


def body_of(slow: object) -> str:
    """Return an entry as the store writes it."""
    from levelbook.archive.store import _body

    return _body(slow)  # type: ignore[arg-type]


def test_no_device_misses_an_entry(database: Database) -> None:
    """A number is only told when all numbers of the visit before it are there."""
    assert overtaken(database) == set()


def test_without_waiting_a_device_would_miss_one(
    postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The test above can fail: where sendings do not wait for each other, an entry is missed."""
    monkeypatch.setattr(Database, "hold", lambda *_: None)
    opened = Database(postgres_url)
    assert overtaken(opened) == {"entry-device03-0003"}
    opened.close()


def test_many_devices_at_once(database: Database) -> None:
    """Devices that write to one visit all at once end with the same entries, none lost."""
    devices = [f"device{n:02d}" for n in range(6)]
    have: dict[str, set[str]] = {}
    failed: list[Exception] = []

    def work(device: str) -> None:
        store, since, mine = Store(database), 0, set()
        with noted(failed):
            for number in range(8):
                taken = store.sync(VISIT, since, (entry(number, device=device),), f"t{number}")
                since = taken.seq
                mine |= {*taken.accepted, *(e.id for e in taken.entries)}
            ready.wait(60)
            mine |= {e.id for e in store.sync(VISIT, since, (), "t").entries}
            have[device] = mine

    ready = threading.Barrier(len(devices))
    run(threading.Thread(target=work, args=(device,)) for device in devices)
    assert failed == []
    everything = {e.id for e in Store(database).entries(VISIT)}
    assert len(everything) == 48
    assert all(have[device] == everything for device in devices)
    assert listed(database)[0].readings == 48


def test_the_same_sending_from_many_hands(database: Database) -> None:
    """A sending repeated by an impatient device while the first is under way counts once."""
    store, failed = Store(database), list[Exception]()

    def send() -> None:
        with noted(failed):
            store.sync(VISIT, 0, tuple(entry(n) for n in range(20)), "t")

    run(threading.Thread(target=send) for _ in range(6))
    assert failed == []
    assert len(store.entries(VISIT)) == 20


class noted(suppress):  # noqa: N801 - used as a statement
    """Keep the error that ends a block, for the test to tell."""

    def __init__(self, into: list[Exception]) -> None:
        super().__init__(Exception)
        self.into = into

    def __exit__(self, kind, error, trace):
        """Keep the error."""
        if error is not None:
            self.into.append(error)
        return super().__exit__(kind, error, trace)


def run(threads) -> None:
    """Run threads to their end."""
    started = list(threads)
    for thread in started:
        thread.start()
    for thread in started:
        thread.join(120)
