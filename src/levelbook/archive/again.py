"""An empty book for the next visit to a house: the same places, nothing read yet."""

from datetime import date
from typing import Any

from levelbook.book import digest
from levelbook.book.model import Book
from levelbook.errors import UsageError

#: What stays the same from visit to visit; all else is looked at anew.
KEPT = (
    "format",
    "units",
    "property",
    "instruments",
    "areas",
    "walls",
    "marks",
    "finishes",
    "stations",
    "sections",
    "reference",
)
EARLIER = "earlier_visit"


def again(book: Book, day: str) -> Book:
    """Return a book for a visit on ``day`` (ISO 8601) to the house of an earlier one.

    Units, house, plan, areas, finishes, stations, sections and reference are taken over, the
    instruments without their checks and the setups without the place of their base. Readings,
    signs of distress, photographs and whatever else was found are not; who comes, with what
    weather, is for the new visit to say. ``extra.earlier_visit`` names date and digest of the
    earlier book.

    The result is no finished book: it has no readings yet, and that is its only fault.

    Raises
    ------
    UsageError
        If ``day`` is no date, or lies before the earlier visit.
    """
    _check_day(book, day)
    document: dict[str, Any] = book.model_dump(exclude_unset=True, include=set(KEPT))
    for instrument in document["instruments"]:
        instrument.pop("checks", None)
    document["setups"] = [{"id": setup.id, "instrument": setup.instrument} for setup in book.setups]
    document |= {
        "visit": {"date": day, "purpose": "repeat"},
        "readings": [],
        "extra": {
            **(book.extra or {}),
            EARLIER: {"date": book.visit.date, "sha256": digest(book)},
        },
    }
    return Book.model_validate(document)


def _check_day(book: Book, day: str) -> None:
    try:
        given = date.fromisoformat(day)
    except ValueError:
        given = None
    if given is None or given.isoformat() != day:
        raise UsageError("date", f"{day[:40]!r} is not a day", "write it as 2027-03-02")
    if day < book.visit.date[:10]:
        problem = f"{day} is before the visit of {book.visit.date}"
        raise UsageError("date", problem, "give the day of the next visit")
