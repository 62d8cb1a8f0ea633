"""One visit's document to one flat row of figures; a bad one to what is wrong with it.

The same function serves one process, many, and a cluster, and knows neither clock nor place:
the same document gives the same row.
"""

import hashlib
import json
import unicodedata
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from levelbook import __version__
from levelbook.archive.document import to_document
from levelbook.archive.evaluation.columns import Criteria, Row, column_of
from levelbook.archive.holders import is_pdf, is_zip, may_be_sealed
from levelbook.archive.record import Entry, add_up
from levelbook.book import digest, read_book
from levelbook.book.model import Area, Book
from levelbook.book.units import convert, rise_per_run
from levelbook.errors import DocumentError, Fault, LevelbookError
from levelbook.findings import Figures, Finding, figures
from levelbook.findings.facts import GRAVITY
from levelbook.findings.model import NoGarage
from levelbook.findings.screening import unanswered
from levelbook.floor.model import Profile
from levelbook.floor.shape import AreaShape

UNFORESEEN = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    MemoryError,
    RuntimeError,
    TypeError,
    ValueError,
)
"""Faults of the program itself: one house must not cost the others their figures."""


@dataclass(frozen=True, slots=True)
class Visit:
    """What a visit's row is made from: a document, or the bodies of its entries as JSON list.

    ``packed`` is compressed, since it travels; ``digest`` is the SHA-256 of what it holds.
    """

    id: str
    firm: str
    form: Literal["document", "entries"]
    packed: bytes
    digest: str


@dataclass(frozen=True, slots=True)
class Failed:
    """A visit without a row: its first fault, and how many more there are."""

    visit: str
    code: str
    place: str
    problem: str
    remedy: str
    more: int = 0


@dataclass(frozen=True, slots=True)
class Done:
    """What became of some visits."""

    rows: tuple[Row, ...]
    failed: tuple[Failed, ...]


def program() -> str:
    """Return which program this process runs."""
    return f"levelbook {__version__}"


def pack(visit: str, firm: str, form: Literal["document", "entries"], data: bytes) -> Visit:
    """Return a visit ready to travel."""
    return Visit(visit, firm, form, zlib.compress(data, 1), hashlib.sha256(data).hexdigest())


def evaluate(visits: Sequence[Visit], criteria: Criteria) -> Done:
    """Return the rows of some visits in their order, and those that have none."""
    found = [row_or_fault(visit, criteria) for visit in visits]
    rows = tuple(each for each in found if not isinstance(each, Failed))
    return Done(rows, tuple(each for each in found if isinstance(each, Failed)))


def row_or_fault(visit: Visit, criteria: Criteria) -> Row | Failed:
    """Return a visit's row, or why there is none."""
    try:
        return row(visit, criteria)
    except DocumentError as error:
        return failed(visit.id, error.faults)
    except LevelbookError as error:
        return failed(visit.id, (Fault("error", "book", str(error), "mend the book"),))
    except UNFORESEEN as error:
        problem = f"a fault of the program ({type(error).__name__}: {error})"[:500]
        return failed(visit.id, (Fault("program", "book", problem, "please report it"),))


def failed(visit: str, faults: Sequence[Fault]) -> Failed:
    """Return a visit that has faults as one without a row."""
    first = faults[0]
    return Failed(visit, first.code, first.place, first.problem, first.remedy, len(faults) - 1)


def row(visit: Visit, criteria: Criteria) -> Row:
    """Return a visit's row.

    Raises
    ------
    LevelbookError
        If it is no whole book, or an instrument has no spread.
    """
    told = row_of(read(visit), criteria)
    return told | {"visit": visit.id} | ({"firm": visit.firm} if visit.firm else {})


def row_of(book: Book, criteria: Criteria) -> Row:
    """Return the row of a book, without the name that its visit has in a store.

    Raises
    ------
    UsageError
        If an instrument has no spread.
    """
    found = figures(book, criteria=criteria.sets)
    told: Row = dict.fromkeys(column.name for column in criteria.columns)
    told |= {"firm": book.visit.firm, "program": program(), "criteria": criteria.digest}
    told |= _written(book) | _counted(book, found) | _garage(book, found)
    main = main_floor(book, found)
    return told | ({} if main is None else _shape(book, *main)) | _judged(found.findings)


def read(visit: Visit) -> Book:
    """Return the book of a visit.

    Raises
    ------
    DocumentError
        With all its faults, if it is no whole book.
    """
    data = zlib.decompress(visit.packed)
    if visit.form == "document":
        return _opened(data)
    entries = (Entry(**json.loads(body)) for body in json.loads(data))
    return read_book(json.dumps(to_document(add_up(entries))))


def _opened(data: bytes) -> Book:
    if not (is_pdf(data) or is_zip(data) or may_be_sealed(data)):
        return read_book(data)
    # What opens reports and seals takes a while to load: plain books do without.
    from levelbook.archive.opening import open_bytes

    return open_bytes(data).book


def main_floor(book: Book, found: Figures) -> tuple[Area, AreaShape] | None:
    """Return the largest floor that is built level and has a surface, if there is one."""
    built = ((area, found.floor.areas.get(area.id)) for area in book.areas)
    rooms = [
        (area, shape)
        for area, shape in built
        if isinstance(shape, AreaShape) and area.kind not in ("garage", "porch")
    ]
    return max(rooms, key=lambda room: _size(room[0]), default=None)


def house_of(book: Book) -> str:
    """Return 16 digits that are the same for all visits to a house, as far as books tell.

    From the address; without one, from label and outlines, which a book for a repeat visit
    takes over.
    """
    address, label = _words(book.property.address or ""), _words(book.property.label)
    outlines = sorted([area.kind, *area.outline] for area in book.areas)
    parts = ["address", address] if address else ["label", label, outlines]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:16]


def _words(text: str) -> str:
    """Return the words of a text without accents, capitals and signs."""
    plain = unicodedata.normalize("NFKD", text).casefold()
    kept = (c if c.isalnum() else " " for c in plain if not unicodedata.combining(c))
    return " ".join("".join(kept).split())


def _size(area: Area) -> float:
    return float(shapely.Polygon(area.outline, area.holes).area)


def _written(book: Book) -> Row:
    house, visit = book.property, book.visit
    return {
        "house": house_of(book),
        "sha256": digest(book),
        "date": visit.date[:10],
        "purpose": visit.purpose,
        "foundation": house.foundation,
        "year_built": house.year_built,
        "post_tensioned": house.post_tensioned,
        "written_in": book.units.level,
    }


def _counted(book: Book, found: Figures) -> Row:
    struck = sum(reading.struck for reading in book.readings)
    return {
        "areas": len(book.areas),
        "stations": len(found.levels.ids),
        "readings": len(book.readings) - struck,
        "struck": struck,
        "suspects": len(unanswered(book, found.floor)),
        "distress": len(book.distress),
        "fits": found.levels.fit.ok,
        "outcome": found.outcome,
        "overruled": found.overruled,
    }


def _garage(book: Book, found: Figures) -> Row:
    main = found.water.main
    if main is None or isinstance(main, NoGarage):
        return {}
    mm = convert(1.0, book.units.level, "mm")
    fall = {"garage_fall": main.fall.value * mm, "garage_fall_sd": main.fall.sd * mm}
    return {"garage": main.verdict, **fall}


def _shape(book: Book, area: Area, shape: AreaShape) -> Row:
    mm, metre = convert(1.0, book.units.level, "mm"), convert(1.0, book.units.plan, "m")
    told: Row = {
        "floor": area.id,
        "size": _size(area) * metre**2,
        "used": len(shape.surface.stations),
        "range": shape.range.value * mm,
        "range_sd": shape.range.sd * mm,
        "tilt": shape.tilt.slope,
        "tilt_sd": shape.tilt.sd,
        "bend": shape.bend.word,
    }
    if shape.steepest is not None:
        told |= {"steepest": shape.steepest.slope, "steepest_sd": shape.steepest.sd}
    return told if shape.deflection is None else told | _bent(book, shape.deflection)


def _bent(book: Book, worst: Profile) -> Row:
    mm, metre = convert(1.0, book.units.level, "mm"), convert(1.0, book.units.plan, "m")
    scale = rise_per_run(book.units) / worst.length
    return {
        "deflection": worst.deflection * mm,
        "deflection_sd": worst.sd * mm,
        "deflection_length": worst.length * metre,
        "deflection_ratio": abs(worst.deflection) * scale,
        "deflection_ratio_sd": worst.sd * scale,
    }


def _judged(findings: Iterable[Finding]) -> Row:
    """Return the gravest finding of every criterion, with the value that it rests on."""
    by_name: dict[str, list[Finding]] = {}
    for finding in findings:
        by_name.setdefault(column_of(finding.set, finding.id), []).append(finding)
    told: Row = {}
    for name, some in by_name.items():
        worst = max(some, key=_weight)
        told |= {name: worst.state, f"{name}/value": worst.value, f"{name}/sd": worst.sd}
    return told


def _weight(finding: Finding) -> tuple[int, float]:
    """Return how much a finding weighs among those on the same criterion."""
    value = finding.value or 0.0
    return GRAVITY.index(finding.state), -value if finding.at_least else value
