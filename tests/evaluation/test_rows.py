"""A visit's row: the figures that the assessment gives, in one unit, each with its sd."""

import json
from typing import Any

import pytest
from archives import books, packed

from levelbook.archive.evaluation import work
from levelbook.archive.evaluation.columns import BASE, Criteria
from levelbook.archive.evaluation.work import Failed, evaluate, house_of, pack, row, row_of
from levelbook.book import Book, read_book, write_book
from levelbook.demo import house
from levelbook.errors import UsageError
from levelbook.findings import Figures, assess, load_criteria, named_set
from levelbook.floor.shape import AreaShape


@pytest.fixture(scope="module")
def demo() -> Book:
    """Return the demo house: two floors, a garage, signs of distress, a slip."""
    return read_book(house())


def test_a_row_has_the_figures_of_the_assessment(demo: Book) -> None:
    """Nothing is lost by leaving words and drawings out: the figures are those of assess."""
    told, found = row_of(demo, Criteria()), assess(demo)
    shape = found.floor.areas["house"]
    assert isinstance(shape, AreaShape)
    assert shape.deflection is not None
    assert told["floor"] == "house"
    assert told["range"] == pytest.approx(25.4 * shape.range.value, rel=1e-9)
    assert told["range_sd"] == pytest.approx(25.4 * shape.range.sd, rel=1e-9)
    assert told["tilt"] == pytest.approx(shape.tilt.slope, rel=1e-9)
    assert told["deflection"] == pytest.approx(25.4 * shape.deflection.deflection, rel=1e-9)
    ratio = shape.deflection.ratio
    assert ratio is not None
    assert told["deflection_ratio"] == pytest.approx(1 / ratio, rel=1e-9)
    assert told["bend"] == shape.bend.word
    assert told["sha256"] == found.digest
    assert told["outcome"] == found.screening.outcome


@pytest.mark.parametrize("name", ["asce-texas", "bre-251", "common-practice", "garage", "ground"])
def test_the_states_are_those_of_the_assessment(demo: Book, name: str) -> None:
    """Each criterion's state is one that the assessment found, with value and sd."""
    told = row_of(demo, Criteria())
    found = [f for f in assess(demo).findings if f.set == name]
    assert found
    for each in {f.id for f in found}:
        column = f"{name}/{each}"
        mine = told[f"{column}/value"], told[f"{column}/sd"]
        found_so = [f for f in found if f.id == each and f.state == told[column]]
        assert any(alike((f.value, f.sd), mine) for f in found_so)


def alike(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    """Tell whether numbers agree, absent ones with absent ones."""
    some, others = ([float("nan") if v is None else v for v in each] for each in (one, other))
    return others == pytest.approx(some, rel=1e-9, nan_ok=True)


def test_of_several_findings_the_gravest_is_told(demo: Book) -> None:
    """The ground beside one wall rises, beside another it falls: the rise is in the row."""
    falls = [f for f in assess(demo).findings if f.id == "six-inches-in-ten-feet"]
    assert len(falls) > 1
    told = row_of(demo, Criteria())
    assert told["ground/six-inches-in-ten-feet/value"] == min(f.value for f in falls if f.value)


def test_a_house_reads_the_same_in_metric_and_in_inches() -> None:
    """Rows are in one unit: a book in mm and m gives the row of the same book in in and ft."""
    book = books(1)[0]
    document = json.loads(write_book(book))
    scaled = json.loads(json.dumps(document))
    scaled["units"] = {"level": "mm", "plan": "m"}
    for reading in scaled["readings"]:
        reading["value"] = f"{float(reading['value']) * 25.4:.6f}"
    for instrument in scaled["instruments"]:
        instrument["sd"] *= 25.4
        instrument["resolution"] *= 25.4
    for thing in [*scaled["stations"]]:
        thing["at"] = [0.3048 * c for c in thing["at"]]
    for area in scaled["areas"]:
        area["outline"] = [[0.3048 * c for c in corner] for corner in area["outline"]]
    named = Criteria((named_set("asce-texas"),))
    one, other = (row_of(read_book(json.dumps(d)), named) for d in (document, scaled))
    for column in ("range", "tilt", "range_sd", "tilt_sd", "size"):
        assert other[column] == pytest.approx(one[column], rel=1e-3)
    for column in ("deflection_ratio", "deflection_length"):
        assert other[column] == pytest.approx(one[column], rel=0.1)


def test_every_column_is_there_and_no_other() -> None:
    """A row has exactly the columns of its criteria, in their order."""
    named = Criteria((named_set("bre-251"),))
    for criteria in (Criteria(), named):
        told = row(packed(books(1)[0]), criteria)
        assert list(told) == [column.name for column in criteria.columns]


def test_every_measured_figure_has_its_sd() -> None:
    """No figure that hangs on readings is kept without its standard deviation."""
    names = {column.name for column in BASE}
    measured = {c.name for c in BASE if c.kind == "number" and not c.name.endswith("_sd")}
    assert measured - {"size", "deflection_length"} == {n[:-3] for n in names if n.endswith("_sd")}
    told = row_of(books(1)[0], Criteria())
    assert all((told[n[:-3]] is None) == (told[n] is None) for n in names if n.endswith("_sd"))


def test_entries_give_the_row_of_their_document() -> None:
    """A visit out of the store, told by entries, gives what its book gives."""
    book = books(1)[0]
    parts = json.loads(write_book(book))
    bodies = []
    things = [(k, "", parts[k]) for k in ("units", "property", "visit", "reference")]
    for kind in ("instrument", "area", "setup", "station", "reading", "finishe"):
        for thing in parts[f"{kind}s"]:
            fields = {a: b for a, b in thing.items() if a != "id"}
            things.append(
                (kind.removesuffix("e") if kind == "finishe" else kind, thing["id"], fields)
            )
    for k, (kind, of, fields) in enumerate(things):
        entry: dict[str, Any] = {"id": f"e{k:08}", "visit": "v", "clock": f"{k:016}-0000-device01"}
        entry |= {"device": "device01", "author": "", "made": "", "do": "set"}
        bodies.append(json.dumps(entry | {"kind": kind, "of": of, "fields": fields}))
    visit = pack("v", "acme", "entries", json.dumps(bodies).encode())
    told, plain = row(visit, Criteria()), row(packed(book), Criteria())
    assert told | {"visit": "", "firm": ""} == plain | {"visit": "", "firm": ""}
    assert (told["visit"], told["firm"]) == ("v", "acme")


def test_a_bad_book_is_told_with_place_and_remedy() -> None:
    """What is no whole book has no row, and its first fault says where and what to do."""
    document = json.loads(write_book(books(1)[0]))
    document["readings"][0]["station"] = "nowhere"
    document["readings"][1]["setup"] = "nowhere"
    bad = pack("bad", "", "document", json.dumps(document).encode())
    done = evaluate([bad, packed(books(1)[0])], Criteria())
    assert len(done.rows) == 1
    (found,) = done.failed
    assert (found.visit, found.code, found.more) == ("bad", "reference", 1)
    assert found.place in ("readings[0].station", "readings[1].setup")
    assert found.remedy


def test_a_fault_of_the_program_costs_one_house_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the program itself fails on a book, the others still have their rows."""

    def broken(book: Book, **_: object) -> Figures:
        if book.property.label.endswith(" 0"):
            raise ZeroDivisionError("by zero")
        return figures(book)

    figures = work.figures
    monkeypatch.setattr(work, "figures", broken)
    done = evaluate([packed(b, f"v{k}") for k, b in enumerate(books(2))], Criteria())
    assert [each["visit"] for each in done.rows] == ["v1"]
    assert [(f.visit, f.code) for f in done.failed] == [("v0", "program")]
    assert "by zero" in done.failed[0].problem


def test_a_book_without_a_floor_still_has_its_row() -> None:
    """Too few stations give no figures of a floor, and no failure either."""
    document = json.loads(write_book(books(1)[0]))
    document["readings"] = document["readings"][:2]
    told = row_of(read_book(json.dumps(document)), Criteria())
    assert told["floor"] is told["range"] is told["range_sd"] is None
    assert told["outcome"] == "readings not sufficient"


def test_an_unspread_instrument_is_a_failure_not_a_crash(house_a: bytes) -> None:
    """What the reduction refuses is told like any other fault of a book."""
    document = json.loads(house_a)
    for instrument in document["instruments"]:
        instrument |= {"sd": 0, "resolution": 0}
    found = work.row_or_fault(pack("v", "", "document", json.dumps(document).encode()), Criteria())
    assert isinstance(found, Failed)


def test_the_house_is_known_again_by_its_address() -> None:
    """Two visits to one address are one house, however it is written; others are not."""
    book = books(1)[0]
    place = book.property
    same = place.model_copy(update={"address": "0  INVENTED lane", "label": "other"})
    other = place.model_copy(update={"address": "1 Invented Lane"})
    assert house_of(book.model_copy(update={"property": same})) == house_of(book)
    assert house_of(book.model_copy(update={"property": other})) != house_of(book)
    nameless = book.model_copy(update={"property": place.model_copy(update={"address": None})})
    moved = books(2)[1].model_copy(update={"property": nameless.property})
    assert house_of(nameless) != house_of(book)
    assert house_of(nameless) != house_of(moved)


def test_sets_that_share_an_id_are_refused() -> None:
    """Their states would stand in one column."""
    texas = named_set("asce-texas")
    mine = load_criteria(texas.model_dump_json(exclude_none=True), "mine.json")
    with pytest.raises(UsageError, match="an id of its own"):
        Criteria((texas, mine))


def test_criteria_are_told_apart_by_digest() -> None:
    """Another limit, another set, or a set named in place of each book's own differ."""
    texas = named_set("asce-texas")
    first = texas.criteria[0].model_copy(update={"limit": 0.004})
    changed = texas.model_copy(update={"criteria": (first, *texas.criteria[1:])})
    some = (None, (texas,), (changed,), (named_set("bre-251"),))
    assert len({Criteria(sets).digest for sets in some}) == len(some)
    assert Criteria((texas,)).digest == Criteria((named_set("asce-texas"),)).digest
