"""Numbers struck through in a spreadsheet come in as struck readings, or are left and told."""

import io
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from importing import imported
from struck_sheets import Cell, Line, changed, inline, ods, shared

from levelbook.book import read_book, write_book
from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import
from levelbook.exchange.questions import ImportPlan
from levelbook.exchange.workbook import workbook
from levelbook.findings.model import Assessment

TITLES = ["station", "x (ft)", "y (ft)", "reading (in)", "remark"]
NEEDED = {"date": "2026-05-01", "sense": "more", "sd": "0.05", "outline": "rectangle"}
GRID = {**NEEDED, "unit.plan": "ft", "unit.level": "in", "square": "3", "layout": "grid"}
WRITERS = [shared, inline, ods]
Writer = Callable[..., bytes]


def taken(data: bytes, **more: str) -> ImportPlan:
    """Return the plan with every question answered; the book is there."""
    plan, _ = imported(data, NEEDED | more, "floor.xlsx")
    assert plan.book is not None, plan.questions
    assert read_book(write_book(plan.book)) == plan.book
    return plan


def readings(plan: ImportPlan) -> list[tuple[str, str, bool, str | None]]:
    """Return station, value, mark and what stands instead of each reading of a plan."""
    assert plan.book is not None
    return [(r.station, r.value, r.struck, r.instead) for r in plan.book.readings]


def table(*rows: list[Cell]) -> list[list[Cell]]:
    """Return rows under their titles, two good ones after them."""
    return [TITLES, *rows, ["8", 0, 9, 0.25, ""], ["9", 9, 9, -0.5, ""]]


REST = [("8", "0.25", False, None), ("9", "-0.5", False, None)]


@pytest.mark.parametrize("writer", WRITERS)
def test_a_struck_number_is_a_struck_reading(writer: Writer) -> None:
    """A line through the cell strikes the reading; it is kept, told by sheet and cell."""
    plan = taken(writer(table(["1", 3, 3, Line(4.5), ""], ["1", 3, 3, 0.5, ""])))
    assert readings(plan) == [("1", "4.5", True, None), ("1", "0.5", False, None), *REST]
    assert "Struck through in the sheet and kept as struck readings: Floor, cell D2." in (
        plan.assumed
    )
    assert plan.rows[0][5] == "struck"


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize(
    "runs", [[("1.2", True), (" 1.4", False)], [("1.4 ", False), ("1.2", True)]]
)
def test_a_number_corrected_in_its_cell(writer: Writer, runs: list[tuple[str, bool]]) -> None:
    """The struck number is kept as struck, with the one beside it in its place."""
    plan = taken(writer(table(["1", 3, 3, runs, "by the door"])))
    assert plan.book is not None
    old, new = plan.book.readings[:2]
    assert (old.value, old.struck, old.instead) == ("1.2", True, new.id)
    assert (new.value, new.struck, new.note) == ("1.4", False, "by the door")
    assert old.station == new.station == "1"
    assert any("Corrected within a cell: Floor, cell D2." in told for told in plan.assumed)


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize(
    "runs",
    [
        [("1.", False), ("2", True), ("4", False)],
        [("1.2", True), ("1.4", False)],
        [("1", False), (".4", True)],
        [("1.2", True), (" and more 7 ", False), ("1.4", True)],
        [("1.2 ", True), ("0.5 / 0.6", False)],
    ],
)
def test_what_stands_must_be_certain(writer: Writer, runs: list[tuple[str, bool]]) -> None:
    """A digit struck within a number, or two numbers without space, are left with their cell."""
    plan = taken(writer(table(["1", 3, 3, runs, ""])))
    assert readings(plan) == REST
    (left,) = plan.left
    assert left.place == "Floor, cell D2"


@pytest.mark.parametrize("writer", WRITERS)
def test_struck_words_beside_a_number(writer: Writer) -> None:
    """Words struck beside a number are noted; a number struck beside words is struck."""
    rows = table(
        ["1", 3, 3, [("1.4", False), (" wet", True)], ""],
        ["2", 6, 3, [("1.2", True), (" carpet", False)], ""],
        ["3", 6, 6, [("1.2 1.3", True), (" 1.5", False)], ""],
    )
    plan = taken(writer(rows))
    assert plan.book is not None
    one, two, three = plan.book.readings[:3]
    assert (one.value, one.struck, one.note) == ("1.4", False, "struck through beside it: wet")
    assert (two.value, two.struck, two.note) == ("1.2", True, "carpet")
    assert (three.value, three.note) == ("1.5", "struck through beside it: 1.2 1.3")


@pytest.mark.parametrize("writer", WRITERS)
def test_a_whole_row_struck(writer: Writer) -> None:
    """A row struck from end to end is a struck reading; its place gives way to another row's."""
    gone = [Line("1"), Line(30), Line(3), Line(4.5), Line("wrong corner")]
    plan = taken(writer(table(gone, ["1", 3, 3, 0.5, ""])))
    assert readings(plan) == [("1", "4.5", True, None), ("1", "0.5", False, None), *REST]
    assert plan.book is not None
    assert {s.id: s.at for s in plan.book.stations}["1"] == (3, 3)
    assert plan.book.readings[0].note == "wrong corner"
    alone = taken(writer(table(gone)))
    assert alone.book is not None
    assert {s.id: s.at for s in alone.book.stations}["1"] == (30, 3)


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize(
    ("column", "word"), [(0, "station"), (1, "place"), (2, "place")], ids=["station", "x", "y"]
)
def test_a_struck_place_leaves_the_row(writer: Writer, column: int, word: str) -> None:
    """Where the reading stands and what it is a reading of is struck, the row is left."""
    row: list[Cell] = ["1", 3, 3, 0.5, ""]
    row[column] = Line(row[column])
    plan = taken(writer(table(row)))
    assert readings(plan) == REST
    (left,) = plan.left
    assert left.place == f"Floor, cell {'ABC'[column]}2"
    assert left.why == f"the {word} is struck through, and the reading is not"


@pytest.mark.parametrize("writer", WRITERS)
def test_a_struck_remark_is_left_alone(writer: Writer) -> None:
    """The reading of a row whose remark is struck is taken, and the remark told."""
    plan = taken(writer(table(["1", 3, 3, 0.5, Line("wet")])))
    assert readings(plan)[0] == ("1", "0.5", False, None)
    assert plan.book is not None
    assert plan.book.readings[0].note is None
    assert [(left.place, left.what) for left in plan.left] == [("Floor, cell E2", "wet")]


@pytest.mark.parametrize("writer", WRITERS)
def test_a_sketch_with_a_line_through_a_cell(writer: Writer) -> None:
    """In a sketch, too, a struck number is struck and one corrected in its square replaced."""
    rows = [[0.1, 0.2, 0.3], [Line(9.5), [("2.5", True), (" 0.5", False)], 0.6], [0.7, 0.8, 0.9]]
    plan, _ = imported(writer(rows), GRID, "sketch.xlsx")
    found = readings(plan)
    assert len(found) == 10
    assert [(s, v, struck) for s, v, struck, _ in found if s in ("A2", "B2")] == [
        ("A2", "9.5", True), ("B2", "2.5", True), ("B2", "0.5", False)
    ]  # fmt: skip
    assert any("Floor, cell A2" in told for told in plan.assumed)


@pytest.mark.parametrize("writer", WRITERS)
def test_a_struck_edge_of_a_sketch(writer: Writer) -> None:
    """A sketch whose places are struck is refused, with the cell."""
    rows = [["", 0, 3, 6], [6, 0.1, 0.2, 0.3], [Line(3), 0.4, 0.5, 0.6], [0, 0.7, 0.8, 0.9]]
    with pytest.raises(DocumentError, match="Floor, cell A3: a place is struck through"):
        imported(writer(rows), GRID | {"edges": "places"}, "sketch.xlsx")


def test_the_same_by_a_reader_of_its_own() -> None:
    """What another library reads as struck in these files is what was meant to be."""
    rows = table(["1", 3, 3, [("1.2", True), (" 1.4", False)], ""], ["2", 6, 3, Line(4.5), ""])
    for writer in (shared, inline):
        book = openpyxl.load_workbook(io.BytesIO(writer(rows)), rich_text=True)
        page: Any = book["Floor"]
        first = page["D2"].value[0]
        assert (first.text, first.font.strike) == ("1.2", True)
        assert page["D3"].font.strike


def test_corrections_keep_their_units() -> None:
    """A struck number is turned into the book's unit as the one in its place is."""
    runs = [("25.4 mm", True), (" 12.7 mm", False)]
    more = [["2", 6, 3, "1 in"], ["3", 6, 6, "2 in"], ["4", 3, 6, "2 in"]]
    rows = [[*TITLES[:3], "reading"], ["1", 3, 3, runs], *more]
    plan = taken(shared(rows))
    assert readings(plan)[:2] == [("1", "1", True, "r2"), ("1", "0.5", False, None)]
    assert plan.book is not None
    assert [r.note for r in plan.book.readings[:2]] == ["typed as 25.4 mm", "typed as 12.7 mm"]


def test_names_of_readings_go_to_what_stands() -> None:
    """The name in a row is that of the reading that stands; the struck one gets a free one."""
    titles = ["reading id", "station", "x (ft)", "y (ft)", "value (in)"]
    rows = [titles, ["r1", "1", 3, 3, [("1.2", True), (" 1.4", False)]], ["r2", "2", 6, 3, 0.5]]
    plan = taken(inline(rows))
    assert plan.book is not None
    told = [(r.id, r.value, r.instead) for r in plan.book.readings]
    assert told == [("r3", "1.2", "r1"), ("r1", "1.4", None), ("r2", "0.5", None)]


def test_looks_of_columns_and_words_in_ods() -> None:
    """A column's usual looks strike its cells; words without a line among struck ones stand."""
    column = '<table:table-column table:number-columns-repeated="3"/>'
    column += '<table:table-column table:default-cell-style-name="line"/>'
    plan = taken(ods(table(["1", 3, 3, [("0.5", False)], ""]), columns=column))
    assert readings(plan) == [("1", "0.5", False, None), *((s, v, True, i) for s, v, _, i in REST)]


def test_a_mark_that_is_off() -> None:
    """``strike`` with the value 0 strikes nothing."""
    data = shared(table(["1", 3, 3, Line(0.5), ""]))
    data = changed(data, "xl/styles.xml", "<strike/>", '<strike val="0"/>')
    assert readings(taken(data))[0] == ("1", "0.5", False, None)


def test_cells_without_their_places() -> None:
    """Cells that do not name their places are counted along the row."""
    data = shared(table(["1", 3, 3, Line(4.5), ""], ["1", 3, 3, 0.5, ""]))
    bare = data
    for cell in ("A2", "B2", "C2", "D2"):
        bare = changed(bare, "xl/worksheets/sheet1.xml", f'<c r="{cell}"', "<c")
    assert readings(taken(bare)) == readings(taken(data))


def test_a_rule_that_strikes_is_told() -> None:
    """A line that a rule draws by what a cell holds counts for nothing, which is told."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page = book.add_worksheet("Floor")
        for i, row in enumerate(table(["1", 3, 3, 4.5, ""])):
            page.write_row(i, 0, row)
        line = book.add_format({"font_strikeout": True})
        rule = {"type": "cell", "criteria": ">", "value": 4, "format": line}
        page.conditional_format("D2:D9", rule)
    plan = taken(out.getvalue())
    assert readings(plan)[0] == ("1", "4.5", False, None)
    assert any("conditional formatting" in told for told in plan.assumed)
    plain = taken(shared(table(["1", 3, 3, 4.5, ""])))
    assert not any("conditional formatting" in told for told in plain.assumed)


def test_a_line_in_our_own_workbook(house: Assessment) -> None:
    """A value struck in this program's workbook is a change, and asked about."""
    book = openpyxl.load_workbook(io.BytesIO(workbook(house)))
    page: Any = book["Readings"]
    (column,) = [cell.column for cell in page[1] if cell.value == "value"]
    (row,) = [c.row for c in page["A"] if c.value == house.book.readings[3].id]
    page.cell(row, column).font = openpyxl.styles.Font(strike=True)
    out = io.BytesIO()
    book.save(out)
    plan = plan_import(out.getvalue(), "house.xlsx", {"changes": "sheet"})
    assert plan.book is not None
    assert [r.struck for r in plan.book.readings][3]
    assert [r.value for r in plan.book.readings] == [r.value for r in house.book.readings]
