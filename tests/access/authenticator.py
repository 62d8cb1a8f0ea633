"""A software authenticator: makes passkeys and answers challenges as a device would.

Written after Web Authentication Level 2 (W3C), sections 6.1 (authenticator data), 6.5.1
(attested credential data), 5.8.1 (client data) and 7; keys are ES256 as COSE (RFC 9053, 2.1).
"""

import hashlib
import json
import secrets
import struct
from dataclasses import dataclass, field
from typing import Any

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from webauthn.helpers import bytes_to_base64url

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


@dataclass
class Authenticator:
    """One device with one key, bound to a host."""

    host: str
    origin: str
    verifies: bool = True
    count: int = 0
    counts: bool = True
    id: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    key: ec.EllipticCurvePrivateKey = field(
        default_factory=lambda: ec.generate_private_key(ec.SECP256R1())
    )

    def make(self, options: dict[str, Any]) -> dict[str, Any]:
        """Answer a request for a new key."""
        data = self._data(ATTESTED) + bytes(16) + struct.pack(">H", len(self.id)) + self.id
        data += cbor2.dumps(self._cose())
        attestation = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        return self._answer(
            {
                "clientDataJSON": self._client("webauthn.create", options["challenge"]),
                "attestationObject": bytes_to_base64url(attestation),
            }
        )

    def sign(self, options: dict[str, Any], person: str = "") -> dict[str, Any]:
        """Answer a challenge."""
        self.count += self.counts
        data = self._data()
        client = self._client("webauthn.get", options["challenge"])
        told = hashlib.sha256(_bytes(client)).digest()
        return self._answer(
            {
                "clientDataJSON": client,
                "authenticatorData": bytes_to_base64url(data),
                "signature": bytes_to_base64url(
                    self.key.sign(data + told, ec.ECDSA(hashes.SHA256()))
                ),
                "userHandle": bytes_to_base64url(person.encode()) if person else None,
            }
        )

    def _data(self, more: int = 0) -> bytes:
        flags = PRESENT | (VERIFIED if self.verifies else 0) | more
        return hashlib.sha256(self.host.encode()).digest() + struct.pack(">BI", flags, self.count)

    def _client(self, kind: str, challenge: str) -> str:
        told = {"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return bytes_to_base64url(json.dumps(told).encode())

    def _cose(self) -> dict[int, Any]:
        numbers = self.key.public_key().public_numbers()
        x, y = (n.to_bytes(32, "big") for n in (numbers.x, numbers.y))
        return {1: 2, 3: -7, -1: 1, -2: x, -3: y}

    def _answer(self, response: dict[str, Any]) -> dict[str, Any]:
        name = bytes_to_base64url(self.id)
        return {"id": name, "rawId": name, "type": "public-key", "response": response}


def _bytes(text: str) -> bytes:
    import base64

    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
