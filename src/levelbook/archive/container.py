"""The file of a backup: a ZIP archive of parts whose every byte is accounted for.

``manifest.json``, its last part, names every part with its size and SHA-256. The comment at
the archive's end is the SHA-256 of all bytes before it, as a ZIP archive by itself leaves
bytes that nothing checks. Any program that opens ZIP archives can read it.
"""

import errno
import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import IO, Any, BinaryIO, Protocol, Self

from levelbook.errors import DamagedError

MANIFEST, FORMAT = "manifest.json", "levelbook-backup/1"
PIECE = 1 << 20
OTHER_COPY = "use another copy of the backup"
_WORD = b"sha256:"
_TAIL = len(_WORD) + 64
_LARGEST_MANIFEST = 512_000_000
BAD = (zipfile.BadZipFile, EOFError, ValueError, OverflowError, RuntimeError, zlib.error)
"""What reading a damaged archive raises."""
_FIXED = (2000, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a backup: ``rows`` of a table of a firm, or the bytes of one of its files."""

    name: str
    firm: str
    table: str
    rows: int
    size: int
    sha256: str


_TOLD = {"made": str, "schema": str, "lacking": list, "parts": list}
_TYPES = {"name": str, "firm": str, "table": str, "rows": int, "size": int, "sha256": str}


class Sink(Protocol):
    """What bytes can be written to."""

    def write(self, data: bytes, /) -> object:
        """Write bytes."""


class Writer:
    """Writes a backup into a stream, from its first byte to its last."""

    def __init__(self, stream: Sink) -> None:
        self._counted = _Counted(stream)
        self._zip = zipfile.ZipFile(self._counted, "w", zipfile.ZIP_DEFLATED)
        self.parts: list[Part] = []

    def add(self, name: str, firm: str, table: str, lines: Iterable[bytes]) -> Part:
        """Add a part of the lines (or pieces) given, and return what it came to."""
        digest, size, rows = hashlib.sha256(), 0, 0
        packed = zipfile.ZIP_STORED if table == "" else zipfile.ZIP_DEFLATED
        with self._open(name, packed) as member:
            for line in lines:
                member.write(line)
                digest.update(line)
                size, rows = size + len(line), rows + 1
        part = Part(name, firm, table, rows if table else 0, size, digest.hexdigest())
        self.parts.append(part)
        return part

    def close(self, made: str, schema: str, lacking: Sequence[str]) -> None:
        """Write the manifest and the end; ``lacking`` are files that should have been parts."""
        told = {"made": made, "schema": schema, "lacking": list(lacking)}
        manifest = {"format": FORMAT, **told, "parts": [asdict(part) for part in self.parts]}
        with self._open(MANIFEST, zipfile.ZIP_DEFLATED) as member:
            member.write(json.dumps(manifest, indent=1).encode())
        self._zip.comment = b" " * _TAIL
        self._zip.close()
        self._counted.end()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Leave the backup unfinished, if an error ends its writing."""
        if kind is not None:
            self._counted.let_go()
            self._zip.close()

    @contextmanager
    def _open(self, name: str, packed: int) -> Iterator[IO[bytes]]:
        info = zipfile.ZipInfo(name, _FIXED)
        info.compress_type = packed
        with self._zip.open(info, "w", force_zip64=True) as member:
            yield member


class Reader:
    """Reads a backup from a stream that can be wound; nothing of it is trusted unchecked."""

    def __init__(self, stream: BinaryIO, name: str) -> None:
        self.name = name
        try:
            self._zip = zipfile.ZipFile(stream)
            self.manifest = self._read_manifest()
            self.parts = tuple(Part(**part) for part in self.manifest["parts"])
        except OSError as error:
            if error.errno != errno.EINVAL:  # a place before the beginning, as altered bytes name
                raise
            raise DamagedError(name, _what(stream), OTHER_COPY) from None
        except (*BAD, KeyError, TypeError, AttributeError):
            raise DamagedError(name, _what(stream), OTHER_COPY) from None
        self._stream = stream

    def check(self) -> None:
        """Check every byte against what is written of it.

        Raises
        ------
        DamagedError
            Naming the first part that is not as it was written.
        """
        names = [part.name for part in self.parts]
        if self._zip.namelist() != [*names, MANIFEST]:
            raise self._damaged("its parts are not those of its manifest, in that order")
        for part in self.parts:
            for _ in self.pieces(part):
                pass
        if not _whole(self._stream):
            raise self._damaged("it was altered outside of its parts")

    def pieces(self, part: Part) -> Iterator[bytes]:
        """Yield the bytes of a part; its end tells whether they were right.

        Raises
        ------
        DamagedError
            If they are not those of the manifest.
        """
        digest, size = hashlib.sha256(), 0
        try:
            with self._zip.open(part.name) as member:
                while piece := member.read(PIECE):
                    digest.update(piece)
                    size += len(piece)
                    if size > part.size:
                        break
                    yield piece
        except OSError as error:
            if error.errno != errno.EINVAL:
                raise
            raise self._damaged(f"its part {part.name} is not where it was written") from None
        except BAD as error:
            raise self._damaged(f"its part {part.name} is damaged ({error})") from None
        if size != part.size or digest.hexdigest() != part.sha256:
            raise self._damaged(f"its part {part.name} is not what was written")

    def lines(self, part: Part) -> Iterator[bytes]:
        """Yield the lines of a part; those of an archive that was checked are right."""
        left = b""
        for piece in self.pieces(part):
            *whole, left = (left + piece).split(b"\n")
            yield from whole
        if left:
            raise self._damaged(f"the last line of its part {part.name} is cut off")

    def _read_manifest(self) -> dict[str, Any]:
        if self._zip.getinfo(MANIFEST).file_size > _LARGEST_MANIFEST:
            raise ValueError(MANIFEST)
        manifest = json.loads(self._zip.read(MANIFEST))
        if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
            raise ValueError(FORMAT)
        if not all(isinstance(manifest.get(key), kind) for key, kind in _TOLD.items()):
            raise ValueError(MANIFEST)
        for part in manifest["parts"]:
            if {name: type(value) for name, value in part.items()} != _TYPES:
                raise ValueError(MANIFEST)
        return manifest

    def _damaged(self, problem: str) -> DamagedError:
        return DamagedError(self.name, problem, OTHER_COPY)


class _Counted(io.RawIOBase):
    """Passes bytes on, all but the last few, for which their digest is put at the end."""

    def __init__(self, stream: Sink) -> None:
        self._stream: Sink | None = stream
        self._digest, self._held, self._at = hashlib.sha256(), b"", 0

    def writable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def write(self, data: Any) -> int:  # noqa: ANN401 - whatever has bytes
        given = bytes(data)
        told = self._held + given
        passed, self._held = told[:-_TAIL], told[-_TAIL:]
        self._digest.update(passed)
        if self._stream is not None:
            self._stream.write(passed)
        self._at += len(given)
        return len(given)

    def end(self) -> None:
        """Put the digest in place of the last bytes."""
        if self._stream is not None:
            self._stream.write(_WORD + self._digest.hexdigest().encode())
        self._stream = None

    def let_go(self) -> None:
        """Write nothing more."""
        self._stream = None


def _whole(stream: BinaryIO) -> bool:
    """Tell whether a stream ends with the digest of all before its end."""
    size = stream.seek(0, io.SEEK_END) - _TAIL
    stream.seek(0)
    digest = hashlib.sha256()
    while size > 0 and (piece := stream.read(min(PIECE, size))):
        digest.update(piece)
        size -= len(piece)
    return stream.read() == _WORD + digest.hexdigest().encode()


def _what(stream: BinaryIO) -> str:
    """Return what is wrong with a stream that cannot be opened as a backup."""
    stream.seek(0)
    if stream.read(4) != b"PK\x03\x04":
        return "this is no backup, or its beginning was altered"
    return "the backup is cut off, or its list of parts was altered"
