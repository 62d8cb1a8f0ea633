"""Files that hold a book inside: how they begin, and how much of one is read."""

from collections.abc import Callable

from levelbook.book.limits import BYTES

#: Most bytes of a report or bundle; photographs make them large. Ours.
LARGEST = 500_000_000


def is_pdf(data: bytes) -> bool:
    """Return whether the data begin as a PDF does."""
    return b"%PDF-" in data[:1024]


def is_zip(data: bytes) -> bool:
    """Return whether the data begin as a ZIP archive does."""
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06"))


def may_be_sealed(data: bytes) -> bool:
    """Return whether a text could be a sealed book, its keys escaped or not."""
    return b'"seal"' in data or b"\\u" in data


def read_bounded(read: Callable[[int], bytes]) -> bytes:
    """Return what ``read`` gives, one byte more at most than such a file may have.

    A report or bundle may be far larger than a document; nothing more is held than needed.
    """
    data = read(BYTES + 1)
    if len(data) > BYTES and (is_pdf(data) or is_zip(data)):
        data += read(LARGEST - BYTES)
    return data
