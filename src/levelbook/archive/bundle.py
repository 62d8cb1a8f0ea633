"""A bundle: a ZIP archive with a level-book document, its seal and its photographs."""

import io
import zipfile
import zlib
from collections.abc import Mapping

from levelbook.book.limits import BYTES
from levelbook.errors import DocumentError, Fault

MOST_MEMBERS = 10_000
REMEDY = "take the bundle as it was handed over"


def members(data: bytes, wanted: tuple[str, ...]) -> Mapping[str, bytes]:
    """Return the files of a bundle that have one of the names ``wanted``, in whatever folder.

    Raises
    ------
    DocumentError
        If the archive is damaged, encrypted, or carries a name twice or too much.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _wanted(archive, wanted)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError):
        raise _one(
            Fault("zip-damaged", "ZIP", "this bundle is damaged or cut off", REMEDY)
        ) from None


def _wanted(archive: zipfile.ZipFile, wanted: tuple[str, ...]) -> dict[str, bytes]:
    infos = archive.infolist()
    if len(infos) > MOST_MEMBERS:
        raise _one(
            Fault("zip-many", "ZIP", f"this bundle holds more than {MOST_MEMBERS} files", REMEDY)
        )
    found: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename.rpartition("/")[2]
        if name in wanted:
            if name in found:
                raise _one(
                    Fault("zip-twice", name, "the bundle holds two files of this name", REMEDY)
                )
            found[name] = info
    return {name: _content(archive, name, info) for name, info in found.items()}


def _content(archive: zipfile.ZipFile, name: str, info: zipfile.ZipInfo) -> bytes:
    if info.flag_bits & 1:
        raise _one(Fault("zip-encrypted", name, "this file of the bundle is encrypted", REMEDY))
    with archive.open(info) as file:
        content = file.read(BYTES + 1)
    if len(content) > BYTES:
        raise _one(Fault("too-large", name, f"is larger than {BYTES // 1_000_000} MB", REMEDY))
    return content


def _one(fault: Fault) -> DocumentError:
    return DocumentError((fault,))
