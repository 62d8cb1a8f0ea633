"""What the others expect of a reading, against an adjustment really made without it."""

import pytest
from dense import Dense
from hypothesis import given, settings
from level_books import instrument, make_book
from random_books import books

from levelbook.book.model import Book
from levelbook.errors import UsageError
from levelbook.levels import leave_each_out, leave_one_out, reduce
from levelbook.levels.observations import observe


def without(book: Book, reading_id: str) -> Book:
    """Return the book with one reading struck."""
    return book.model_copy(
        update={
            "readings": tuple(
                r.model_copy(update={"struck": r.struck or r.id == reading_id})
                for r in book.readings
            )
        }
    )


@given(book=books())
@settings(max_examples=80)
def test_by_adjusting_without(book: Book) -> None:
    """Value and sd are those of a slow adjustment of the book without that reading."""
    levels = reduce(book)
    each = leave_each_out(book, levels)
    for reading in observe(book).readings:
        rest = without(book, reading.id)
        told = all(r.struck for r in rest.readings)
        slow = None if told else Dense(rest)
        terms = {} if slow is None else slow.terms(reading)
        known = slow is not None and set(terms) <= set(slow.keys) and slow.tells(slow.row(terms))
        assert (reading.id in each) == known
        assert leave_one_out(book, levels, reading.id) == each.get(reading.id)
        if slow is not None and known:
            setup = next(s for s in book.setups if s.id == reading.setup)
            sense = next(i for i in book.instruments if i.id == setup.instrument).sense
            row = slow.row(terms)
            assert each[reading.id].value == pytest.approx(sense * slow.value(row), abs=1e-7)
            assert each[reading.id].sd == pytest.approx(slow.spread(row), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(("sense", "sign"), [("more", 1), ("less", -1)])
def test_a_slip_in_the_third_of_three(sense: str, sign: int) -> None:
    """The two others' mean is expected in the reading's own sense, with their sd over √2."""
    tools = [instrument("L", 0.05, higher_reads=sense)]
    rows = [("A", "p", "tile", sign * v) for v in (0.4, 0.6, 5.0)]
    book = make_book(rows, instruments=tools)
    found = leave_one_out(book, reduce(book), "r3")
    assert found.value == pytest.approx(sign * 0.5)
    assert found.sd == pytest.approx(0.05 / 2**0.5)


def test_what_cannot_be_told() -> None:
    """A lone reading or a struck one is not expected by any; an unknown id is refused."""
    book = make_book([("A", "p", "tile", "0"), ("A", "q", "tile", "0"), ("A", "q", "tile", "0")])
    book = without(book, "r3")
    levels = reduce(book)
    assert leave_one_out(book, levels, "r1") is None
    assert leave_one_out(book, levels, "r3") is None
    assert leave_each_out(book, levels) == {}
    with pytest.raises(UsageError, match="no reading 'r9'"):
        leave_one_out(book, levels, "r9")
