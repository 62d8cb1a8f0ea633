"""The store: entries kept once, altered never, and told to whoever lacks them."""

from functools import partial

import pytest

from levelbook.archive.clock import Clock
from levelbook.archive.entries import read_entries, write_entry
from levelbook.archive.record import Entry
from levelbook.archive.store import open_store
from levelbook.errors import DocumentError
from levelbook.firm.search import Query, find_visits

NOW = 1_800_000_000_000


def entry(number, **changes):
    """Return an entry as a device sends it."""
    device = changes.pop("device", "device01")
    return {
        "id": f"entry-{number:04d}",
        "visit": "visit-01",
        "clock": str(Clock(NOW + number, 0, device)),
        "device": device,
        "author": "A",
        "made": "2027-01-15T08:00:00Z",
        "do": "set",
        "kind": "property",
        "of": "",
        "fields": {"label": f"House {number}"},
        **changes,
    }


def read(*values):
    """Return entries as the server reads them."""
    return read_entries(list(values), "visit-01", NOW)


@pytest.fixture
def store(tmp_path):
    """Give an empty store."""
    made = open_store(tmp_path / "deep" / "store.sqlite")
    yield made
    made.close()


def test_a_sending_counts_once(store):
    """The same sending twice leaves one entry, and both are acknowledged."""
    first = store.sync("visit-01", 0, read(entry(1), entry(2)), "t")
    again = store.sync("visit-01", 0, read(entry(1), entry(2)), "t")
    assert first.accepted == again.accepted == ("entry-0001", "entry-0002")
    assert [e.id for e in store.entries("visit-01")] == ["entry-0001", "entry-0002"]
    assert again.entries == ()


def test_a_device_gets_what_it_lacks(store):
    """Another device gets the entries after its last number, and not its own back."""
    store.sync("visit-01", 0, read(entry(1)), "t")
    taken = store.sync("visit-01", 0, read(entry(2, device="device02")), "t")
    assert [e.id for e in taken.entries] == ["entry-0001"]
    assert store.sync("visit-01", taken.seq, (), "t").entries == ()


def test_an_altered_entry_is_refused_whole(store):
    """An id that is taken by other content is refused, and nothing of the sending kept."""
    store.sync("visit-01", 0, read(entry(1)), "t")
    with pytest.raises(DocumentError, match="never altered"):
        store.sync("visit-01", 0, read(entry(3), entry(1, author="B")), "t")
    assert [e.id for e in store.entries("visit-01")] == ["entry-0001"]


def test_a_store_opened_again_has_everything(tmp_path):
    """What was acknowledged is there for the next process."""
    path = tmp_path / "store.sqlite"
    store = open_store(path)
    store.sync("visit-01", 0, read(entry(1)), "t")
    store.close()
    again = open_store(path)
    assert [write_entry(e) for e in again.entries("visit-01")] == [entry(1)]
    again.close()


def test_visits_are_listed_and_found(store):
    """The list shows what the entries add up to; a word that is not there finds none."""
    store.sync("visit-01", 0, read(entry(1)), "2027-01-15")
    found = partial(find_visits, store.database, store.firm, limit=50)
    row = found(Query()).rows[0]
    assert (row.label, row.readings, row.updated) == ("House 1", 0, "2027-01-15")
    assert found(Query("house 1")).rows == (row,)
    assert found(Query("100%")).rows == found(Query("house_2")).rows == ()


@pytest.mark.parametrize(
    "wrong",
    [
        {"id": "short"},
        {"id": "entry/../../x"},
        {"device": "DEVICE01"},
        {"visit": "visit-02"},
        {"clock": "12:00"},
        {"clock": str(Clock(NOW, 0, "device02"))},
        {"clock": str(Clock(NOW + 90_000_000, 0, "device01"))},
        {"do": "erase"},
        {"do": "undo"},
        {"kind": "invoice"},
        {"of": "x"},
        {"kind": "reading"},
        {"kind": "reading", "of": "a\nb"},
        {"fields": {}},
        {"fields": []},
        {"fields": {"a": float("nan")}},
        {"fields": {"a": "x" * 200_001}},
        {"author": 5},
        {"more": 1},
    ],
)
def test_wrong_entries_are_refused_by_place(wrong):
    """An entry of the wrong form is refused, telling which."""
    with pytest.raises(DocumentError, match=r"entries\[1\]"):
        read(entry(1), {**entry(2), **wrong})


def test_deep_and_long_sendings_are_refused():
    """Nesting and length have limits."""
    deep = []
    for _ in range(40):
        deep = [deep]
    with pytest.raises(DocumentError):
        read(entry(1, fields={"a": deep}))
    with pytest.raises(DocumentError, match="fewer"):
        read(*[entry(1)] * 5001)
    with pytest.raises(DocumentError, match="not a list"):
        read_entries("x", "visit-01", NOW)


def test_an_undo_names_one_entry():
    """An undo is read and written with the entry it names."""
    value = entry(2, do="undo", undoes="entry-0001")
    for key in ("kind", "of", "fields"):
        del value[key]
    (found,) = read(value)
    assert isinstance(found, Entry)
    assert write_entry(found) == value
