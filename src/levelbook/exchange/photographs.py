"""Photographs that come along in a package, taken out one by one under a limit."""

import hashlib
import io
import zipfile
import zlib
from collections.abc import Iterator

from levelbook.archive.holders import is_zip
from levelbook.book.model import Book

LARGEST = 20_000_000
"""Most bytes of one photograph, unpacked."""
MOST_UNPACKED = 200_000_000
"""Most bytes of all of them."""


def photographs(data: bytes, book: Book) -> Iterator[tuple[str, bytes]]:
    """Yield hash and bytes of the book's photographs that lie, whole, in a package.

    A part counts by what its bytes are, not by its name; what is damaged or too large is not
    there.
    """
    wanted = {photo.sha256.lower() for photo in book.photos}
    if not wanted or not is_zip(data):
        return
    left = MOST_UNPACKED
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for info in archive.infolist():
            named = info.filename.rpartition("/")[2].partition(".")[0].lower()
            if named not in wanted or info.file_size > min(LARGEST, left):
                continue
            left -= info.file_size
            content = _content(archive, info)
            if hashlib.sha256(content).hexdigest() == named:
                wanted.remove(named)
                yield named, content


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Return a part, unpacked no further than it says; nothing where it is damaged."""
    try:
        with archive.open(info) as file:
            return file.read(info.file_size + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError):
        return b""
