"""Invented houses in a store, and an office that releases them."""

import hashlib
import json
import uuid
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from levelbook.archive.clock import Clock
from levelbook.archive.database import Database
from levelbook.archive.document import to_entries
from levelbook.archive.record import Entry
from levelbook.archive.store import Store
from levelbook.archive.tables import FIRMS
from levelbook.firm.releases import Office
from levelbook.firm.roles import OWNER, REVIEWER, SURVEYOR, Who

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"
FIRM, OTHER = "firm-a", "firm-b"
LEAD = Who(FIRM, "person-lead", REVIEWER)
BOSS = Who(FIRM, "person-owner", OWNER)
WALKER = Who(FIRM, "person-walker", SURVEYOR)
STRANGER = Who(OTHER, "person-else", OWNER)
NOW = datetime(2026, 5, 20, 15, 0, tzinfo=UTC)
_COUNT = count(1)
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


class Shelf:
    """Files kept by their SHA-256, in memory; nothing is ever written over."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}

    def put(self, data: bytes, media: str, received: str) -> str:
        """Keep bytes."""
        assert media
        assert received
        digest = hashlib.sha256(data).hexdigest()
        self.files.setdefault(digest, data)
        return digest

    def get(self, sha256: str) -> bytes | None:
        """Return bytes."""
        return self.files.get(sha256)


def office(database: Database, firm: str = FIRM, shelf: Shelf | None = None) -> Office:
    """Return the office of a firm, with a fixed key."""
    return Office(Store(database, firm), shelf or Shelf(), lambda _: None, lambda: KEY)


def add_firms(database: Database) -> None:
    """Put the two firms of the tests into the list."""
    for firm, name in ((FIRM, "Low Plains Survey"), (OTHER, "Elsewhere Levels")):
        with database.use(firm) as connection:
            row = {"id": firm, "name": name, "created": "2026-01-01T00:00:00.000000Z"}
            connection.execute(sa.insert(FIRMS).values(**row))


def document(**about: Any) -> dict[str, Any]:
    """Return the small book with some fields of house and visit set."""
    made: dict[str, Any] = json.loads(BOOK.read_text("utf-8"))
    for name, value in about.items():
        part = "visit" if name in ("date", "surveyor", "purpose") else "property"
        made[part][name] = value
    return made


def take_in(database: Database, firm: str = FIRM, at: datetime = NOW, **about: Any) -> str:
    """Put the small book into a firm's store and return its visit."""
    visit, made = str(uuid.uuid4()), at.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    new = (lambda: str(uuid.uuid4()), int(at.timestamp() * 1000), made)
    entries = to_entries(document(**about), visit, "import", Clock(0, 0, "server00"), new)
    Store(database, firm).sync(visit, 0, tuple(entries), made)
    return visit


def write(database: Database, visit: str, kind: str, of: str, fields: dict[str, Any]) -> str:
    """Write one entry into a visit and return its id."""
    found, number = str(uuid.uuid4()), next(_COUNT)
    clock = f"{int(NOW.timestamp() * 1000) + 60_000:016d}-{number:04d}-device01"
    entry = Entry(found, visit, clock, "device01", "A", "", "set", kind, of, fields)
    Store(database, FIRM).sync(visit, 0, (entry,), f"2026-05-21T09:00:00.{number:06d}Z")
    return found
