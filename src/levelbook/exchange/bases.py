"""What an import adds to: a book, or the draft of one that has no readings yet."""

import json
from collections.abc import Mapping
from typing import Any

from levelbook.book import read_book, write_book
from levelbook.book.model import Book
from levelbook.errors import DocumentError, Fault

Json = dict[str, Any]


def base_of(into: Book | Mapping[str, Any] | None) -> Json | None:
    """Return the document to add to.

    Raises
    ------
    DocumentError
        If it is a draft in which more is wrong than that there are no readings yet.
    """
    if into is None:
        return None
    if isinstance(into, Book):
        found: Json = json.loads(write_book(into))
        return found
    document = dict(into)
    whole_or_draft(document, draft=True)
    return document


def whole_or_draft(document: Json, *, draft: bool) -> Book | None:
    """Return the book of a document; ``None`` where it is a draft, if it may be one.

    Raises
    ------
    DocumentError
        With what is wrong with it, but for what a draft may lack.
    """
    try:
        return read_book(json.dumps(document))
    except DocumentError as error:
        faults = error.faults
    wrong = tuple(fault for fault in faults if not (draft and _not_yet(fault)))
    if wrong:
        raise DocumentError(wrong)
    return None


def _not_yet(fault: Fault) -> bool:
    """Tell whether a fault is only that the readings are still to come."""
    return fault.code == "no-readings" or (fault.code, fault.place) == ("missing-key", "reference")
