"""Reading a document: its text, its form, then what its parts say to each other."""

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
    found.stop_if_any()
    return assemble(draft)
