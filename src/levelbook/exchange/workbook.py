"""A workbook with live formulas: from as written to level, every correction open to change.

Sheet *Readings* takes each reading from its text to the level that it alone gives, looking up
sense, constant and drift in *Setups* and the height in *Finishes*; *Stations* weighs them
together. Change a height, a constant, a value or the mark of a struck reading, and every level
follows. Names are looked up letter by letter (``EXACT``), since the usual lookups take ``a``
for ``A`` and ``*`` for anything. Text is written as text: nothing that a user wrote is ever
taken for a formula. Sheet *Record* holds the document itself, so that nothing is lost.
"""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from levelbook.book import write_book
from levelbook.book.model import Book, Reading
from levelbook.exchange.drawing_file import WORDS
from levelbook.exchange.steps import steps
from levelbook.findings.model import Assessment

SHEETS = ("Read me", "Stations", "Readings", "Finishes", "Setups", "Covariance", "Record")
READINGS = (
    *("reading", "setup", "station", "finish", "as written", "value", "struck", "sense"),
    *("signed", "finish height", "setup constant", "hours", "drift", "gives", "weight"),
    *("time", "instead", "note"),
)
STATIONS = ("station", "area", "x", "y", "group", "level", "sd", "readings", "moved", "note")
FINISHES = ("finish", "name", "height", "sd", "group")
SETUPS = ("setup", "instrument", "sense", "constant", "sd", "drift per hour", "variance", "group")
MOST_COVARIANCE = 500
"""Stations beyond this have no covariance in the workbook; the package has all in a table."""
PIECE = 30_000
"""Longest piece of the record in one cell; a cell takes 32,767 characters."""
_USUAL, _LINE = 13, 15


@dataclass(frozen=True)
class _Styles:
    head: Format
    text: Format
    wrap: Format
    open: Format
    number: Format


def workbook(assessment: Assessment) -> bytes:
    """Return the workbook (XLSX) of one visit; the same assessment gives the same bytes."""
    book, data = assessment.book, io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(data, options) as file:
        file.set_properties({"title": book.property.label[:200], "created": _date(book)})
        styles = _Styles(
            file.add_format({"bold": True, "text_wrap": True, "bottom": 1}),
            file.add_format({"num_format": "@"}),
            file.add_format({"num_format": "@", "text_wrap": True}),
            file.add_format({"bg_color": "#FFF6DA", "num_format": "0.0000"}),
            file.add_format({"num_format": "0.0000"}),
        )
        sheets = {name: file.add_worksheet(name) for name in SHEETS}
        _read_me(sheets["Read me"], assessment, styles)
        _stations(sheets["Stations"], assessment, styles)
        _readings(sheets["Readings"], assessment, styles)
        _finishes(sheets["Finishes"], assessment, styles)
        _setups(sheets["Setups"], assessment, styles)
        _covariance(sheets["Covariance"], assessment, styles)
        _record(sheets["Record"], book, styles)
        for sheet in sheets.values():
            sheet.set_landscape()
            sheet.fit_to_pages(1, 0)
            sheet.set_footer("&L&F  &A&RPage &P of &N")
    return data.getvalue()


def _date(book: Book) -> datetime:
    """Return the visit's day: the file's own time, so that the same book gives the same bytes."""
    try:
        return datetime.fromisoformat(book.visit.date[:10])
    except ValueError:
        return datetime(2000, 1, 1)


def _head(sheet: Worksheet, names: Sequence[str], styles: _Styles) -> None:
    for column, name in enumerate(names):
        sheet.write_string(0, column, name, styles.head)
    sheet.freeze_panes(1, 1)
    sheet.repeat_rows(0)
    sheet.set_column(0, len(names) - 1, _USUAL)


def _read_me(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    book = assessment.book
    lines = [
        book.property.label,
        f"Visit of {book.visit.date}",
        f"Levels in {WORDS[book.units.level]}, places in {WORDS[book.units.plan]}",
        "gives = sense × value − finish height − setup constant − drift, for readings not struck",
        "level = mean of what a station's readings give, weighted by 1 / variance",
        "Where finish and setup cannot be told apart, or serve groups with zeros of their own, "
        "the sum of both stands beside the reading, in the column of the setup.",
        "Shaded cells may be changed; every level follows. An sd does not follow a change.",
        "Levels of different groups do not compare. This describes; it is not engineering.",
        f"Record (SHA-256): {assessment.digest}; sheet Record holds it whole",
    ]
    if len(assessment.levels.ids) > MOST_COVARIANCE:
        lines.append(f"Covariance holds the first {MOST_COVARIANCE} stations alone.")
    sheet.set_column(0, 0, 100, styles.wrap)
    for i, line in enumerate(lines):
        sheet.set_row(i, _LINE * (1 + len(line) // 95))
        sheet.write_string(i, 0, line, styles.head if i == 0 else styles.wrap)


def _stations(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    """Write a row a station; its level is a formula over the readings' sheet."""
    levels, last = assessment.levels, max(2, len(assessment.book.readings) + 1)
    _head(sheet, STATIONS, styles)
    at, gives, weight = (f"Readings!${c}$2:${c}${last}" for c in ("C", "N", "O"))
    for i, station in enumerate(assessment.book.stations, 1):
        found = levels.stations.get(station.id)
        texts = {0: station.id, 1: station.area, 8: station.moved, 9: station.note}
        _texts(sheet, i, texts, styles)
        sheet.write_number(i, 2, station.at[0])
        sheet.write_number(i, 3, station.at[1])
        if found is None:
            continue
        _texts(sheet, i, {4: found.group}, styles)
        own = f"EXACT({at},A{i + 1})*{weight}"
        formula = f"=SUMPRODUCT({own}*{gives})/SUMPRODUCT({own})"
        sheet.write_formula(i, 5, formula, styles.number, found.level)
        sheet.write_number(i, 6, found.sd, styles.number)
        sheet.write_number(i, 7, len(found.readings))


def _readings(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    """Write a row a reading, the corrections looked up where they stand."""
    _head(sheet, READINGS, styles)
    book = assessment.book
    setups, finishes = len(book.setups) + 1, len(book.finishes) + 1
    for i, step in enumerate(steps(book, assessment.levels), 1):
        n = i + 1
        _as_written(sheet, i, step.reading, styles)
        sheet.write_number(i, 5, step.value, styles.open)
        sheet.write_number(i, 6, int(step.reading.struck), styles.open)
        cells = (
            (7, "=" + _look("Setups", "C", setups, f"B{n}"), step.sense),
            (8, f"=H{n}*F{n}", step.signed),
            (9, "=" + _look("Finishes", "C", finishes, f"D{n}"), step.finish),
            (10, "=" + _look("Setups", "D", setups, f"B{n}"), step.setup),
            (12, f"=L{n}*" + _look("Setups", "F", setups, f"B{n}"), step.drift),
            (13, f"=I{n}-J{n}-K{n}-M{n}", step.gives),
            (14, f"=IF(G{n}=0,1/{_look('Setups', 'G', setups, f'B{n}')},0)", step.weight),
        )
        for column, formula, value in cells:
            sheet.write_formula(i, column, formula, styles.number, value)
        sheet.write_number(i, 11, step.hours, styles.number)
        if step.together:
            sheet.write_number(i, 9, 0.0, styles.open)
            sheet.write_number(i, 10, step.setup, styles.open)


def _look(sheet: str, column: str, last: int, key: str) -> str:
    """Return the formula of the number in ``column`` beside the name that is exactly ``key``."""
    last = max(2, last)
    names, numbers = f"{sheet}!$A$2:$A${last}", f"{sheet}!${column}$2:${column}${last}"
    return f"SUMPRODUCT(EXACT({names},{key})*{numbers})"


def _as_written(sheet: Worksheet, i: int, r: Reading, styles: _Styles) -> None:
    _texts(sheet, i, {0: r.id, 1: r.setup, 2: r.station, 3: r.finish, 4: r.value}, styles)
    _texts(sheet, i, {15: r.time, 16: r.instead, 17: r.note}, styles)


def _finishes(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    _head(sheet, FINISHES, styles)
    for i, finish in enumerate(assessment.book.finishes, 1):
        found = assessment.levels.finishes[finish.id]
        _texts(sheet, i, {0: finish.id, 1: finish.name, 4: found.group}, styles)
        _numbers(sheet, i, {2: found.height, 3: found.sd}, styles.open)


def _setups(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    _head(sheet, SETUPS, styles)
    instruments = {i.id: i for i in assessment.book.instruments}
    for i, setup in enumerate(assessment.book.setups, 1):
        found, tool = assessment.levels.setups[setup.id], instruments[setup.instrument]
        _texts(sheet, i, {0: setup.id, 1: setup.instrument, 7: found.group}, styles)
        _numbers(sheet, i, {2: tool.sense, 3: found.constant}, styles.open)
        _numbers(sheet, i, {4: found.sd}, styles.number)
        _numbers(sheet, i, {5: found.drift, 6: tool.variance}, styles.open)


def _covariance(sheet: Worksheet, assessment: Assessment, styles: _Styles) -> None:
    """Write the covariance matrix of the levels, in level units squared."""
    ids = assessment.levels.ids[:MOST_COVARIANCE]
    _head(sheet, ("station", *ids), styles)
    for i, (name, row) in enumerate(zip(ids, assessment.levels.covariance(ids), strict=True), 1):
        sheet.write_string(i, 0, name, styles.text)
        _numbers(sheet, i, dict(enumerate(row.tolist(), 1)), styles.number)


def _record(sheet: Worksheet, book: Book, styles: _Styles) -> None:
    """Write the document, a line a row; what is no ASCII is escaped as JSON permits."""
    sheet.set_column(0, 0, 100)
    for i, line in enumerate(write_book(book).split("\n")):
        plain = "".join(c if c.isascii() else _escaped(c) for c in line)
        for k in range(0, len(plain), PIECE):
            sheet.write_string(i, k // PIECE, plain[k : k + PIECE], styles.text)


def _escaped(character: str) -> str:
    """Return one character as JSON escapes it, in UTF-16 units."""
    units = character.encode("utf-16-be")
    return "".join(f"\\u{units[k : k + 2].hex()}" for k in range(0, len(units), 2))


def _texts(sheet: Worksheet, i: int, cells: Mapping[int, str | None], styles: _Styles) -> None:
    for column, text in cells.items():
        if text:
            sheet.write_string(i, column, text, styles.text)


def _numbers(sheet: Worksheet, i: int, cells: Mapping[int, float | None], style: Format) -> None:
    for column, value in cells.items():
        if value is not None:
            sheet.write_number(i, column, value, style)
