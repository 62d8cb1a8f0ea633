"""Encryption of a file in pieces, so that neither its content nor its order can be altered.

The key is drawn from a password by scrypt (RFC 7914). Each piece of 1 MB is encrypted by
AES-256-GCM (NIST SP 800-38D) under a nonce that is the piece's number and whether it is the
last, bound to the file's first bytes; so a piece that is altered, moved, left out, or missing
at the end does not open. A key serves one file only, as each has a salt of its own.
"""

import io
import secrets
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from levelbook.archive.container import OTHER_COPY, Sink
from levelbook.errors import DamagedError, UsageError

MAGIC = b"levelbook-encrypted/1\n"
COST = 17
"""Binary logarithm of scrypt's cost: 128 MB of memory and some half a second for a try."""
_DEAREST = 20
PIECE, TAG, SALT = 1 << 20, 16, 16
HEAD = len(MAGIC) + 1 + SALT


class Encrypting(io.RawIOBase):
    """Takes bytes in and writes them encrypted; ``finish`` writes the last piece."""

    def __init__(self, stream: Sink, password: bytes) -> None:
        self._head = MAGIC + bytes([COST]) + secrets.token_bytes(SALT)
        self._stream, self._cipher = stream, _cipher(self._head, password)
        self._held, self._number = bytearray(), 0
        stream.write(self._head)

    def writable(self) -> bool:
        """Tell that this can be written to."""
        return True

    def write(self, data) -> int:  # type: ignore[no-untyped-def] # noqa: ANN001
        """Take bytes in."""
        self._held += data
        while len(self._held) > PIECE:
            self._put(bytes(self._held[:PIECE]), last=False)
            del self._held[:PIECE]
        return len(data)

    def finish(self) -> None:
        """Write what is left as the last piece."""
        self._put(bytes(self._held), last=True)
        self._held.clear()

    def _put(self, piece: bytes, *, last: bool) -> None:
        nonce = _nonce(self._number, last=last)
        self._stream.write(self._cipher.encrypt(nonce, piece, self._head))
        self._number += 1


class Decrypting(io.RawIOBase):
    """Reads what :class:`Encrypting` wrote, from any place in it."""

    def __init__(self, stream: BinaryIO, password: bytes, name: str) -> None:
        self._stream, self._name = stream, name
        size = stream.seek(0, io.SEEK_END)
        stream.seek(0)
        self._head = stream.read(HEAD)
        if len(self._head) < HEAD or not 1 <= self._head[len(MAGIC)] <= _DEAREST:
            raise DamagedError(name, "its beginning was altered or is cut off", OTHER_COPY)
        self._pieces = max(1, -(-(size - HEAD) // (PIECE + TAG)))
        self._size = size - HEAD - self._pieces * TAG
        self._cipher = _cipher(self._head, password)
        self._at, self._open, self._piece = 0, -1, b""
        try:
            self._turn(0)
        except DamagedError:
            problem = "the password is not the right one, or the file is damaged at its beginning"
            raise UsageError("--password-file", problem, "try another") from None

    def readable(self) -> bool:
        """Tell that this can be read."""
        return True

    def seekable(self) -> bool:
        """Tell that any place can be read."""
        return True

    def tell(self) -> int:
        """Return the place."""
        return self._at

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place and return it."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        if base + offset < 0:
            raise ValueError("there is nothing before the beginning")
        self._at = base + offset
        return self._at

    def readinto(self, buffer) -> int:  # type: ignore[no-untyped-def] # noqa: ANN001
        """Fill a buffer as far as the piece goes that the place is in.

        Raises
        ------
        DamagedError
            If the piece is not what was written at this place.
        """
        if self._at >= self._size:
            return 0
        number, within = divmod(self._at, PIECE)
        self._turn(number)
        found = self._piece[within : within + len(buffer)]
        buffer[: len(found)] = found
        self._at += len(found)
        return len(found)

    def _turn(self, number: int) -> None:
        if number == self._open:
            return
        self._stream.seek(HEAD + number * (PIECE + TAG))
        sealed = self._stream.read(PIECE + TAG)
        nonce = _nonce(number, last=number == self._pieces - 1)
        try:
            self._piece = self._cipher.decrypt(nonce, sealed, self._head)
        except InvalidTag:
            problem = (
                f"its piece {number + 1} of {self._pieces} was altered, or is not in its place"
            )
            raise DamagedError(self._name, problem, OTHER_COPY) from None
        self._open = number


def _cipher(head: bytes, password: bytes) -> AESGCM:
    cost, salt = head[len(MAGIC)], head[len(MAGIC) + 1 :]
    return AESGCM(Scrypt(salt=salt, length=32, n=1 << cost, r=8, p=1).derive(password))


def _nonce(number: int, *, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])
