"""Release: the record sealed, the report made once, numbered, and kept as the client gets it.

A number, such as ``2026-0014``, belongs to a visit; each new issue of it counts on and gives
its reason. The files are made before the short transaction that makes them a release, in which
everything they rest on is looked at again.
"""

import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Protocol

import sqlalchemy as sa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from levelbook.archive.moments import stamp
from levelbook.archive.store import Store
from levelbook.archive.tables import ENTRIES, FIRMS, VISITS
from levelbook.book import digest
from levelbook.book.model import Book
from levelbook.errors import ConflictError, UsageError
from levelbook.firm import audit
from levelbook.firm.files import ABOUT, Made, Told, make_files, media_of
from levelbook.firm.instruments import cautions, register
from levelbook.firm.issues import (
    Release,
    house_of,
    insert,
    is_taken,
    issues_of,
    next_number,
)
from levelbook.firm.noting import noted, read_visit, write_note
from levelbook.firm.refusals import missing
from levelbook.firm.reviews import RELEASED, Event, add_event, check_move, state_of
from levelbook.firm.roles import Who
from levelbook.firm.wording import say, told_day

TRIES = 5
_LOOK = "look at the record again, then release it"


class Blobs(Protocol):
    """Files kept by their SHA-256."""

    def put(self, data: bytes, media: str, received: str) -> str:
        """Keep bytes and return their SHA-256."""

    def get(self, sha256: str) -> bytes | None:
        """Return bytes, ``None`` if they are not here."""


@dataclass(frozen=True)
class Office:
    """What a firm releases with: its store, its files, its photographs and its signing key."""

    store: Store
    blobs: Blobs
    photo: Callable[[str], bytes | None]
    key: Callable[[], Ed25519PrivateKey]


@dataclass(frozen=True)
class Standing:
    """A visit as it is about to be released: its last entry, its book and its issues so far."""

    seq: int
    book: Book
    issues: tuple[Release, ...]


def release(
    office: Office, who: Who, visit: str, reason: str, now: datetime, seen: str = ""
) -> Release:
    """Seal a visit that is for review, make its files, and release them under the next issue.

    Parameters
    ----------
    reason : str
        Why a new issue is needed; may be empty for the first.
    seen : str
        Digest of the record that the reviewer looked at; any if empty.

    Raises
    ------
    MissingError
        If the firm has no such visit.
    DeniedError
        If the role does not allow it.
    ConflictError
        If the visit is not for review, somebody else released it, or its record changed.
    DocumentError
        If the record is not whole.
    UsageError
        If a new issue has no reason.
    """
    standing = _standing(office, who, visit, reason)
    if seen and seen != digest(standing.book):
        raise ConflictError("record", "the record is not the one you looked at", _LOOK)
    photos = _photos(office, standing.book)
    for _ in range(TRIES):
        draft = _draft(office, who, visit, (standing, reason.strip()), now)
        told = _told(office, draft, standing)
        made = make_files(standing.book, told, office.key(), photos)
        draft = replace(draft, files=_put(office, made, draft.at))
        try:
            if _settle(office, who, draft, standing.seq, made):
                return draft
        except IntegrityError:
            raise _overtaken(draft.issue) from None
    raise ConflictError("release", "other releases took every number that was tried", "try again")


def file_of(blobs: Blobs, found: Release, name: str) -> tuple[bytes, str]:
    """Return a file of a release, and its media type.

    Raises
    ------
    MissingError
        If a release has no such file.
    """
    sha256 = found.files.get(name)
    data = None if sha256 is None else blobs.get(sha256)
    if data is None:
        raise missing(name, "file")
    return data, media_of(name)


def about_of(blobs: Blobs, found: Release) -> dict[str, Any]:
    """Return what is told of a release on its page, as it was when it was released.

    Raises
    ------
    MissingError
        If its file is gone.
    """
    told: dict[str, Any] = json.loads(file_of(blobs, found, ABOUT)[0])
    return told


def _standing(office: Office, who: Who, visit: str, reason: str) -> Standing:
    """Return what there is to release, if there is nothing against it yet."""
    with office.store.database.look(who.firm) as connection:
        state = state_of(connection, who.firm, visit)
        issues = issues_of(connection, who.firm, visit)
    check_move(who, state, RELEASED, reason)
    if issues and not reason.strip():
        problem = f"issue {len(issues) + 1} replaces one that was handed out"
        raise UsageError("reason", problem, "say in a sentence why it is needed")
    seq, book = read_visit(office.store, visit)
    return Standing(seq, book, issues)


def _draft(
    office: Office, who: Who, visit: str, what: tuple[Standing, str], now: datetime
) -> Release:
    """Return the next issue of a standing, for a reason, without its files."""
    standing, reason = what
    with office.store.database.look(who.firm) as connection:
        taken = standing.issues[0].number if standing.issues else None
        number = taken or next_number(connection, who.firm, now.year)
    return Release(
        id=secrets.token_hex(16),
        visit=visit,
        number=number,
        issue=len(standing.issues) + 1,
        digest=digest(standing.book),
        files={},
        by=who.person,
        at=stamp(now),
        reason=reason,
        date=standing.book.visit.date[:40],
        house=house_of(standing.book),
    )


def _told(office: Office, draft: Release, standing: Standing) -> Told:
    """Return what the report tells of the issue: what it replaces and why, and its instruments."""
    firm = office.store.firm
    with office.store.database.look(firm) as connection:
        name = connection.execute(sa.select(FIRMS.c.name).where(FIRMS.c.id == firm)).scalar()
    notes = [say("issue.released", day=told_day(draft.at))]
    if standing.issues:
        before = standing.issues[-1]
        told = {"issue": str(draft.issue), "before": str(before.issue), "day": told_day(before.at)}
        notes.insert(0, say("issue.replaces", **told, reason=draft.reason))
    notes += cautions(standing.book, register(office.store.database, firm))
    return Told(draft.name, draft.at, name or "", tuple(notes))


def _photos(office: Office, book: Book) -> dict[str, bytes]:
    asked = {photo.sha256: office.photo(photo.sha256.lower()) for photo in book.photos}
    return {sha256: data for sha256, data in asked.items() if data is not None}


def _put(office: Office, made: Made, at: str) -> dict[str, str]:
    return {n: office.blobs.put(data, media_of(n), at) for n, data in made.files.items()}


def _settle(office: Office, who: Who, made: Release, seq: int, files: Made) -> bool:
    """Write a release down; ``False`` if another visit's release took its number meanwhile.

    Raises
    ------
    ConflictError
        If the visit was released or changed meanwhile.
    """
    database, firm = office.store.database, who.firm
    with database.use(firm) as connection:
        database.hold(connection, f"{firm}/{made.visit}")
        database.hold(connection, f"{firm}/releases")
        if len(issues_of(connection, firm, made.visit)) >= made.issue:
            raise _overtaken(made.issue)
        check_move(who, state_of(connection, firm, made.visit), RELEASED, made.reason)
        _same_record(connection, firm, made.visit, seq)
        if made.issue == 1 and is_taken(connection, firm, made.number):
            return False
        insert(connection, firm, made)
        event = Event(0, RELEASED, who.person, made.at, made.reason, made.id)
        add_event(connection, who, made.visit, event)
        here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == made.visit)
        updated = connection.execute(sa.select(VISITS.c.updated).where(here)).scalar_one()
        write_note(connection, firm, made.visit, noted(files.assessment), updated)
        audit.note(connection, who, "visit released", made.visit, at=made.at, release=made.id)
    return True


def _same_record(connection: Connection, firm: str, visit: str, seq: int) -> None:
    """Refuse a record that was written to while its report was being made."""
    query = sa.select(sa.func.max(ENTRIES.c.seq))
    query = query.where(ENTRIES.c.firm == firm, ENTRIES.c.visit == visit)
    if connection.execute(query).scalar() != seq:
        problem = "something was written into the record while the report was being made"
        raise ConflictError("record", problem, _LOOK)


def _overtaken(issue: int) -> ConflictError:
    problem = f"issue {issue} was released by somebody else in the meantime"
    return ConflictError("release", problem, "load the page again and look at that issue")
