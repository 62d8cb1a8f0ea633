"""Sheets of an XLSX or ODS file as tables, after the file has been looked through.

Formulas count with the results stored beside them, which is told; hidden sheets are left, and
told. The size of a sheet is known before it is laid out, since a single cell in the last
corner would otherwise ask for gigabytes.
"""

import datetime as dt
import io
import re
from collections.abc import Iterator
from dataclasses import replace
from xml.etree.ElementTree import ParseError

from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]
from defusedxml.ElementTree import iterparse  # type: ignore[import-untyped]
from python_calamine import CalamineError, CalamineWorkbook, SheetVisibleEnum

from levelbook.book.numbers import counted
from levelbook.exchange.guard import MOST_CELLS, PROGRAMS, REMEDY, checked_spreadsheet
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.struck import Sheets
from levelbook.exchange.struck_ods import OdsSheets
from levelbook.exchange.struck_xlsx import XlsxSheets
from levelbook.exchange.tables import LARGEST, Table, make_table

OLD = b"\xd0\xcf\x11\xe0"
_SPOT = re.compile(rb"<(?:\w+:)?(?:c|row)\b[^<>]*?\br=\"([A-Z]{0,4})(\d{1,8})\"")
_FORMULA = re.compile(rb"<(?:\w+:)?f\b|table:formula=")
_BARE = re.compile(
    rb"<c\b[^<>]*>\s*<f\b[^<>]*(?:/>|>[^<]*</f>)\s*(?:<v\s*/>\s*|<v>\s*</v>\s*)?</c>"
)
_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?(?:row|col)\b[^<>]*\bhidden=\"(?:1|true)\"")
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"

Cell = int | float | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta


def is_old(data: bytes) -> bool:
    """Return whether the data begin as an old or encrypted spreadsheet does."""
    return data.startswith(OLD)


def read_sheets(data: bytes, name: str, talk: Interview) -> list[Table]:
    """Return the visible sheets that hold anything, in order.

    Raises
    ------
    DocumentError
        If the file is hostile, damaged, or no spreadsheet.
    """
    if len(data) > LARGEST:
        raise refused("too-large", name, f"is larger than {LARGEST // 10**6} MB", "split it")
    parts, safe = checked_spreadsheet(data, name)
    _check_size(parts, name)
    _tell(parts, talk)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(safe))
        looks = OdsSheets(parts) if "content.xml" in parts else XlsxSheets(parts)
        return list(_visible(book, looks, talk))
    except (CalamineError, ParseError, ValueError, RecursionError) as error:
        told = " ".join(str(error).split())[:120]
        raise refused(
            "table", name, f"is no spreadsheet that can be read ({told})", REMEDY
        ) from None


def _visible(book: CalamineWorkbook, looks: Sheets, talk: Interview) -> Iterator[Table]:
    if looks.by_rule():
        talk.assumed.append(
            "The file has a rule that strikes cells through by what they hold (conditional "
            "formatting). Such a line counts for nothing here: look at those cells."
        )
    for sheet in book.sheets_metadata:
        if sheet.visible is not SheetVisibleEnum.Visible:
            talk.leave(f"sheet {sheet.name}", "the whole sheet", "the sheet is hidden")
            continue
        found = book.get_sheet_by_name(sheet.name)
        rows = found.to_python(skip_empty_area=False)
        if rows:
            yield replace(_as_table(sheet.name, rows), struck=looks.on(sheet.name))


def _as_table(name: str, rows: list[list[Cell]]) -> Table:
    dates = frozenset(
        (i, j)
        for i, row in enumerate(rows)
        for j, cell in enumerate(row)
        if isinstance(cell, dt.date | dt.time | dt.timedelta)
    )
    stored = frozenset(
        (i, j)
        for i, row in enumerate(rows)
        for j, cell in enumerate(row)
        if isinstance(cell, int | float) and not isinstance(cell, bool)
    )
    table = make_table(name, [[cell_text(cell) for cell in row] for row in rows], dates)
    return replace(table, stored=stored)


def cell_text(cell: Cell) -> str:
    """Return a cell as text; a number in the fewest digits that tell it to 12 places."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, int | float):
        if float(cell).is_integer() and abs(cell) < 1e15:
            return str(int(cell))
        text = f"{cell:.12g}"
        return text if "e" not in text else f"{cell:.15f}".rstrip("0")
    if isinstance(cell, dt.datetime):
        midnight = cell.time() == dt.time()
        return cell.date().isoformat() if midnight else cell.isoformat()
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    return str(cell) if isinstance(cell, dt.timedelta) else cell


def _check_size(parts: dict[str, bytes], name: str) -> None:
    """Refuse sheets that would be laid out over more cells than are taken."""
    for part, content in parts.items():
        if re.search(r"worksheets/[^/]+\.xml$", part):
            rows, columns = _corner(content)
        elif part == "content.xml":
            rows, columns = _ods_size(content, name)
        else:
            continue
        if rows * columns > MOST_CELLS:
            problem = f"spreads over {rows:,} rows and {columns:,} columns"
            remedy = "delete what stands far from the table"
            raise refused("table", f"{name}: {part}", problem, remedy)


def _corner(content: bytes) -> tuple[int, int]:
    """Return the last row and column of an XLSX sheet; cells may come without their place."""
    rows = columns = 1
    for letters, digits in set(_SPOT.findall(content)):
        rows = max(rows, int(digits))
        columns = max(columns, _number(letters))
    unplaced = content.count(b"<c>") + content.count(b"<row>")
    return rows + unplaced, columns + min(unplaced, 16_384)


def _number(letters: bytes) -> int:
    number = 0
    for code in letters:
        number = 26 * number + code - 64
    return number


def _ods_size(content: bytes, name: str) -> tuple[int, int]:
    """Return how many rows and columns an ODS table takes, repeated cells counted."""
    rows = columns = width = filled = 0
    pending = 0
    try:
        for _, element in iterparse(io.BytesIO(content), events=("end",)):
            if element.tag == f"{_TABLE}table-cell":
                times = _times(element.get(f"{_TABLE}number-columns-repeated"))
                width += times
                filled = width if len(element) or element.attrib.keys() - _BLANK else filled
            elif element.tag == f"{_TABLE}table-row":
                times = _times(element.get(f"{_TABLE}number-rows-repeated"))
                pending += times
                if filled:
                    rows, pending = rows + pending, 0
                columns, width, filled = max(columns, filled), 0, 0
                element.clear()
    except (ParseError, DefusedXmlException, ValueError):
        raise refused("table", name, "is no spreadsheet that can be read", REMEDY) from None
    return rows, columns


_BLANK = {f"{_TABLE}number-columns-repeated", f"{_TABLE}style-name"}


def _times(text: str | None) -> int:
    return max(1, int(text)) if text else 1


def _tell(parts: dict[str, bytes], talk: Interview) -> None:
    """Tell what a reader of the sheet should know: formulas, and what is hidden in it."""
    sheets = [c for p, c in parts.items() if "worksheets/" in p or p == "content.xml"]
    formulas = sum(len(_FORMULA.findall(content)) for content in sheets)
    if formulas:
        cells = "1 cell is a formula" if formulas == 1 else f"{formulas:,} cells are formulas"
        talk.assumed.append(f"{cells}; the results stored in the file were taken.")
    bare = sum(len(_BARE.findall(content)) for content in sheets)
    if bare:
        why = "the formula has no stored result: open and save the file in a spreadsheet program"
        talk.leave("formulas", counted(bare, "cell"), why)
    for part in filter(PROGRAMS.search, parts):
        talk.leave(part, "a program or an embedded file", "nothing in a file is ever run")
    if any(_HIDDEN_ROW.search(content) for content in sheets):
        talk.assumed.append("Some rows or columns are hidden; they were read like the others.")
