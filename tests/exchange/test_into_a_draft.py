"""A house that has just been begun takes readings and outlines; changes lead exactly there."""

import json
from copy import deepcopy
from typing import Any

import pytest
from exchange_books import book_of, books
from hypothesis import given, settings
from importing import imported

from levelbook.archive.clock import Clock
from levelbook.archive.document import to_document
from levelbook.archive.record import Entry, add_up
from levelbook.book import canonical, read_book
from levelbook.book.model import Book
from levelbook.errors import DocumentError
from levelbook.exchange.bases import base_of
from levelbook.exchange.changes import changes
from levelbook.exchange.incoming import plan_import

TABLE = "station,x (ft),y (ft),reading (in),finish\np,1,1,0.7,tile\nnew,20,20,-0.25,oak\n"
OUTLINE = json.dumps(
    {"type": "Polygon", "coordinates": [[[0, 0], [40, 0], [40, 30], [0, 30], [0, 0]]]}
).encode()


def draft(**more: Any) -> dict[str, Any]:
    """Return the document of a house that has just been begun."""
    return {
        "format": "levelbook/1",
        "units": {"level": "in", "plan": "ft"},
        "property": {"label": "Begun"},
        "visit": {"date": "2026-03-02"},
        "instruments": [
            {"id": "L1", "kind": "hydrostatic", "higher_reads": "more", "resolution": 0.1,
             "sd": 0.05}
        ],
        "areas": [],
        "finishes": [],
        "setups": [{"id": "A", "instrument": "L1"}],
        "stations": [],
        "readings": [],
    } | more  # fmt: skip


def test_a_table_goes_into_a_house_begun() -> None:
    """Its instrument and unused setup are taken; only outline and instrument are asked."""
    before = draft()
    kept = deepcopy(before)
    plan, asked = imported(TABLE, {"instrument": "L1", "outline": "rectangle"}, into=before)
    assert asked == {"instrument", "outline"}
    assert plan.book is not None
    assert [setup.id for setup in plan.book.setups] == ["A"]
    assert plan.book.reference.station == "p"
    assert before == kept


def test_an_outline_goes_into_a_house_begun() -> None:
    """There is no book yet, but the record to be, which then takes the table."""
    plan, asked = imported(OUTLINE, {"unit.drawing": "ft"}, "plan.geojson", into=draft())
    assert asked == {"unit.drawing"}
    assert plan.book is None
    assert plan.document is not None
    assert plan.document["areas"][0]["outline"][1] == (40.0, 0.0)
    then, asked = imported(TABLE, {"instrument": "L1"}, into=plan.document)
    assert asked == {"instrument"}
    assert then.book is not None
    assert then.book.areas[0].outline[1] == (40.0, 0.0)


@pytest.mark.parametrize(
    "more",
    [
        {"units": {"level": "yard", "plan": "ft"}},
        {"areas": [{"id": "h"}]},
        {"setups": [{"id": "A", "instrument": "gone"}]},
        {"property": {}},
    ],
)
def test_a_draft_with_faults_takes_nothing(more: dict[str, Any]) -> None:
    """What is wrong with the house is told before anything is read into it."""
    with pytest.raises(DocumentError) as told:
        plan_import(TABLE, "table.csv", into=draft(**more))
    assert "no-readings" not in {fault.code for fault in told.value.faults}
    assert all(fault.place and fault.remedy for fault in told.value.faults)


def test_places_are_asked_where_there_are_none() -> None:
    """A house without stations needs to know where the readings were taken."""
    plan = plan_import("name,reading (in)\n1,0.5\n2,0.7\n", "t.csv", into=draft())
    assert {"column.x", "column.y"} & {question.key for question in plan.questions}


def entries_of(written: list[dict[str, Any]], first: int = 0) -> list[Entry]:
    """Return changes as the entries that a device writes down."""
    return [
        Entry(f"entry-{first + i:08}", "visit-01", str(Clock(first + i, 0, "device01")),
              "device01", "A", "now", "set", c["kind"], c["of"], c["fields"])
        for i, c in enumerate(written)
    ]  # fmt: skip


@settings(max_examples=25)
@given(books())
def test_changes_make_a_new_record(book: Book) -> None:
    """Head and rest, written down, add up to the very book."""
    head, rest = changes(None, base_of(book))
    assert {change["kind"] for change in head} <= {"units", "property", "visit", "instrument"}
    made = to_document(add_up(entries_of(head + rest)))
    assert canonical(read_book(json.dumps(made))) == canonical(book)


def test_changes_of_a_house_that_is_there_are_what_is_new() -> None:
    """Nothing that stands is written again, and what is written adds up to the plan's record."""
    book = book_of([("A", "p", "tile", "1"), ("A", "q", "tile", "2")])
    before = base_of(book)
    plan, _ = imported(TABLE, {"instrument": "L"}, into=before)
    head, rest = changes(before, plan.document)
    assert head == []
    assert sorted((c["kind"], c["of"]) for c in rest) == [
        ("book", ""), ("finish", "oak"), ("reading", "r3"), ("reading", "r4"), ("setup", "A2"),
        ("station", "new"),
    ]  # fmt: skip
    old, new = changes(None, before)
    made = to_document(add_up(entries_of(old + new + rest)))
    assert canonical(read_book(json.dumps(made))) == canonical(plan.book)


def test_undoing_an_import_strikes_its_readings() -> None:
    """Undo entries take stations and finishes back where no reading names them; readings stay."""
    book = book_of([("A", "p", "tile", "1"), ("A", "q", "tile", "2")])
    before = base_of(book)
    plan, _ = imported(TABLE, {"instrument": "L"}, into=before)
    old, new = changes(None, before)
    _, rest = changes(before, plan.document)
    written = entries_of(old + new + rest)
    undone = [
        Entry(f"undo-{e.id}", "visit-01", str(Clock(999 + i, 0, "device01")), "device01", "A",
              "later", "undo", undoes=e.id)
        for i, e in enumerate(written[len(old + new):])
    ]  # fmt: skip
    made = read_book(json.dumps(to_document(add_up(written + undone))))
    assert [reading.struck for reading in made.readings] == [False, False, True, True]
    assert made.readings[2].value == "0.7"
    assert "extra" not in to_document(add_up(written + undone))
    assert made.stations[:2] == book.stations


def test_a_field_that_is_gone_is_null() -> None:
    """A change says so of what an outline no longer has."""
    before = draft(areas=[{"id": "h", "kind": "living", "outline": [[0, 0], [1, 0], [1, 1]],
                           "holes": [[[0.5, 0.2], [0.6, 0.2], [0.6, 0.3]]]}])  # fmt: skip
    after = deepcopy(before)
    del after["areas"][0]["holes"]
    assert changes(before, after)[1] == [{"kind": "area", "of": "h", "fields": {"holes": None}}]
