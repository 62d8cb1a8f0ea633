"""The mark of the firm that hands a report over: its name, and its own logo if it has one."""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

from levelbook.book.model import Book

LOGO = "logo"
"""What ``of`` says of the photograph that is the firm's logo."""


@dataclass(frozen=True, slots=True)
class FirmMark:
    """A firm's name and its logo as PNG or JPEG, empty where there is none."""

    name: str
    logo: bytes = b""


def firm_of(book: Book, photos: Mapping[str, bytes]) -> FirmMark:
    """Return the mark that a book itself names: ``visit.firm`` and the photograph of a logo.

    ``photos`` are by SHA-256 in lower case; a logo that is not there or altered is left out.
    """
    digests = [photo.sha256.lower() for photo in book.photos if photo.of == LOGO]
    content = photos.get(digests[-1], b"") if digests else b""
    if not digests or sha256(content).hexdigest() != digests[-1]:
        content = b""
    return FirmMark(book.visit.firm or "", content)


NOBODY = FirmMark("")
"""No firm is named."""
