"""The record: what entries add up to, in any order, any number of times."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import make_vectors
from levelbook.archive.clock import Clock, read_clock, tick
from levelbook.archive.document import to_document, to_entries
from levelbook.archive.record import Entry, add_up
from levelbook.book import digest, read_book
from levelbook.errors import UsageError

ROOT = Path(__file__).resolve().parent.parent
BOOKS = [ROOT / "data" / "house-a.json", ROOT.parent / "src/levelbook/demo/house.json"]


def entry(number, do="set", *, fields=None, kind="reading", of="r1", undoes="", device="device01"):
    """Return an entry whose clock follows its number."""
    clock = str(Clock(1_000 + number, 0, device))
    return Entry(
        f"entry-{number:04d}", "visit-01", clock, device, "A", "", do, kind, of, fields, undoes
    )


def undo(number, of):
    """Return an entry that undoes another."""
    return entry(number, "undo", fields=None, kind="", of="", undoes=f"entry-{of:04d}")


def strokes():
    """Draw lists of entries: fields set, undone, struck and gone, on a few objects."""
    fields = st.fixed_dictionaries(
        {},
        optional={
            "value": st.sampled_from(["0.1", "0.2", None]),
            "struck": st.booleans(),
            "gone": st.booleans(),
            "note": st.sampled_from(["a", "b"]),
        },
    ).filter(bool)
    kinds = st.sampled_from([("reading", "r1"), ("reading", "r2"), ("station", "s1")])
    step = st.one_of(st.tuples(st.just("set"), kinds, fields), st.integers(0, 20))
    return st.lists(step, max_size=20).map(_numbered)


def _numbered(steps):
    made = []
    for n, step in enumerate(steps):
        if isinstance(step, int):
            made.append(undo(n, step))
        else:
            (kind, of), fields = step[1], step[2]
            made.append(entry(n, fields=fields, kind=kind, of=of))
    return made


@settings(max_examples=200, deadline=None)
@given(strokes(), st.randoms(use_true_random=False))
def test_order_and_repeats_change_nothing(entries, random):
    """Entries in any order, some of them twice, add up to the same."""
    shuffled = entries + random.sample(entries, len(entries) // 2)
    random.shuffle(shuffled)
    assert add_up(shuffled) == add_up(entries)
    assert list(add_up(shuffled).objects) == list(add_up(entries).objects)


@settings(max_examples=200, deadline=None)
@given(strokes())
def test_a_reading_is_never_lost_and_struck_stays_struck(entries):
    """Every reading that was ever written is there, and struck if it ever was."""
    state = add_up(entries)
    for of in ("r1", "r2"):
        about = [e.fields for e in entries if e.do == "set" and e.of == of]
        if any("struck" in fields for fields in about):
            assert of in state.of("reading")
        if of in state.of("reading"):
            struck = any(fields.get("struck") or fields.get("gone") for fields in about)
            assert not struck or state.of("reading")[of]["struck"] is True


def test_the_latest_live_entry_wins_field_by_field():
    """Two devices that change different fields both have their way."""
    entries = [
        entry(1, fields={"value": "0.5", "note": "a"}),
        entry(2, fields={"value": "0.6"}, device="device02"),
        entry(3, fields={"note": None}),
    ]
    assert add_up(entries).of("reading") == {"r1": {"value": "0.6"}}


def test_an_undo_can_be_undone():
    """Undoing an undo brings the entry back; an undo of a later entry does nothing."""
    first, second = entry(1, fields={"value": "1"}), entry(2, fields={"value": "2"})
    assert add_up([first, second, undo(3, 2)]).of("reading")["r1"]["value"] == "1"
    assert add_up([first, second, undo(3, 2), undo(4, 3)]).of("reading")["r1"]["value"] == "2"
    assert add_up([first, undo(0, 1)]).of("reading")["r1"]["value"] == "1"


def test_undoing_a_whole_reading_strikes_it():
    """Nothing is erased: a reading whose every entry is undone stays, struck."""
    state = add_up([entry(1, fields={"value": "0.5"}), undo(2, 1)])
    assert state.of("reading") == {"r1": {"value": "0.5", "struck": True}}


def test_what_a_reading_names_is_kept():
    """A station taken off the plan stays while a reading is there, and goes otherwise."""
    station = entry(1, fields={"at": [0, 0], "area": "a"}, kind="station", of="s1")
    gone = entry(2, fields={"gone": True}, kind="station", of="s1")
    reading = entry(3, fields={"station": "s1", "value": "0.1"})
    assert not add_up([station, gone]).of("station")
    assert add_up([station, gone, reading]).of("station") == {"s1": {"at": [0, 0], "area": "a"}}


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_a_document_survives_the_record(path):
    """A document made into entries and back is the same document."""
    document = json.loads(path.read_text("utf-8"))
    numbers = iter(range(10_000))
    new = (lambda: f"entry-{next(numbers):05d}", 1_000, "")
    entries = list(to_entries(document, "visit-01", "A", Clock(0, 0, "device01"), new))
    back = to_document(add_up(reversed(entries)))
    assert digest(read_book(json.dumps(back))) == digest(read_book(path.read_bytes()))
    assert len({e.clock for e in entries}) == len(entries)


def test_wording_and_answers_find_their_place():
    """The inspector's wording lies at the visit, an answer at its reading."""
    state = add_up(
        [
            entry(1, fields={"date": "2026-01-02"}, kind="visit", of=""),
            entry(2, fields={"text": "t", "reason": "r"}, kind="wording", of="title"),
            entry(3, fields={"value": "0.1"}),
            entry(4, fields={"text": "read twice"}, kind="answer", of="r1"),
        ]
    )
    document = to_document(state)
    wording = [{"key": "title", "text": "t", "reason": "r"}]
    assert document["visit"]["extra"] == {"wording": wording}
    assert document["readings"][0]["extra"] == {"confirmed": "read twice"}
    again = list(
        to_entries(document, "v", "A", Clock(0, 0, "device01"), (lambda: "entry-xx", 5, ""))
    )
    assert ("wording", "title") in {(e.kind, e.of) for e in again}


@given(st.integers(0, 10**12), st.integers(0, 10**12), st.integers(0, 10**12))
def test_clocks_go_on(first, second, now):
    """A tick is later than all that was seen, whatever the wall clock says."""
    mine, theirs = Clock(first, 0xFFFF, "device01"), Clock(second, 3, "device02")
    after = tick(mine, now, theirs)
    assert str(after) > max(str(mine), str(theirs))
    assert after.milliseconds >= now
    assert read_clock(str(after)) == after


def test_what_is_no_clock_is_refused():
    """A clock of another form is refused in words."""
    with pytest.raises(UsageError, match="not a clock"):
        read_clock("12:00")


def test_what_a_reading_names_is_kept_as_it_last_stood():
    """A station that was undone, and the area it lies in, stay while a reading names them."""
    entries = [
        entry(1, kind="area", of="house", fields={"kind": "living"}),
        entry(2, kind="station", of="1", fields={"at": [1, 2], "area": "house"}),
        entry(3, fields={"station": "1", "value": "0.6"}),
        undo(4, 2),
        entry(5, kind="area", of="house", fields={"gone": True}),
    ]
    state = add_up(entries)
    assert state.of("station") == {"1": {"at": [1, 2], "area": "house"}}
    assert state.of("area") == {"house": {"kind": "living"}}
    assert "station" not in {kind for kind, _ in add_up([*entries[:2], entries[3]]).objects}


def test_the_vectors_are_of_this_rule():
    """The file that both sides are held against is what the rule gives today."""
    assert (ROOT / "vectors" / "record.json").read_text("utf-8") == make_vectors.make()
