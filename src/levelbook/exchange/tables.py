"""Tables as rows of cells: from text with separators, of whatever encoding, or pasted."""

import codecs
import csv
import io
from collections import Counter
from dataclasses import dataclass, replace
from itertools import islice

from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.struck import NOTHING, Struck

LARGEST = 30_000_000
"""Most bytes of a table. Ours: 100,000 rows of 200 letters need two thirds of it."""
MOST_ROWS, MOST_COLUMNS = 200_000, 500
_SEPARATORS = "\t;|,"
_SAMPLE = 200
_LONG = 100_000
"""Separators in one line that no table has, remarks with commas in them counted."""
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class Table:
    """Rows of cells as text, with the number that each row has in its file.

    ``dates`` are the places (row in ``rows``, column) of cells that hold a date or time,
    ``stored`` of those that hold a number itself: its text here has a point, whatever the
    sheet shows. ``struck`` are those of cells that are struck through, and of words struck
    within a cell. ``separator`` is what sets the cells of a text apart.
    """

    name: str
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    dates: frozenset[tuple[int, int]] = frozenset()
    stored: frozenset[tuple[int, int]] = frozenset()
    struck: Struck = NOTHING
    separator: str = ""

    @property
    def width(self) -> int:
        """How many columns the widest row has."""
        return max(map(len, self.rows), default=0)

    def cell(self, row: int, column: int) -> str:
        """Return the name of a cell in its file, with the sheet's: ``Floor, cell C4``."""
        return f"{self.name}, cell {letter(column)}{self.numbers[row]}"


def make_table(
    name: str, rows: list[list[str]], dates: frozenset[tuple[int, int]] = frozenset()
) -> Table:
    """Return a table of rows numbered from 1; every row gets the same width.

    Raises
    ------
    DocumentError
        If it has more rows or columns than can be taken.
    """
    if len(rows) > MOST_ROWS:
        raise refused("table", name, f"has more than {MOST_ROWS:,} rows", "split the table")
    width = max(map(len, rows), default=0)
    if width > MOST_COLUMNS:
        problem = f"has {width:,} columns"
        raise refused("table", name, problem, f"keep at most {MOST_COLUMNS}, and look for quotes")
    even = tuple(tuple(row) + ("",) * (width - len(row)) for row in rows)
    return Table(name, even, tuple(range(1, len(even) + 1)), dates)


def letter(column: int) -> str:
    """Return a column's letter as spreadsheets name it, from 0: A, B, …, Z, AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def read_text(data: bytes | str, name: str, talk: Interview) -> Table:
    """Return the table in a text; separators and encoding are found from the text itself.

    Raises
    ------
    DocumentError
        If it is no text, or its quotes do not close.
    """
    if len(data) > LARGEST:
        raise refused("too-large", name, f"is larger than {LARGEST // 10**6} MB", "split the table")
    text = data if isinstance(data, str) else decode(data, name, talk)
    if max(text.count("\n"), text.count("\r")) > MOST_ROWS:
        raise refused("table", name, f"has more than {MOST_ROWS:,} rows", "split the table")
    lines = text.splitlines()
    if lines and lines[0].lower().startswith("sep=") and len(lines[0]) <= 6:
        separator, text = lines[0][4:5] or ",", "\n" + text.split("\n", 1)[-1]
    else:
        separator = find_separator(lines[:_SAMPLE])
    if any(line.count(separator) > _LONG for line in lines):
        remedy = f"keep at most {MOST_COLUMNS} columns, and look for missing ends of lines"
        raise refused("table", name, "has a line of very many cells", remedy)
    del lines
    table = make_table(name, _parsed(text, separator, name))
    return replace(table, separator=separator)


def _parsed(text: str, separator: str, name: str) -> list[list[str]]:
    """Return the cells of a text; runs of spaces separate where nothing else does."""
    if separator == " ":
        return [line.split() for line in text.splitlines()]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        rows = list(islice(reader, MOST_ROWS + 1))
    except csv.Error as error:
        problem = f"line {reader.line_num:,} cannot be read ({error})"
        raise refused("table", name, problem, "look for a quote that does not close") from None
    return [[_unguarded(cell) for cell in row] for row in rows]


def _unguarded(cell: str) -> str:
    """Return a cell without the apostrophe that keeps a text from being taken for a formula."""
    if cell.startswith("'") and cell[1:].lstrip("' \u00a0").startswith(_GUARDED):
        return cell[1:]
    return cell


_GUARDED = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def decode(data: bytes, name: str, talk: Interview) -> str:
    """Return the text of bytes: UTF-8, UTF-16, or else the old Windows encoding, which is told.

    Raises
    ------
    DocumentError
        If the bytes are no text.
    """
    encoding = next((known for mark, known in _MARKS if data.startswith(mark)), _unmarked(data))
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        if encoding != "utf-8":
            raise refused("encoding", name, "is damaged text", "save it as UTF-8") from None
        text = data.decode("cp1252", "replace")
        talk.assumed.append(
            "The text is not UTF-8; it was read as Windows-1252. Look at letters with accents."
        )
    if "\0" in text:
        raise refused("encoding", name, "is no text", "save it as CSV, UTF-8")
    return text


def _unmarked(data: bytes) -> str:
    """Return the encoding of a text without a mark: UTF-16 has a zero in every second byte."""
    head = data[:400]
    if head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    return "utf-16-be" if head[::2].count(0) > len(head) // 4 else "utf-8"


def find_separator(lines: list[str]) -> str:
    """Return what separates the cells: what stands, outside quotes, in nearly every line.

    A tab, a semicolon or a bar goes before a comma, which may stand before decimals; where
    there is none of them, runs of spaces separate.
    """
    full = [line for line in lines if line.strip()]
    for separator in _SEPARATORS:
        counts = Counter(_outside(line, separator) for line in full)
        having = len(full) - counts[0]
        if full and having >= 0.6 * len(full) and having >= 1:
            return separator
    spaced = sum(len(line.split()) > 1 for line in full)
    return " " if full and spaced == len(full) else ","


def _outside(line: str, separator: str) -> int:
    """Return how often a sign stands outside double quotes."""
    return sum(part.count(separator) for part in line.split('"')[::2])
