"""Seals: a signature over a document's digest, so that a later reader sees whether it changed.

A seal holds the SHA-256 of the canonical document (RFC 8785), the public key, the time of
sealing as the sealer's clock told it, and an Ed25519 signature (RFC 8032) over the three. It
proves that the document is unchanged since whoever holds the key sealed it, and no more.
"""

import re
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from levelbook.errors import DocumentError, Fault

FORMAT = "levelbook-seal/1"

# The field and the curve of Ed25519 (RFC 8032, section 5.1).
_PRIME = 2**255 - 19
_D = -121665 * pow(121666, -1, _PRIME) % _PRIME

_SHAPES = {
    "format": re.compile(re.escape(FORMAT)),
    "digest": re.compile(r"[0-9a-f]{64}"),
    "key": re.compile(r"[0-9a-f]{64}"),
    "time": re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z"),
    "signature": re.compile(r"[0-9a-f]{128}"),
}


@dataclass(frozen=True, slots=True)
class Seal:
    """A seal; ``digest``, ``key`` and ``signature`` are lower-case hexadecimal, ``time`` UTC."""

    format: str
    digest: str
    key: str
    time: str
    signature: str

    @property
    def fingerprint(self) -> str:
        """The start of the digest in groups of four, short enough to read over a telephone."""
        return fingerprint(self.digest)

    def as_json(self) -> dict[str, str]:
        """Return the seal as a JSON object."""
        return asdict(self)


def fingerprint(digest: str) -> str:
    """Return the first 24 hexadecimal digits of a digest in groups of four."""
    return " ".join(digest[i : i + 4] for i in range(0, 24, 4))


def make_seal(digest: str, private: Ed25519PrivateKey, time: str) -> Seal:
    """Return the seal of a document's ``digest`` at ``time`` (``2026-05-14T18:00:00Z``)."""
    public = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()
    signature = private.sign(_message(digest, public, time)).hex()
    return read_seal(
        {"format": FORMAT, "digest": digest, "key": public, "time": time, "signature": signature}
    )


def read_seal(value: Any, place: str = "seal") -> Seal:  # noqa: ANN401 - any JSON comes in
    """Return the seal that a JSON value holds.

    Raises
    ------
    DocumentError
        Naming every part that is missing, unknown or not of its form.
    """
    remedy = "take the sealed file as it was handed over"
    if not isinstance(value, dict):
        raise DocumentError((Fault("seal-shape", place, "this is not a seal", remedy),))
    faults = [
        Fault("seal-part", f"{place}.{name}", "this part of the seal is missing or damaged", remedy)
        for name, shape in _SHAPES.items()
        if not (isinstance(value.get(name), str) and shape.fullmatch(value[name]))
        or (name == "time" and not _is_moment(value[name]))
    ]
    faults += [
        Fault("seal-unknown", f"{place}.{str(name)[:40]!r}", "a seal has no such part", remedy)
        for name in sorted(set(value) - set(_SHAPES))
    ]
    if faults:
        raise DocumentError(tuple(faults))
    return Seal(**value)


def _is_moment(text: str) -> bool:
    """Return whether a time of the right form is one that a calendar has."""
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def signature_holds(seal: Seal) -> bool:
    """Return whether the seal was signed by the key that it names.

    Keys of small order have no holder: a signature for them can be made by anyone, and none
    is taken.
    """
    if is_weak(seal.key):
        return False
    try:
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(seal.key))
        public.verify(bytes.fromhex(seal.signature), _message(seal.digest, seal.key, seal.time))
    except (InvalidSignature, ValueError):
        return False
    return True


def is_weak(key: str) -> bool:
    """Return whether a public key is one of the few points of order 8 or less.

    On -x² + y² = 1 + d x² y² these are the points with y = 0 or ±1 (orders 4, 1, 2) and,
    since doubling one of order 8 gives y = 0 and so y² = -x², those with d y⁴ + 2 y² = 1.
    """
    y = int.from_bytes(bytes.fromhex(key), "little") % 2**255 % _PRIME
    return y in (0, 1, _PRIME - 1) or (_D * y**4 + 2 * y * y - 1) % _PRIME == 0


def _message(digest: str, public: str, time: str) -> bytes:
    """Return what is signed: the seal's own statement, canonical, under the format's name."""
    statement = {"format": FORMAT, "digest": digest, "key": public, "time": time}
    return FORMAT.encode() + b"\n" + rfc8785.dumps(statement)
