"""A sealed book: the document and its seal in one JSON file.

``{"format": "levelbook-sealed/1", "book": {…}, "seal": {…}}``. The seal is of the canonical
document, so that spacing, the order of keys and other writings of the same value do not
matter: what is read from it is the same document.
"""

import json

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from levelbook.archive.seal import Seal, make_seal, read_seal
from levelbook.book import digest, read_book, write_book
from levelbook.book.faults import Collector, Json
from levelbook.book.model import Book
from levelbook.book.text import decode
from levelbook.errors import DocumentError, Fault, UsageError

FORMAT = "levelbook-sealed/1"
KEYS = ("format", "book", "seal")


def seal_book(book: Book, private: Ed25519PrivateKey, time: str) -> Seal:
    """Return the seal of a book at ``time`` (UTC, as ``2026-05-14T18:00:00Z``)."""
    return make_seal(digest(book), private, time)


def write_sealed(book: Book, seal: Seal) -> str:
    """Return the sealed book as JSON text.

    Raises
    ------
    UsageError
        If the document is so near the format's limits that it leaves no room for its seal.
    """
    document = write_book(book).strip()
    told = json.dumps(seal.as_json(), indent=2).replace("\n", "\n  ")
    text = f'{{\n"format": "{FORMAT}",\n"book": {document},\n"seal": {told}\n}}\n'
    try:
        read_sealed(decoded(text.encode()))
    except DocumentError as error:
        problem = f"the sealed book could not be read back ({error.faults[0]})"
        raise UsageError("book", problem, "keep less under 'extra', or split the visit") from None
    return text


def decoded(data: bytes) -> Json:
    """Return the JSON value of a text, within the limits of a document.

    Raises
    ------
    DocumentError
        If the text is not JSON, too large, too deep, or writes a key twice.
    """
    found = Collector()
    value = decode(data, found)
    found.stop_if_any()
    return value


def is_sealed(value: Json) -> bool:
    """Return whether a JSON value says that it is a sealed book."""
    return isinstance(value, dict) and value.get("format") == FORMAT


def read_sealed(value: Json) -> tuple[Book, Seal]:
    """Return book and seal of a sealed book; whether the seal holds is another question.

    Raises
    ------
    DocumentError
        With what is missing or unknown, and the faults of the book.
    """
    if not isinstance(value, dict):
        raise DocumentError((Fault("sealed-part", "", "is not a sealed book", "begin with {"),))
    remedy = "take the sealed file as it was handed over"
    faults = [
        Fault("sealed-part", key, "this part of the sealed book is missing", remedy)
        for key in KEYS
        if key not in value
    ]
    faults += [
        Fault("sealed-unknown", repr(key[:40]), "a sealed book has no such part", remedy)
        for key in sorted(set(value) - set(KEYS))
    ]
    if faults:
        raise DocumentError(tuple(faults))
    return read_book(json.dumps(value["book"])), read_seal(value["seal"])
