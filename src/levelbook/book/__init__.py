"""What was written down on site: the level-book document, read, checked and written."""

from levelbook.book.model import Book
from levelbook.book.notices import Notice, notices
from levelbook.book.numbers import parse_value
from levelbook.book.read import read_book
from levelbook.book.schema import schema
from levelbook.book.write import canonical, digest, write_book

__all__ = [
    "Book",
    "Notice",
    "canonical",
    "digest",
    "notices",
    "parse_value",
    "read_book",
    "schema",
    "write_book",
]
