"""What kind of file has come, by its own first bytes and never by its name."""

import json

from levelbook.archive.holders import is_pdf, is_zip
from levelbook.archive.opening import BOOK
from levelbook.exchange.guard import names_in
from levelbook.exchange.outline_files import is_geojson

_PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"GIF87a", b"GIF89a", b"II*\0", b"MM\0*")


def is_picture(data: bytes) -> bool:
    """Return whether the data begin as a photograph or scan does: JPEG, PNG, WebP, HEIC, TIFF."""
    boxed = data[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypavif")
    return data.startswith(_PICTURES) or boxed or (data[:4], data[8:12]) == (b"RIFF", b"WEBP")


def holds_book(data: bytes, name: str) -> bool:
    """Return whether a file is a book, a sealed book, a bundle or a report of this program."""
    if is_pdf(data):
        return True
    if is_zip(data):
        return any(part.rpartition("/")[2] == BOOK for part in names_in(data, name))
    value = value_of(data)
    return isinstance(value, dict) and not is_geojson(value)


def value_of(data: bytes) -> object:
    """Return the JSON value of a text that begins as an object does; else nothing."""
    if not data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        return None
    try:
        found: object = json.loads(data.removeprefix(b"\xef\xbb\xbf"))
    except (ValueError, RecursionError):
        return {}
    return found
