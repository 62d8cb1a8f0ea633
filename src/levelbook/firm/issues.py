"""The issues that a firm released: found by id, by visit, by house; none is ever changed."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.life import skipped
from levelbook.archive.tables import RELEASES
from levelbook.archive.words import words_of
from levelbook.book.model import Book
from levelbook.firm.refusals import missing
from levelbook.firm.wording import say


@dataclass(frozen=True, slots=True)
class Release:
    """One issue of a report; ``files`` are the SHA-256 of what the client gets, by name.

    ``date`` is the visit's; ``house`` what two visits to one house share, empty if unknown.
    """

    id: str
    visit: str
    number: str
    issue: int
    digest: str
    files: Mapping[str, str]
    by: str
    at: str
    reason: str
    date: str
    house: str

    @property
    def name(self) -> str:
        """Number and issue, as they are told."""
        return say("issue.name", number=self.number, issue=str(self.issue))


def issues_of(connection: Connection, firm: str, visit: str) -> tuple[Release, ...]:
    """Return the issues of a visit, the first first, in the caller's transaction."""
    query = _select(firm).where(RELEASES.c.visit == visit).order_by(RELEASES.c.issue)
    return tuple(map(_release, connection.execute(query)))


def releases(database: Database, firm: str, visit: str) -> tuple[Release, ...]:
    """Return the issues of a visit, the first first."""
    with database.look(firm) as connection:
        return issues_of(connection, firm, visit)


def find(database: Database, firm: str, release: str) -> Release:
    """Return a release by id.

    Raises
    ------
    MissingError
        If the firm has no such release.
    """
    query = _select(firm).where(RELEASES.c.id == release)
    with database.look(firm) as connection:
        row = connection.execute(query).one_or_none()
    if row is None:
        raise missing(release, "release")
    return _release(row)


def newer(database: Database, firm: str, found: Release) -> Release | None:
    """Return the newest issue that replaces a release, ``None`` if it is the newest itself."""
    last = releases(database, firm, found.visit)[-1]
    return last if last.issue > found.issue else None


def earlier(database: Database, firm: str, found: Release, until: str) -> tuple[Release, ...]:
    """Return the newest issues of earlier visits to the same house, the latest visit first.

    Only visits released up to the time ``until`` count, and only by the same address: a house
    without one has no earlier visits.
    """
    if not found.house:
        return ()
    query = _select(firm).where(RELEASES.c.house == found.house, RELEASES.c.date < found.date)
    with database.look(firm) as connection:
        every = [_release(row) for row in connection.execute(query.order_by(RELEASES.c.issue))]
    known = {each.visit for each in every if each.at <= until} - {found.visit}
    last = {each.visit: each for each in every if each.visit in known}
    return tuple(sorted(last.values(), key=lambda e: (e.date, e.number), reverse=True))


def next_number(connection: Connection, firm: str, year: int) -> str:
    """Return the first number of a year that is not taken yet.

    After the archive was restored from a backup numbers go on further: some may have been
    handed out that the backup does not know.
    """
    start = f"{year}-"
    query = sa.select(RELEASES.c.number, RELEASES.c.at)
    query = query.where(RELEASES.c.firm == firm, RELEASES.c.issue == 1)
    query = query.where(RELEASES.c.number.startswith(start, autoescape=True))
    longest = sa.func.length(RELEASES.c.number).desc()
    query = query.order_by(longest, RELEASES.c.number.desc()).limit(1)
    last, at = connection.execute(query).one_or_none() or (f"{start}0", "")
    number = int(last.removeprefix(start)) + skipped(connection, firm, year, at)
    return f"{start}{1 + number:04d}"


def is_taken(connection: Connection, firm: str, number: str) -> bool:
    """Tell whether some visit of a firm has a number."""
    query = sa.select(RELEASES.c.id).where(RELEASES.c.firm == firm, RELEASES.c.number == number)
    return connection.execute(query.limit(1)).scalar() is not None


def insert(connection: Connection, firm: str, made: Release) -> None:
    """Write a release down."""
    row = {name: getattr(made, name) for name in Release.__slots__}
    row["files"] = json.dumps(dict(made.files), sort_keys=True)
    connection.execute(sa.insert(RELEASES).values(firm=firm, **row))


def house_of(book: Book) -> str:
    """Return what two visits to one house share: the words of the address, empty without."""
    return " ".join(words_of(book.property.address or ""))[:300]


def _select(firm: str) -> sa.Select[Any]:
    columns = (RELEASES.c[name] for name in Release.__slots__)
    return sa.select(*columns).where(RELEASES.c.firm == firm)


def _release(row: sa.Row[Any]) -> Release:
    told = row._asdict()
    return Release(**told | {"files": json.loads(told["files"])})
