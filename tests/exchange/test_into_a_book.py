"""Readings added to a book: what stands in it stays, what comes is told."""

import json

import pytest
from exchange_books import book_of
from importing import imported

from levelbook.book import canonical, write_book
from levelbook.book.model import Book
from levelbook.book.numbers import parse_value
from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import

TABLE = "station,x (ft),y (ft),reading (in),finish\np,1,1,0.7,T\nnew,20,20,-0.25,oak\n"


@pytest.fixture
def book() -> Book:
    """Return a book with two stations on finish t, read by a hydrostatic and a rod level."""
    return book_of([("A", "p", "t", "1"), ("A", "q", "t", "2"), ("B", "q", "t", "3")])


def test_what_stands_stays(book: Book) -> None:
    """Every reading, station and finish of the book is as before; the book itself untouched."""
    before = canonical(book)
    plan, asked = imported(TABLE, {"instrument": "L"}, into=book)
    assert asked == {"instrument"}
    made = plan.book
    assert canonical(book) == before
    assert made.readings[: len(book.readings)] == book.readings
    assert made.stations[: len(book.stations)] == book.stations
    assert (made.property, made.visit, made.areas) == (book.property, book.visit, book.areas)


def test_what_comes_is_added(book: Book) -> None:
    """A known station and finish are used, new ones added, in a setup of the instrument named."""
    made = imported(TABLE, {"instrument": "L"}, into=book)[0].book
    old, new = made.readings[-2:]
    assert (old.station, old.finish, new.station, new.finish) == ("p", "t", "new", "oak")
    assert old.setup == new.setup not in {setup.id for setup in book.setups}
    assert made.setups[-1].instrument == "L"
    assert len({reading.id for reading in made.readings}) == len(made.readings)
    assert made.extra["imports"] == [{"file": "table.csv", "readings": 2}]


def test_units_become_those_of_the_book(book: Book) -> None:
    """Millimetres and metres become inches and feet, exactly; what was typed is noted."""
    table = "station;x (m);y (m);reading (mm)\nnew;3,048;6,096;12,7\n"
    made = imported(table, {"instrument": "R"}, into=book)[0].book
    assert made.stations[-1].at == pytest.approx((10, 20))
    assert parse_value(made.readings[-1].value) == parse_value("1/2")
    assert "12,7 mm" in made.readings[-1].note


def test_places_are_not_needed_for_known_stations(book: Book) -> None:
    """A list of readings at stations of the book needs no places; an unknown one is told."""
    table = "station,reading (in)\np,0.5\nq,0.6\nelsewhere,0.7\n"
    plan, _ = imported(table, {"instrument": "L"}, into=book)
    assert [r.station for r in plan.book.readings[-2:]] == ["p", "q"]
    assert len(plan.left) == 1
    assert "elsewhere" in plan.left[0].why


def test_another_instrument_is_asked_about(book: Book) -> None:
    """With a new instrument its sense and scatter are asked as for a new book."""
    answers = {"instrument": "new", "sense": "less", "sd": "0.1"}
    plan, asked = imported(TABLE, answers, into=book)
    assert asked == set(answers)
    tool = plan.book.instruments[-1]
    assert (tool.higher_reads, tool.sd, tool.resolution) == ("less", 0.1, 0.01)


def test_a_rod_is_no_hydrostatic_level(book: Book) -> None:
    """Where the title says rod, only instruments that read less are offered."""
    plan = plan_import(TABLE.replace("reading", "rod reading"), "t.csv", into=book)
    (question,) = plan.questions
    assert [option.key for option in question.options] == ["R", "new"]


def test_twice_is_two_times(book: Book) -> None:
    """The same table again makes readings and a setup of its own, and is told in the book."""
    once = imported(TABLE, {"instrument": "L"}, into=book)[0].book
    twice = imported(TABLE, {"instrument": "L"}, into=once)[0].book
    assert len(twice.readings) == len(book.readings) + 4
    assert len(twice.setups) == len(book.setups) + 2
    assert len(twice.extra["imports"]) == 2


def test_places_from_a_second_table() -> None:
    """Readings in one table, places in another, joined by station."""
    answers = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle"}
    places = b"point,x (ft),y (ft)\np,1,1\nq,9,9\nunread,5,5\n"
    table = "station,reading (in)\np,0.5\nq,0.6\np,0.4\n"
    plan, asked = imported(table, answers, places=places)
    assert asked == set(answers)
    assert [s.at for s in plan.book.stations] == [(1, 1), (9, 9), (5, 5)]
    assert [r.station for r in plan.book.readings] == ["p", "q", "p"]


@pytest.mark.parametrize(
    ("answers", "place"),
    [
        ({"sense": "up"}, "answers.sense"),
        ({"sd": "-1"}, "answers.sd"),
        ({"sd": "nan"}, "answers.sd"),
        ({"date": "2 March"}, "answers.date"),
        ({"outline": "circle"}, "answers.outline"),
    ],
)
def test_bad_answers_are_refused(answers: dict[str, str], place: str) -> None:
    """An answer that is none is told by its key, with what may be answered."""
    with pytest.raises(DocumentError) as told:
        plan_import(TABLE, "t.csv", answers)
    (fault,) = told.value.faults
    assert (fault.code, fault.place) == ("answer", place)


def test_one_column_is_one_thing() -> None:
    """Places across and up cannot both be the same column."""
    answers = {"column.value": "D", "column.station": "A", "column.x": "B", "column.y": "B"}
    with pytest.raises(DocumentError) as told:
        plan_import("a,b,c,d\n1,0,0,0.5\n2,5,0,-0.25\n", "t.csv", answers)
    assert told.value.faults[0].place == "answers.column.y"


def test_an_answer_that_nothing_asks_for_is_told(book: Book) -> None:
    """A misspelt key does not vanish."""
    with pytest.raises(DocumentError) as told:
        plan_import(TABLE, "t.csv", {"instrument": "L", "sence": "more"}, into=book)
    assert told.value.faults[0].place == "answers.sence"


def test_the_result_is_a_document(book: Book) -> None:
    """What comes out is written and read like any book."""
    made = imported(TABLE, {"instrument": "L"}, into=book)[0].book
    assert json.loads(write_book(made))["format"] == "levelbook/1"
