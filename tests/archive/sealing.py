"""A small book, keys and sealed files that the tests of the archive share."""

import json
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from levelbook.archive.opening import OpenedBook, open_bytes
from levelbook.archive.sealed import seal_book, write_sealed
from levelbook.archive.verify import Verdict, verify
from levelbook.book import canonical, read_book
from levelbook.book.model import Book

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
TIME = "2026-05-14T18:00:00Z"

#: One of each kind of value: texts, a whole and a broken number, true, null, escapes, ``extra``.
SMALL: dict[str, Any] = {
    "format": "levelbook/1",
    "units": {"level": "in", "plan": "ft"},
    "property": {"label": "A\u00e9", "post_tensioned": True, "year_built": None},
    "visit": {"date": "2026-03-02"},
    "instruments": [
        {"id": "L", "kind": "hydrostatic", "higher_reads": "more", "resolution": 0.1, "sd": 0.05}
    ],
    "areas": [{"id": "h", "kind": "living", "outline": [[0, 0], [9, 0], [0, 9.5]]}],
    "finishes": [{"id": "t", "name": "T"}],
    "setups": [{"id": "A", "instrument": "L"}],
    "stations": [{"id": "p", "at": [1, 1], "area": "h"}],
    "readings": [{"id": "r", "setup": "A", "station": "p", "finish": "t", "value": "-0.50"}],
    "reference": {"station": "p"},
    "extra": {"n": 1.5},
}


def small_book() -> Book:
    """Return the small book."""
    return read_book(json.dumps(SMALL))


def sealed_text(book: Book | None = None) -> str:
    """Return the small book, or another, sealed."""
    chosen = book or small_book()
    return write_sealed(chosen, seal_book(chosen, KEY, TIME))


def verdict_on(data: bytes) -> tuple[OpenedBook, Verdict]:
    """Return what a file holds and what its seal proves."""
    opened = open_bytes(data, unproved=True)
    return opened, verify(opened)


def same(one: Book, other: Book) -> bool:
    """Return whether two books are the same document."""
    return canonical(one) == canonical(other)
