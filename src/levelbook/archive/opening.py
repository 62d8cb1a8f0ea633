"""One way to open whatever holds a book: a document, a sealed book, a bundle, a report."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from levelbook.archive import bundle, pdf
from levelbook.archive.holders import LARGEST, is_pdf, is_zip, may_be_sealed, read_bounded
from levelbook.archive.seal import Seal, read_seal, signature_holds
from levelbook.archive.sealed import decoded, is_sealed, read_sealed
from levelbook.book import digest, read_book
from levelbook.book.model import Book
from levelbook.errors import DocumentError, Fault, UsageError

Source = Literal["book", "sealed book", "bundle", "report"]
BOOK, SEAL = "level-book.json", "seal.json"
VISITS = (
    ("level-book-earlier.json", "seal-earlier.json"),
    ("level-book-later.json", "seal-later.json"),
)
"""What the report of a comparison carries of its two visits: the book, and its seal if any."""


@dataclass(frozen=True, slots=True)
class OpenedBook:
    """A book, the bytes it was read from, what held it, and its seal if it has one.

    ``raw`` is the document as it lay in the file; of a sealed book, the whole file.
    """

    book: Book
    raw: bytes
    source: Source
    seal: Seal | None


def open_book(path: Path, *, unproved: bool = False) -> OpenedBook:
    """Return the book in a file; see :func:`open_bytes`.

    Raises
    ------
    UsageError
        If the file cannot be read or is too large.
    DocumentError
        If there is no usable book in it, or its seal does not hold.
    """
    try:
        with path.open("rb") as file:
            data = read_bounded(file.read)
    except OSError as error:
        told = (error.strerror or type(error).__name__).lower()
        raise UsageError(str(path), told, "check the path") from None
    return open_bytes(data, unproved=unproved)


def open_bytes(data: bytes, *, unproved: bool = False) -> OpenedBook:
    """Return the book that ``data`` holds.

    Parameters
    ----------
    unproved : bool
        Open a book although its seal does not hold, as is needed to say so.

    Raises
    ------
    DocumentError
        If there is no usable book in it, or its seal does not hold.
    """
    opened = _opened(data)
    if opened.seal is not None and not unproved and not holds(opened.book, opened.seal):
        problem = "the seal does not hold: this is not the record that was sealed"
        remedy = "run levelbook verify on it, and ask for the file as it was sealed"
        raise DocumentError((Fault("seal-broken", "seal", problem, remedy),))
    return opened


def open_visits(data: bytes) -> tuple[OpenedBook, ...]:
    """Return both books of a comparison's report, else the one book there is; seals may not hold.

    Raises
    ------
    DocumentError
        If there is no usable book in it.
    """
    if is_pdf(data) and len(data) <= LARGEST:
        files = pdf.attachments(data, tuple(name for visit in VISITS for name in visit))
        if all(book in files for book, _ in VISITS):
            return tuple(_visit(files, *visit) for visit in VISITS)
    return (open_bytes(data, unproved=True),)


def _visit(files: Mapping[str, bytes], book: str, seal: str) -> OpenedBook:
    found = {BOOK: files[book]} | ({SEAL: files[seal]} if seal in files else {})
    return carried(found, "report")


def holds(book: Book, seal: Seal) -> bool:
    """Return whether a seal is of this book and signed by the key that it names."""
    return seal.digest == digest(book) and signature_holds(seal)


def _opened(data: bytes) -> OpenedBook:
    if len(data) > LARGEST:
        problem = f"is larger than {LARGEST // 1_000_000} MB"
        raise DocumentError((Fault("too-large", "file", problem, "name a report or a book"),))
    if is_pdf(data):
        return carried(pdf.attachments(data, (BOOK, SEAL)), "report")
    if is_zip(data):
        return carried(bundle.members(data, (BOOK, SEAL)), "bundle")
    try:
        return OpenedBook(read_book(data), data, "book", None)
    except DocumentError:
        if not _says_sealed(data):
            raise
    book, seal = read_sealed(decoded(data))
    return OpenedBook(book, data, "sealed book", seal)


def _says_sealed(data: bytes) -> bool:
    try:
        return may_be_sealed(data) and is_sealed(decoded(data))
    except DocumentError:
        return False


def carried(files: Mapping[str, bytes], source: Source) -> OpenedBook:
    """Return the book among the files of a report or bundle, with its seal if it is there."""
    if BOOK not in files:
        problem = f"there is no book in this {source} ({BOOK} is not attached)"
        remedy = (
            "take the report of one visit as this program wrote it; printing it again leaves the "
            "book out, and a comparison carries those of several visits"
        )
        raise DocumentError((Fault("no-book", source, problem, remedy),))
    seal = read_seal(decoded(files[SEAL]), SEAL) if SEAL in files else None
    return OpenedBook(read_book(files[BOOK]), files[BOOK], source, seal)
