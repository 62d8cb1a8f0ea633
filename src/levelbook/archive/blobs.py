"""Photographs and released files: bytes kept by their SHA-256, each firm's apart.

The bytes lie in a folder or in an object store, behind one small interface; the database has
a row for each. Bytes are there before their row is, and what is read is held to its name, so
that a file is whole or is told to be missing or damaged.
"""

import hashlib
import os
import re
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from levelbook.archive.database import Database
from levelbook.archive.moments import stamp
from levelbook.archive.tables import BLOBS, LOCAL
from levelbook.errors import DamagedError, UsageError

PARTS = ".parts"
"""The folder in which files are written before they are moved to their place."""
LEFT = 86_400
"""Seconds after which a part that was begun is one that a killed server left."""
_HASH = re.compile(r"[0-9a-f]{64}")
_FIRM = re.compile(r"[0-9A-Za-z_-]{1,64}")


class Shelf(Protocol):
    """Where bytes lie, by firm and SHA-256."""

    def get(self, firm: str, sha256: str) -> bytes | None:
        """Return the bytes as they lie there, ``None`` if they do not."""

    def put(self, firm: str, sha256: str, data: bytes) -> None:
        """Lay bytes there: all of them or none, and to stay."""

    def has(self, firm: str, sha256: str) -> bool:
        """Tell whether bytes lie there."""

    def size(self, firm: str, sha256: str) -> int | None:
        """Return how many bytes lie there, ``None`` if none do."""


class Folder:
    """Files in a folder; those of one's own machine lie in it at once, a firm's in its own."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.mkdir(parents=True, exist_ok=True)

    def get(self, firm: str, sha256: str) -> bytes | None:
        """Return the bytes of a file, ``None`` if there is none."""
        try:
            return self.file(firm, sha256).read_bytes()
        except FileNotFoundError:
            return None

    def put(self, firm: str, sha256: str, data: bytes) -> None:
        """Write a file apart, see it to the disk, and move it to its place."""
        file = self.file(firm, sha256)
        parts = self.path / PARTS
        for folder in (parts, file.parent):
            folder.mkdir(parents=True, exist_ok=True)
        number, name = tempfile.mkstemp(prefix=f"{sha256[:8]}-", dir=parts)
        part = Path(name)
        try:
            with os.fdopen(number, "wb") as written:
                written.write(data)
                written.flush()
                os.fsync(written.fileno())
            part.replace(file)
        finally:
            part.unlink(missing_ok=True)
        for folder in file.parents:  # each may be new
            _see_to_disk(folder)
            if folder == self.path:
                break

    def sweep(self) -> None:
        """Remove what servers that were killed had begun to write."""
        old = time.time() - LEFT
        try:
            for part in (self.path / PARTS).glob("*"):
                if part.stat().st_mtime < old:
                    part.unlink()
        except OSError:
            return  # the folder cannot be written to now, or somebody else sweeps it, too

    def has(self, firm: str, sha256: str) -> bool:
        """Tell whether there is a file."""
        return self.file(firm, sha256).is_file()

    def size(self, firm: str, sha256: str) -> int | None:
        """Return the size of a file, ``None`` if there is none."""
        try:
            return self.file(firm, sha256).stat().st_size
        except FileNotFoundError:
            return None

    def file(self, firm: str, sha256: str) -> Path:
        """Return where a file lies."""
        check_names(firm, sha256)
        return self.path / sha256 if firm == LOCAL else self.path / firm / sha256[:2] / sha256

    def names(self) -> Iterator[str]:
        """Yield the SHA-256 of each file of one's own machine."""
        with os.scandir(self.path) as found:
            yield from (entry.name for entry in found if _HASH.fullmatch(entry.name))


@dataclass(frozen=True, slots=True)
class Blob:
    """What the database knows of a file."""

    sha256: str
    media: str
    size: int
    received: str


class Blobs:
    """The files of one firm: a row in the database each, the bytes on a shelf."""

    def __init__(self, database: Database, shelf: Shelf, firm: str = LOCAL) -> None:
        self.database, self.shelf, self.firm = database, shelf, firm

    def of(self, firm: str) -> "Blobs":
        """Return the files of another firm in the same place."""
        return Blobs(self.database, self.shelf, firm)

    def put(self, data: bytes, media: str, received: str) -> str:
        """Keep bytes and return their SHA-256; bytes that are here already are kept once.

        Bytes that lie there without a row are laid there again: whoever began to may not have
        seen them to the disk.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        known = self.about(sha256) is not None
        if not (known and self.shelf.size(self.firm, sha256) == len(data)) or self._damaged(sha256):
            self.shelf.put(self.firm, sha256, data)
        if not known:
            self._note(sha256, media, len(data), received)
        return sha256

    def _note(self, sha256: str, media: str, size: int, received: str) -> None:
        row = {"firm": self.firm, "sha256": sha256, "media": media, "size": size}
        try:
            with self.database.use(self.firm) as connection:
                connection.execute(sa.insert(BLOBS).values(received=received, **row))
        except IntegrityError:
            pass  # someone else kept the same bytes meanwhile

    def get(self, sha256: str) -> bytes | None:
        """Return bytes, ``None`` if this firm has none of this name.

        Raises
        ------
        DamagedError
            If they are not what was kept.
        """
        if self.about(sha256) is None:
            return None
        data = self.shelf.get(self.firm, sha256)
        if data is None:
            raise DamagedError(f"file {sha256}", "this file has been taken away", _REMEDY)
        if hashlib.sha256(data).hexdigest() != sha256:
            raise DamagedError(f"file {sha256}", "this file was changed or cut off", _REMEDY)
        return data

    def has(self, sha256: str) -> bool:
        """Tell whether this firm has bytes of this name."""
        return self.about(sha256) is not None

    def size(self, sha256: str) -> int | None:
        """Return how many bytes were kept under this name."""
        found = self.about(sha256)
        return None if found is None else found.size

    def about(self, sha256: str) -> Blob | None:
        """Return what is known of a file, ``None`` if this firm has none of this name."""
        if not _HASH.fullmatch(sha256):
            return None
        here = sa.and_(BLOBS.c.firm == self.firm, BLOBS.c.sha256 == sha256)
        columns = (BLOBS.c[name] for name in Blob.__slots__)
        with self.database.look(self.firm) as connection:
            row = connection.execute(sa.select(*columns).where(here)).one_or_none()
        return None if row is None else Blob(*row)

    def adopt(self) -> int:
        """Note the files of one's own machine that have no row, and return how many.

        The first release kept photographs without one.
        """
        if self.firm != LOCAL or not isinstance(self.shelf, Folder):
            return 0
        query = sa.select(BLOBS.c.sha256).where(BLOBS.c.firm == LOCAL)
        with self.database.look(LOCAL) as connection:
            known = set(connection.execute(query).scalars())
        now = stamp(datetime.now(UTC))
        found = [name for name in self.shelf.names() if name not in known]
        for name in found:
            data = self.shelf.get(LOCAL, name)
            if data is not None and hashlib.sha256(data).hexdigest() == name:
                media = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
                self._note(name, media, len(data), now)
        return len(found)

    def _damaged(self, sha256: str) -> bool:
        data = self.shelf.get(self.firm, sha256)
        return data is None or hashlib.sha256(data).hexdigest() != sha256


_REMEDY = "bring it back from a backup, or send it again"


def check_names(firm: str, sha256: str) -> None:
    """Refuse what cannot be the name of a firm or of bytes, before it becomes part of a path.

    Raises
    ------
    UsageError
        Naming which of the two.
    """
    if not _FIRM.fullmatch(firm):
        raise UsageError("firm", f"{firm[:64]!r} is no firm's name", "check the name")
    if not _HASH.fullmatch(sha256):
        raise UsageError("file", f"{sha256[:64]!r} is no SHA-256", "check the name")


def _see_to_disk(folder: Path) -> None:
    """See to it that what was moved into a folder is there after a power failure."""
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
