"""Reading a document: its text, its form, then what its parts say to each other."""

from levelbook.book import grades, outlines, references, things, written
from levelbook.book.draft import Draft
from levelbook.book.faults import Collector
from levelbook.book.model import Book
from levelbook.book.shape import assemble, read_shape
from levelbook.book.text import decode


def read_book(data: bytes | str) -> Book:
    """Return the level-book document that ``data`` holds.

    Raises
    ------
    DocumentError
        With all of the document's faults, each with its place and remedy.
    UsageError
        If ``data`` is neither bytes nor text.
    """
    found = Collector()
    draft = read_shape(decode(data, found), found)
    _check(draft, found)
    found.stop_if_any()
    return assemble(draft)


def _check(draft: Draft, found: Collector) -> None:
    """Tell what is wrong between the parts of a document and in their figures."""
    references.check_ids(draft, found)
    references.check_references(draft, found)
    references.check_reference_read(draft, found)
    things.check_property(draft, found)
    written.check_dates(draft, found)
    things.check_instruments(draft, found)
    floors = outlines.check_areas(draft, found)
    outlines.check_stations(draft, floors, found)
    written.check_times(draft, found)
    written.check_struck(draft, found)
    things.check_lines(draft, found)
    grades.check_grades(draft, found)
    things.check_distress(draft, found)
    things.check_photos(draft, found)
