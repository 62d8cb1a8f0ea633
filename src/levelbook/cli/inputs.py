"""What a command is given: books by path, folder or standard input, and sets of criteria."""

import shlex
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import isfinite, nan
from pathlib import Path
from typing import TYPE_CHECKING

from levelbook.cli.failures import BookError, from_os
from levelbook.errors import DocumentError, UsageError

if TYPE_CHECKING:
    from levelbook.archive.opening import OpenedBook
    from levelbook.book.model import Book
    from levelbook.findings.criteria import CriteriaSet

STDIN = "-"
LARGEST_PHOTO = 40_000_000
_HEAD = 4000
"""Bytes at the beginning of a file that tell whether it is a table."""


def read_bytes(path: str) -> bytes:
    """Return the content of a file, or of standard input for ``-``.

    One byte more than a document may have is read at most, of a report or bundle all of it:
    the reader of books then tells that it is too large, without the rest ever being held.

    Raises
    ------
    UsageError
        If there is no such file, it is a folder, or it may not be read.
    """
    from levelbook.archive.holders import read_bounded

    try:
        if path == STDIN:
            return read_bounded(sys.stdin.buffer.read)
        with Path(path).open("rb") as file:
            return read_bounded(file.read)
    except OSError as error:
        raise from_os(path, error) from None
    except ValueError:
        raise UsageError(repr(path), "this is not a path", "check the path") from None


def read(path: str, data: bytes | None = None) -> "Book":
    """Return the book at ``path``, or of ``data`` where its bytes are here already.

    The book may lie in a sealed book, a bundle or a report PDF; a seal must hold.

    Raises
    ------
    BookError
        With the book's faults and the name that it was given by.
    UsageError
        If the file cannot be read.
    """
    return read_sealed(path, data)[0]


def read_sealed(path: str, data: bytes | None = None) -> "tuple[Book, Mapping[str, str] | None]":
    """Return the book at ``path`` as :func:`read` does, and its seal document if it has one."""
    from levelbook.archive.holders import is_pdf, is_zip, may_be_sealed
    from levelbook.book import read_book

    content = read_bytes(path) if data is None else data
    # What opens reports and seals takes a while to load: a plain book does without.
    if not (is_pdf(content) or is_zip(content) or may_be_sealed(content)):
        try:
            return read_book(content), None
        except DocumentError as error:
            raise BookError(named(path), _or_import(path, content, error)) from None
    found = opened(path, content)
    return found.book, None if found.seal is None else found.seal.as_json()


def opened(path: str, data: bytes | None = None, *, unproved: bool = False) -> "OpenedBook":
    """Return the book at ``path`` with its seal, if it has one.

    ``unproved`` opens it although the seal does not hold.

    Raises
    ------
    BookError
        With the faults of the book or its seal and the name that it was given by.
    UsageError
        If the file cannot be read.
    """
    from levelbook.archive.opening import open_bytes

    content = read_bytes(path) if data is None else data
    try:
        return open_bytes(content, unproved=unproved)
    except DocumentError as error:
        raise BookError(named(path), _or_import(path, content, error)) from None


def visits(path: str) -> "tuple[OpenedBook, ...]":
    """Return both books that the report of a comparison carries, else the one book at ``path``.

    Their seals may not hold.

    Raises
    ------
    BookError
        With the faults of a book or its seal and the name that it was given by.
    UsageError
        If the file cannot be read.
    """
    from levelbook.archive.opening import open_visits

    content = read_bytes(path)
    try:
        return open_visits(content)
    except DocumentError as error:
        raise BookError(named(path), error) from None


def _or_import(path: str, data: bytes, error: DocumentError) -> DocumentError:
    """Return the error of a file without a book; a table or a drawing leads to the import."""
    fault = error.faults[0]
    if fault.code not in ("not-json", "encoding", "no-book"):
        return error
    from levelbook.archive.holders import is_zip
    from levelbook.exchange.outline_files import is_dxf, is_svg

    name = path if path == STDIN else shlex.quote(path)
    text = data.lstrip(b"\xef\xbb\xbf \t\r\n")
    table = any(sign in data[:_HEAD] for sign in (b",", b";", b"\t"))
    if is_dxf(data) or is_svg(data):
        remedy = f"it looks like an outline: add it with levelbook import {name} --into BOOK"
    elif is_zip(data) or (table and not text.startswith((b"{", b"["))):
        remedy = f"if it is a table of readings, make a book of it with levelbook import {name}"
    else:
        return error
    return DocumentError((replace(fault, remedy=remedy), *error.faults[1:]))


def named(path: str) -> str:
    """Return what a book is called in messages."""
    return "standard input" if path == STDIN else path


def criteria_sets(names: Sequence[str]) -> "tuple[CriteriaSet, ...] | None":
    """Return the sets named by id or by file, or ``None`` where the book is to choose.

    Raises
    ------
    UsageError
        If a name is neither the id of a set nor a file that can be read.
    DocumentError
        If a file is no set of criteria.
    """
    from levelbook.findings.catalogue import builtin_sets
    from levelbook.findings.criteria_file import load_criteria

    known = {each.id: each for each in builtin_sets()}
    chosen = []
    for name in dict.fromkeys(names):
        if name in known:
            chosen.append(known[name])
        elif Path(name).exists():
            chosen.append(load_criteria(_text(name), name))
        else:
            raise UsageError(
                f"--criteria {name}",
                "this is neither a set of criteria nor a file",
                f"name a file or one of: {', '.join(known)}",
            )
    return tuple(chosen) or None


def places(texts: Sequence[str]) -> tuple[tuple[float, float], ...]:
    """Return places on the plan written as ``X,Y``.

    Raises
    ------
    UsageError
        If a text is no place.
    """
    found = []
    for text in texts:
        x, _, y = text.partition(",")
        try:
            place = float(x), float(y)
        except ValueError:
            place = nan, nan
        if not all(map(isfinite, place)):
            raise UsageError("--water", f"{text[:40]!r} is no place", "write it as 12.5,3")
        found.append(place)
    return tuple(found)


def _text(path: str) -> str:
    try:
        return read_bytes(path).decode("utf-8")
    except UnicodeDecodeError:
        raise UsageError(path, "this is not UTF-8 text", "save it as UTF-8") from None


def photos(book: "Book", folder: Path) -> dict[str, bytes]:
    """Return the photographs of a book that lie in a folder under their names, by SHA-256.

    A name that leads out of the folder is not followed. Whether a photograph is the one that
    was taken is for the report to tell, by its hash.
    """
    found = {}
    for photo in book.photos:
        path = folder / photo.name
        if path.name == photo.name and path.is_file() and path.stat().st_size <= LARGEST_PHOTO:
            try:
                found[photo.sha256] = path.read_bytes()
            except OSError as error:
                raise from_os(str(path), error) from None
    return found


def find_books(paths: Sequence[str]) -> list[str]:
    """Return the books meant by ``paths``: a folder stands for the ``.json`` files in it.

    Raises
    ------
    UsageError
        If a folder holds none.
    """
    found: list[str] = []
    for path in paths:
        if path != STDIN and Path(path).is_dir():
            found += _books_in(Path(path))
        else:
            found.append(path)
    return list(dict.fromkeys(found))


def _books_in(folder: Path) -> list[str]:
    try:
        books = sorted(str(file) for file in folder.glob("*.json") if file.is_file())
    except OSError as error:
        raise from_os(str(folder), error) from None
    if not books:
        raise UsageError(str(folder), "there is no .json file in this folder", "name the books")
    return books
