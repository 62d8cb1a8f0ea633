"""A workbook of this program read back: the record it carries, and what was changed beside it."""

from dataclasses import dataclass

from levelbook.book import read_book, write_book
from levelbook.book.model import Book, Reading
from levelbook.book.numbers import parse_value
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.tables import Table
from levelbook.exchange.workbook import READINGS

RECORD = "Record"


@dataclass(frozen=True)
class Changed:
    """A reading whose value or mark in the sheet is another than in the record."""

    reading: Reading
    value: str
    struck: bool

    def __str__(self) -> str:
        mark = ", struck" if self.struck else ""
        return f"{self.reading.id}: {self.reading.value} is {self.value}{mark} in the sheet"


def is_own(sheets: list[Table]) -> bool:
    """Return whether the sheets are those of a workbook that this program wrote."""
    return any(sheet.name == RECORD and _text(sheet).startswith("{") for sheet in sheets)


def _text(sheet: Table) -> str:
    """Return the record's text, its pieces joined."""
    return "\n".join("".join(row) for row in sheet.rows)


def read_own(sheets: list[Table], name: str, talk: Interview) -> Book | None:
    """Return the book of the record, with the sheet's changes if those are wanted.

    Raises
    ------
    DocumentError
        If the record is damaged.
    """
    book = read_book(_text(next(sheet for sheet in sheets if sheet.name == RECORD)))
    found = _changes(book, sheets, name)
    if not found:
        return book
    some = "; ".join(map(str, found[:5]))
    options = {
        "record": "leave the changes: take the record as it was",
        "sheet": "take the changes: the old reading is struck, the new one takes its place",
    }
    differ = "1 reading differs" if len(found) == 1 else f"{len(found)} readings differ"
    asks = f"{differ} from the record ({some}). Which holds?"
    answer = talk.choose("changes", asks, options)
    if answer == "record":
        for change in found:
            talk.leave(f"sheet Readings, {change.reading.id}", str(change), "the record holds")
    return _with(book, found) if answer == "sheet" else book if answer else None


def _changes(book: Book, sheets: list[Table], name: str) -> list[Changed]:
    sheet = next((sheet for sheet in sheets if sheet.name == "Readings"), None)
    if sheet is None or not sheet.rows or sheet.rows[0][: len(READINGS)] != READINGS:
        return []
    readings = {reading.id: reading for reading in book.readings}
    at = {title: i for i, title in enumerate(READINGS)}
    found = []
    for i, row in enumerate(sheet.rows[1:], 1):
        reading = readings.get(row[at["reading"]])
        if reading is None:
            continue
        value, struck = row[at["value"]], row[at["struck"]] not in ("0", "", "false")
        struck = struck or (i, at["value"]) in sheet.struck.whole
        try:
            same = abs(float(value) - float(parse_value(reading.value))) < 1e-9
        except ValueError:
            problem = f"the value {value[:20]!r} is no number"
            place = f"{name}: Readings, {reading.id}"
            raise refused("table", place, problem, "write a number there") from None
        if not same or struck != reading.struck:
            found.append(Changed(reading, reading.value if same else value, struck))
    return found


def _with(book: Book, changes: list[Changed]) -> Book:
    """Return the book with the changes made as on paper: struck, and written anew beside."""
    by_id = {change.reading.id: change for change in changes}
    taken = {reading.id for reading in book.readings}
    readings: list[Reading] = []
    for reading in book.readings:
        change = by_id.get(reading.id)
        if change is None:
            readings.append(reading)
        elif change.value == reading.value:
            readings.append(_copy(reading, struck=change.struck, instead=None))
        else:
            fresh = next(n for k in range(1, 10**6) if (n := f"{reading.id[:58]}~{k}") not in taken)
            taken.add(fresh)
            note = "; ".join(filter(None, (reading.note, "changed in the workbook")))
            new: dict[str, str | bool] = {
                "id": fresh,
                "value": change.value,
                "struck": change.struck,
                "note": note,
            }
            readings.append(_copy(reading, struck=True, instead=fresh))
            readings.append(_copy(reading, **new, instead=None))
    return read_book(write_book(book.model_copy(update={"readings": tuple(readings)})))


def _copy(reading: Reading, **changes: str | bool | None) -> Reading:
    """Return a reading with changes; a key set to ``None`` is left out."""
    kept = reading.model_dump(exclude_unset=True) | changes
    return Reading.model_validate({key: value for key, value in kept.items() if value is not None})
