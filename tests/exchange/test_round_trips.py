"""What goes out comes back: nothing that a format can hold is lost."""

import io
from typing import Any

import openpyxl
import pytest
from exchange_books import books, document, groups_that_share, read
from hypothesis import given, settings
from importing import imported

from levelbook.book import canonical
from levelbook.book.model import Book
from levelbook.book.numbers import parse_value
from levelbook.errors import DocumentError
from levelbook.exchange.geojson import geojson
from levelbook.exchange.incoming import plan_import
from levelbook.exchange.package import package
from levelbook.exchange.workbook import workbook
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.report import build
from levelbook.report.tables import levels_csv, readings_csv

ALL = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle",
       "unit.level": "in", "unit.plan": "ft"}  # fmt: skip


@settings(max_examples=25)
@given(books())
def test_book_workbook_book(book: Book) -> None:
    """A workbook carries the whole book: the same document comes back."""
    plan = plan_import(workbook(assess(book)), "book.xlsx")
    assert plan.book is not None
    assert canonical(plan.book) == canonical(book)


def held(book: Book) -> dict[str, Any]:
    """Return what the two tables of a book can hold."""
    tools = {setup.id: setup.instrument for setup in book.setups}
    sense = {tool.id: tool.sense for tool in book.instruments}
    return {
        "readings": [
            (r.id, r.setup, r.station, r.finish, r.value, r.time or None, r.struck, r.instead,
             r.note or None)
            for r in book.readings
        ],
        "stations": {
            s.id: (s.at, s.area, s.moved or None, s.note or None) for s in book.stations
        },
        "sense": {
            r.setup: sense[tools[r.setup]]
            for r in book.readings
            if not r.struck and parse_value(r.value)
        },
    }  # fmt: skip


@settings(max_examples=60)
@given(books())
def test_book_tables_book(book: Book) -> None:
    """Readings as CSV with the stations beside them: every field of both comes back."""
    assessment = assess(book)
    plan, _ = imported(readings_csv(assessment), ALL, "readings.csv", places=levels_csv(assessment))
    assert plan.book is not None, plan.questions
    assert held(plan.book) == held(book)
    assert plan.left == ()


def test_book_report_book(house: Assessment) -> None:
    """The report's PDF gives the book back."""
    pdf = build(house, formats=("pdf",)).parts[".pdf"]
    plan = plan_import(pdf, "report.pdf")
    assert plan.book is not None
    assert canonical(plan.book) == canonical(house.book)


def test_a_book_is_a_book(house_a: bytes, house: Assessment) -> None:
    """A level-book document comes in as it is."""
    plan = plan_import(house_a, "house.json")
    assert plan.kind == "book"
    assert plan.book is not None
    assert canonical(plan.book) == canonical(house.book)


def test_a_whole_book_goes_into_no_other(house_a: bytes, house: Assessment) -> None:
    """Two records are not mixed, and nothing given along is silently left unused."""
    for more in ({"into": house.book}, {"outline": b"{}"}, {"places": b"a,b"}):
        with pytest.raises(DocumentError) as told:
            plan_import(house_a, "house.json", **more)
        assert told.value.faults[0].code == "import"


def test_what_a_book_alone_cannot_hold_is_told(house: Assessment) -> None:
    """Photographs and seal of a package stay there, and the import says so."""
    made = document([("A", "p", "t", "1"), ("A", "q", "t", "2")])
    made["photos"] = [{"id": "f", "sha256": "0" * 64, "name": "crack.jpg"}]
    plan = plan_import(package(assess(read(made))), "package.zip")
    assert plan.book is not None
    assert [left.place for left in plan.left] == ["photos"]


def test_outlines_come_back_from_geojson(demo: Assessment) -> None:
    """Areas of our own GeoJSON have the corners of the book, its unit known."""
    plan = plan_import(geojson(demo), "plan.geojson", into=demo.book)
    assert plan.questions == ()
    assert plan.book is not None
    for before, after in zip(demo.book.areas, plan.book.areas, strict=True):
        assert after.id == before.id
        assert set(after.outline) == set(before.outline)


def changed(data: bytes, row: int, column: int, value: float) -> bytes:
    """Return a workbook with one cell of the readings changed, as by an engineer."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    book["Readings"].cell(row, column).value = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.fixture
def altered() -> tuple[Book, bytes]:
    """Return a book and its workbook, the value of the second reading changed to 0.75."""
    book = groups_that_share()
    return book, changed(workbook(assess(book)), 3, 6, 0.75)


def test_a_change_in_the_workbook_is_asked_about(altered: tuple[Book, bytes]) -> None:
    """Neither the record nor the change is taken silently."""
    plan = plan_import(altered[1], "book.xlsx")
    assert plan.book is None
    (question,) = plan.questions
    assert question.key == "changes"
    assert "r2: -0.4 is 0.75" in question.asks


def test_the_record_may_hold(altered: tuple[Book, bytes]) -> None:
    """Then the change is told as not taken."""
    plan = plan_import(altered[1], "book.xlsx", {"changes": "record"})
    assert plan.book is not None
    assert canonical(plan.book) == canonical(altered[0])
    assert len(plan.left) == 1


def test_a_change_is_taken_as_on_paper(altered: tuple[Book, bytes]) -> None:
    """The old reading is struck and names the new one beside it; nothing is erased."""
    plan = plan_import(altered[1], "book.xlsx", {"changes": "sheet"})
    assert plan.book is not None
    old, new = plan.book.readings[1:3]
    assert (old.id, old.value, old.struck, old.instead) == ("r2", "-0.4", True, new.id)
    assert (new.value, new.station, new.struck) == ("0.75", "q", False)
    assert len(plan.book.readings) == len(altered[0].readings) + 1


def test_what_json_alone_can_hold_comes_back_in_the_workbook() -> None:
    """Notes, signs, sections and members of one's own are in the record's sheet."""
    made = document(
        [("A", "p", "t", "1"), ("A", "q", "t", "2")],
        sections=[{"id": "s", "line": [[0, 0], [9, 9]]}],
        distress=[{"id": "d", "kind": "crack", "element": "drywall", "at": [1, 1],
                   "note": "a line\nanother\twith \"quotes\" and 漢字 \U0001f3e0 _x000A_"}],
        extra={"own": ["=x", {"deep": 1.5e-7}], "long": "é" * 40_000},
    )  # fmt: skip

    book = read(made)
    plan = plan_import(workbook(assess(book)), "book.xlsx")
    assert plan.book is not None
    assert canonical(plan.book) == canonical(book)
