"""The empty book for a repeat visit: what it keeps, what it leaves out, what it lacks."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from levelbook.archive.again import EARLIER, again
from levelbook.book import digest, notices, read_book, write_book
from levelbook.book.model import Book
from levelbook.demo import house
from levelbook.errors import DocumentError, UsageError

DEMO = read_book(house())
NEXT = "2027-05-01"


def document(book: Book) -> dict[str, Any]:
    """Return a book as JSON values."""
    found: dict[str, Any] = json.loads(write_book(book))
    return found


def test_places_are_the_same() -> None:
    """House, plan, areas, stations, finishes, sections and reference are taken over whole."""
    new, old = document(again(DEMO, NEXT)), document(DEMO)
    kept = ("units", "property", "areas", "walls", "marks", "finishes", "stations", "sections")
    for key in (*kept, "reference", "format"):
        assert new.get(key) == old.get(key), key


def test_what_was_found_is_not_taken_over() -> None:
    """Readings, struck ones too, distress, photographs and who came stay with their visit."""
    assert any(reading.struck for reading in DEMO.readings)
    assert DEMO.distress
    new = document(again(DEMO, NEXT))
    assert new["readings"] == []
    assert "distress" not in new
    assert "photos" not in new
    assert new["visit"] == {"date": NEXT, "purpose": "repeat"}
    assert all(setup.keys() == {"id", "instrument"} for setup in new["setups"])
    assert all("checks" not in instrument for instrument in new["instruments"])


def test_the_earlier_visit_is_named() -> None:
    """The new book says by digest which visit it repeats, and keeps other own data."""
    first = DEMO.model_copy(update={"extra": {"job": "J-17"}})
    extra = again(first, NEXT).extra
    assert extra == {
        "job": "J-17",
        EARLIER: {"date": DEMO.visit.date, "sha256": digest(first)},
    }


def test_no_readings_is_the_only_fault() -> None:
    """The empty book is read but for its readings, and says so in one sentence."""
    with pytest.raises(DocumentError) as told:
        read_book(write_book(again(DEMO, NEXT)))
    assert [(f.code, f.place) for f in told.value.faults] == [("no-readings", "readings")]


def test_filled_in_it_is_a_book() -> None:
    """With readings written into it, the empty book is a document like any other."""
    new = document(again(DEMO, NEXT))
    new["readings"] = [
        {key: value for key, value in reading.items() if key not in ("time", "instead", "struck")}
        for reading in document(DEMO)["readings"]
    ]
    book = read_book(json.dumps(new))
    assert book.visit.purpose == "repeat"
    assert notices(book)


def test_a_visit_after_that_names_the_last_one() -> None:
    """A book made from a repeat visit names that one, not the first."""
    second = again(DEMO, NEXT)
    third = again(second, "2028-05-01")
    assert third.extra is not None
    assert third.extra[EARLIER] == {"date": NEXT, "sha256": digest(second)}


@pytest.mark.parametrize("day", ["", "soon", "2027-02-30", "20270502", "2027-05-01T09:00"])
def test_a_day_must_be_one(day: str) -> None:
    """What is no day is refused with an example."""
    with pytest.raises(UsageError, match="2027-03-02"):
        again(DEMO, day)


@given(st.dates())
def test_the_next_visit_is_not_before_the_last(day: Any) -> None:
    """A day before the earlier visit is refused, any other taken."""
    if day.isoformat() < DEMO.visit.date[:10]:
        with pytest.raises(UsageError, match="before the visit"):
            again(DEMO, day.isoformat())
    else:
        assert again(DEMO, day.isoformat()).visit.date == day.isoformat()
