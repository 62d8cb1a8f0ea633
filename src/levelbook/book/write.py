"""Writing a document: as people read it, and as its digest is taken."""

import hashlib
import json

import rfc8785

from levelbook.book.faults import Json
from levelbook.book.model import Book


def write_book(book: Book) -> str:
    """Return the document as JSON text, one entry of a list to a line, in the format's order.

    Only what was set is written. Texts and ``extra`` stand as they were; a coordinate that is
    whole is written without a fraction.
    """
    parts = _dumped(book).items()
    lines = [f"  {_text(key)}: {_part(value)}" for key, value in parts]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def canonical(book: Book) -> bytes:
    """Return the document in canonical JSON (RFC 8785), of which :func:`digest` is taken.

    Two texts of one document (keys in another order, other spacing, 1 or 1.0, a reading given
    as 0.5 or "0.5") give the same bytes. What was not written is left out: a default written
    out is another document than one left to the reader.
    """
    return rfc8785.dumps(_dumped(book))


def digest(book: Book) -> str:
    """Return the SHA-256 of the canonical document, 64 hexadecimal digits."""
    return hashlib.sha256(canonical(book)).hexdigest()


def _dumped(book: Book) -> dict[str, Json]:
    """Return what was set in a document, as JSON values."""
    dumped: dict[str, Json] = book.model_dump(exclude_unset=True)
    return _members(dumped)


def _members(value: dict[str, Json]) -> dict[str, Json]:
    """Return an object with plain values, and ``extra`` last and as it is."""
    plain = {key: _plain(item) for key, item in value.items() if key != "extra"}
    return {**plain, "extra": value["extra"]} if "extra" in value else plain


def _plain(value: Json) -> Json:
    """Return dumped values as JSON values: lists for tuples, whole numbers whole."""
    if isinstance(value, dict):
        return _members(value)
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _part(value: Json) -> str:
    """Return one part of the document; each entry of a list of objects on its own line."""
    if isinstance(value, list) and value and not isinstance(value[0], float | int):
        return "[\n" + ",\n".join(f"    {_text(item)}" for item in value) + "\n  ]"
    return _text(value)


def _text(value: Json) -> str:
    """Return a value as JSON on one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
