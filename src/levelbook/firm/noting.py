"""What a visit amounts to, noted in its row of the list: the outcome in a word, and why.

It is noted when a visit is released, and by the app some time after writing has stopped; the
row tells for which writing it was noted, so that none is left out.
"""

import json
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.document import to_document
from levelbook.archive.record import add_up
from levelbook.archive.store import Store
from levelbook.archive.tables import VISITS
from levelbook.archive.words import index_visit
from levelbook.book import digest, read_book
from levelbook.book.model import Book
from levelbook.errors import DocumentError, NoVisitError
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.firm.reviews import settle

LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Noted:
    """The outcome of a visit's assessment and the reasons for it; empty for no whole book."""

    digest: str = ""
    finding: str = ""
    found: str = ""


def noted(assessment: Assessment) -> Noted:
    """Return what is noted of an assessment."""
    told = assessment.screening
    text = " ".join(told.reasons)
    return Noted(assessment.digest, told.outcome, text[:LONGEST].replace("\0", ""))


def read_visit(store: Store, visit: str) -> tuple[int, Book]:
    """Return the number of a visit's last entry and its book.

    Raises
    ------
    MissingError
        If there is no such visit.
    DocumentError
        With all faults, if it is not a whole book.
    """
    seq = store.last(visit)
    if seq == 0:
        raise NoVisitError(visit)
    return seq, read_book(json.dumps(to_document(add_up(store.entries(visit)))))


def write_note(connection: Connection, firm: str, visit: str, what: Noted, updated: str) -> None:
    """Write into a visit's row what it amounted to at its writing of the time ``updated``."""
    here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == visit)
    row = {"finding": what.finding, "found": what.found, "assessed": updated}
    connection.execute(sa.update(VISITS).where(here).values(**row))
    index_visit(connection, firm, visit)


def waiting(database: Database, firm: str, before: str, most: int) -> tuple[str, ...]:
    """Return visits last written to before a time whose outcome is not noted yet."""
    query = sa.select(VISITS.c.id).where(VISITS.c.firm == firm, VISITS.c.updated < before)
    query = query.where(VISITS.c.assessed != VISITS.c.updated).order_by(VISITS.c.updated)
    with database.look(firm) as connection:
        return tuple(connection.execute(query.limit(most)).scalars())


def note(database: Database, firm: str, visit: str) -> Noted:
    """Work out what a visit amounts to now and note it; what is written meanwhile comes later."""
    here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == visit)
    with database.look(firm) as connection:
        updated = connection.execute(sa.select(VISITS.c.updated).where(here)).scalar()
    if updated is None:
        raise NoVisitError(visit)
    try:
        book = read_visit(Store(database, firm), visit)[1]
    except DocumentError:
        what = Noted()
    else:
        what = noted(assess(book))
        assert what.digest == digest(book)
    with database.use(firm) as connection:
        database.hold(connection, f"{firm}/{visit}")
        write_note(connection, firm, visit, what, updated)
        if connection.execute(sa.select(VISITS.c.updated).where(here)).scalar() == updated:
            settle(connection, firm, visit, what.digest)
    return what
