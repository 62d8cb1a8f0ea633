"""Readings and levels as CSV, for spreadsheets and for those who rework the figures.

UTF-8 with a byte-order mark, because the spreadsheets most inspectors use take a file without
one for another encoding; comma-separated with CRLF line ends (RFC 4180); a point for the
decimal; numbers in full, a cell left empty where there is none.

A text that a spreadsheet could take for a formula (it begins with ``=``, ``+``, ``-``, ``@``, a
tab or a line end, and is no number) gets an apostrophe before it. A reading as written, such
as ``-5/8``, is text; the column ``value`` beside it holds the number.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence

from levelbook.book.model import Book
from levelbook.book.numbers import parse_value
from levelbook.findings.model import Assessment
from levelbook.report.corrections import correct

MARK = "\ufeff"
READINGS = (
    *("reading", "setup", "station", "finish", "as_written", "value", "time", "struck"),
    *("instead", "signed", "finish_height", "setup_constant", "drift", "gives", "residual"),
    *("w", "level", "sd", "note"),
)
STATIONS = (
    *("station", "area", "x", "y", "plan_unit", "group", "level", "sd", "level_unit"),
    *("readings", "moved", "note"),
)
"""Columns of the two files."""

Cell = str | float | int | bool | None
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")


def safe(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; a plain number stays a number.

    A text that begins with an apostrophe already gets one more, so that taking the first off
    always gives the text back.
    """
    if not text.lstrip(" \u00a0'").startswith(_RISKY) or _NUMBER.fullmatch(text):
        return text
    return "'" + text


def readings_csv(assessment: Assessment) -> bytes:
    """Return every reading in document order, with its corrections and its station's level.

    Lengths are in the book's level unit; ``gives = signed - finish_height - setup_constant -
    drift`` and ``level = gives - residual``, an empty cell counting nothing; where the finish's
    height is empty, the setup's constant holds it as well.
    """
    book = assessment.book
    rows: list[Sequence[Cell]] = []
    for row in correct(book, assessment.levels):
        r = row.reading
        own: tuple[Cell, ...] = (r.id, r.setup, r.station, r.finish, r.value)
        steps: tuple[Cell, ...] = (row.signed, row.finish, row.setup, row.drift, row.gives)
        rows.append(
            (
                *own,
                float(parse_value(r.value)),
                r.time,
                r.struck,
                r.instead,
                *steps,
                row.residual,
                row.w,
                row.level,
                row.sd,
                r.note,
            )
        )
    return _csv(READINGS, rows)


def levels_csv(assessment: Assessment) -> bytes:
    """Return every station in document order with its place, level and standard deviation.

    Places are in the book's plan unit and levels in its level unit, named in each row.
    """
    book = assessment.book
    return _csv(STATIONS, (_station(assessment, book, i) for i in range(len(book.stations))))


def _station(assessment: Assessment, book: Book, i: int) -> Sequence[Cell]:
    station = book.stations[i]
    found = assessment.levels.stations.get(station.id)
    level: tuple[Cell, ...] = (None, None, None)
    if found is not None:
        level = (found.group, found.level, found.sd)
    return (
        station.id,
        station.area,
        *station.at,
        book.units.plan,
        *level,
        book.units.level,
        None if found is None else " ".join(found.readings),
        station.moved,
        station.note,
    )


def _csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return (MARK + out.getvalue()).encode("utf-8", "replace")


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return safe(cell) if isinstance(cell, str) else repr(cell)
