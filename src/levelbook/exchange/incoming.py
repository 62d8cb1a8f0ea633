"""One way in for every file: what it is, what is unclear in it, and the book that it makes.

>>> plan = plan_import(data, "readings.csv")                          # doctest: +SKIP
>>> [question.asks for question in plan.questions]                    # doctest: +SKIP
>>> plan = plan_import(data, "readings.csv", {"sense": "more", …})    # doctest: +SKIP
>>> plan.book                                                         # doctest: +SKIP
"""

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from pathlib import PurePath
from typing import Any

from levelbook.archive.holders import is_zip
from levelbook.archive.opening import open_bytes
from levelbook.book.model import Book
from levelbook.book.numbers import counted
from levelbook.exchange.bases import Json, base_of, whole_or_draft
from levelbook.exchange.cells import Unit
from levelbook.exchange.compose import compose
from levelbook.exchange.entries import Place, Survey
from levelbook.exchange.headings import numeric
from levelbook.exchange.kinds import holds_book, is_picture, value_of
from levelbook.exchange.outline_files import is_dxf, is_geojson, is_svg, read_floors
from levelbook.exchange.outlines import Floor
from levelbook.exchange.own_workbook import is_own, read_own
from levelbook.exchange.questions import Column, ImportPlan, Interview, Kind, refused
from levelbook.exchange.settle import Setting
from levelbook.exchange.sketch import may_be_sketch, read_sketch
from levelbook.exchange.spreadsheets import is_old, read_sheets
from levelbook.exchange.survey_table import TableReader, plan_of
from levelbook.exchange.tables import Table, read_text

PREVIEW = 12


def plan_import(
    data: bytes | str,
    name: str,
    answers: Mapping[str, str] | None = None,
    *,
    into: Book | Mapping[str, Any] | None = None,
    outline: bytes | None = None,
    places: bytes | None = None,
) -> ImportPlan:
    """Return what importing a file would give, with the questions that are still open.

    Parameters
    ----------
    data : bytes or pasted text
        CSV, TSV, XLSX, ODS, a book, bundle or report of this program, DXF, SVG or GeoJSON.
    answers : mapping of question keys to answers
        Those given so far.
    into : book or draft of one, optional
        To add to; it is not changed, the plan's book is another. A draft is a document that
        has no readings yet, as of a house that has just been begun.
    outline, places : bytes, optional
        A file of outlines, and a second table with station, x and y.

    Raises
    ------
    DocumentError
        If a file is damaged, hostile or holds nothing to take, or an answer is none.
    """
    talk = Interview(answers or {})
    desk = _Desk(name, talk, base_of(into), outline, places)
    plan = desk.plan(data)
    talk.check_used()
    return plan


class _Desk:
    """One import on the desk: its file, what goes with it, and what was said about it."""

    def __init__(
        self,
        name: str,
        talk: Interview,
        into: Json | None,
        outline: bytes | None,
        places: bytes | None,
    ) -> None:
        self.name, self.talk, self.into = name, talk, into
        self.outline, self.places = outline, places
        self.columns: tuple[Column, ...] = ()
        self.rows: tuple[tuple[str, ...], ...] = ()

    def plan(self, data: bytes | str) -> ImportPlan:
        """Return the plan for the file's own kind."""
        if isinstance(data, bytes):
            if holds_book(data, self.name):
                return self._opened(data)
            if is_old(data):
                problem = "is an old spreadsheet (XLS) or has a password"
                raise refused("table", self.name, problem, "save it as XLSX without a password")
            if is_zip(data):
                return self._sheets(read_sheets(data, self.name, self.talk))
            if is_picture(data):
                problem = "is a picture, from which no numbers are read"
                remedy = "in the app it becomes the sheet on the plan that is traced over"
                raise refused("picture", self.name, problem, remedy)
            if is_dxf(data) or is_svg(data) or is_geojson(value_of(data)):
                return self._outlines(data)
        return self._table(read_text(data, self.name, self.talk))

    def _made(self, kind: Kind, document: Json | None) -> ImportPlan:
        talk = self.talk
        if talk.open:
            document = None
        book = None if document is None else whole_or_draft(document, draft=kind == "outlines")
        told = (tuple(talk.taken), tuple(talk.assumed), tuple(talk.left))
        return ImportPlan(
            kind,
            tuple(talk.open.values()),
            self.columns,
            self.rows,
            *told,
            book,
            document,
        )

    def _opened(self, data: bytes) -> ImportPlan:
        """Return the plan for a file that holds a book; what a book alone cannot hold is told."""
        found = open_bytes(data)
        if found.seal is not None:
            self.talk.leave("seal", "the seal", "it stays with the file; verify that one")
        if found.book.photos:
            count = counted(len(found.book.photos), "photograph")
            self.talk.leave("photos", count, "they stay in the file or beside the book")
        return self._whole(found.book)

    def _whole(self, book: Book | None) -> ImportPlan:
        if (self.into, self.outline, self.places) != (None, None, None):
            problem = "is a whole record, to which nothing can be added on the way"
            remedy = "import it alone; add tables and outlines to the book that it makes"
            raise refused("import", self.name, problem, remedy)
        if book is not None:
            self.talk.taken.append(f"The whole record: {counted(len(book.readings), 'reading')}.")
        return self._made("book", None if book is None else base_of(book))

    def _sheets(self, sheets: list[Table]) -> ImportPlan:
        if is_own(sheets):
            self.talk.assumed.clear()
            self.talk.left.clear()
            return self._whole(read_own(sheets, self.name, self.talk))
        with_numbers = [s for s in sheets if any(numeric(c) for row in s.rows for c in row)]
        if not with_numbers:
            raise refused("import", self.name, "has no sheet with numbers", "name another file")
        sheet = with_numbers[0]
        if len(with_numbers) > 1:
            options = {s.name: counted(len(s.rows), "row") for s in with_numbers}
            answer = self.talk.choose("sheet", "Which sheet holds the readings?", options)
            if answer is None:
                return self._made("table", None)
            sheet = next(s for s in with_numbers if s.name == answer)
            for other in sheets:
                if other is not sheet:
                    self.talk.leave(f"sheet {other.name}", "the whole sheet", "another was chosen")
        return self._table(sheet)

    def _table(self, table: Table) -> ImportPlan:
        if not any(cell.strip() for row in table.rows for cell in row):
            raise refused("import", self.name, "is empty", "name a file with readings")
        layout = "table"
        if may_be_sketch(table):
            options = {
                "table": "a table: a row for each reading",
                "grid": "a sketch: each cell is a place on the floor",
            }
            layout = self.talk.choose("layout", "What do the rows of numbers form?", options) or ""
        if layout == "grid":
            survey, edge = read_sketch(table, self.talk)
            return self._composed("grid", survey, () if edge is None else (edge,))
        if layout == "table":
            return self._rows(table)
        return self._made("table", None)

    def _rows(self, table: Table) -> ImportPlan:
        second = self._places()
        placed = bool(self.into and self.into["stations"]) or second is not None
        reader = TableReader(table, self.talk, placed=placed)
        self.columns = reader.columns()
        if "value" not in reader.roles:
            if "column.value" in self.talk.open:
                return self._made("table", None)
            raise refused("import", self.name, "has no column of readings", "name that table")
        survey = reader.read()
        if second is not None:
            survey = _joined(survey, second)
        return self._composed("table", survey, ())

    def _places(self) -> Survey | None:
        """Return what the second table tells of places."""
        if self.places is None:
            return None
        name = "the table of places"
        if is_zip(self.places):
            sheets = read_sheets(self.places, name, self.talk)
            table = sheets[0]
        else:
            table = read_text(self.places, name, self.talk)
        return TableReader(table, self.talk, placed=False, second=True).read()

    def _composed(self, kind: Kind, survey: Survey, floors: tuple[Floor, ...]) -> ImportPlan:
        at = {p.id: f"{p.at[0]:g}, {p.at[1]:g}" for p in survey.places if p.at}
        self.rows = tuple(
            (
                *(e.id or "", e.station, e.finish or "", e.typed.text, e.typed.unit or ""),
                "; ".join(filter(None, ("struck" if e.struck else "", e.note or e.typed.note))),
                at.get(e.station, ""),
            )
            for e in survey.entries[:PREVIEW]
        )
        if self.talk.open:
            return self._made(kind, None)
        if self.into is not None:
            floors = ()
        if self.outline is not None:
            plan = self.into["units"]["plan"] if self.into else plan_of(survey.plan)
            floors = read_floors(self.outline, "the file of outlines", plan, self.talk)
        label = PurePath(self.name).stem or "imported"
        setting = Setting(self.name, label, self.into, floors)
        return self._made(kind, compose(survey, setting, self.talk))

    def _outlines(self, data: bytes) -> ImportPlan:
        """Return the plan of adding floors to a book."""
        if self.into is None:
            remedy = "name a book to add it to, or give it along with a table of readings"
            raise refused("outline", self.name, "is an outline without readings", remedy)
        plan: Unit = self.into["units"]["plan"]
        floors = read_floors(data, self.name, plan, self.talk)
        if self.talk.open:
            return self._made("outlines", None)
        return self._made("outlines", self._with_floors(self.into, floors))

    def _with_floors(self, base: Json, floors: tuple[Floor, ...]) -> Json | None:
        """Return the record with floors put in: a name that is there gets the new outline."""
        document = deepcopy(base)
        areas = {area["id"]: area for area in document["areas"]}
        target = self._target(list(areas)) if len(floors) == 1 else None
        if self.talk.open:
            return None
        for floor in floors:
            name = floor.name if target in (None, "new") else str(target)
            area = areas.setdefault(name, {"id": name, "kind": "living"})
            area["outline"] = floor.outline
            area.pop("holes", None)
            area |= {"holes": floor.holes} if floor.holes else {}
            corners = counted(len(floor.outline), "corner")
            self.talk.taken.append(f"The outline of {name!r}: {corners}.")
        document["areas"] = list(areas.values())
        return document

    def _target(self, areas: list[str]) -> str | None:
        if not areas:
            return "new"
        options = {name: f"it is the outline of {name!r}" for name in areas}
        options["new"] = "it is another floor"
        return self.talk.choose("area", "Which floor is this outline of?", options)


def _joined(survey: Survey, second: Survey) -> Survey:
    """Return readings with the places that a second table tells."""
    known = {place.id: place for place in second.places}
    mine = {place.id: known.get(place.id, place) for place in survey.places}
    every: dict[str, Place] = known | mine
    return replace(survey, places=tuple(every.values()), plan=second.plan or survey.plan)
