"""The store: the entries of a firm's visits.

Entries are only ever added. A sending is one short transaction, synchronised to the disk
before it is answered, so that what was acknowledged survives a killed server. Sendings to one
visit wait for each other, so that a device which has seen a number has seen all before it.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database, file_url
from levelbook.archive.entries import told_entries, write_entry
from levelbook.archive.migrating import migrate
from levelbook.archive.record import Entry
from levelbook.archive.summary import summarise
from levelbook.archive.tables import ENTRIES, LOCAL
from levelbook.errors import DocumentError, Fault


@dataclass(frozen=True, slots=True)
class Taken:
    """The answer to a sending: the store's last number, new entries for the device, ids taken."""

    seq: int
    entries: tuple[Entry, ...]
    accepted: tuple[str, ...]


class Store:
    """Entries and visits of one firm in a database."""

    def __init__(self, database: Database, firm: str = LOCAL) -> None:
        self.database, self.firm = database, firm

    def close(self) -> None:
        """Close the database."""
        self.database.close()

    def sync(self, visit: str, since: int, sent: Sequence[Entry], received: str) -> Taken:
        """Add what is new of ``sent`` and return what the sender lacks, in one transaction.

        Raises
        ------
        DocumentError
            If an id is taken by another entry; nothing of the sending is kept then.
        """
        with self.database.use(self.firm) as connection:
            self.database.hold(connection, f"{self.firm}/{visit}")
            fresh = _fresh(connection, self.firm, sent)
            if fresh:
                about = {"firm": self.firm, "visit": visit, "received": received}
                rows = [about | {"id": e.id, "body": _body(e)} for e in fresh]
                connection.execute(sa.insert(ENTRIES), rows)
                summarise(connection, self.firm, visit, received)
            have = {entry.id for entry in sent}
            rows_after = connection.execute(
                sa.select(ENTRIES.c.seq, ENTRIES.c.body)
                .where(self._of(visit), ENTRIES.c.seq > since)
                .order_by(ENTRIES.c.seq)
            ).all()
        last = max((seq for seq, _ in rows_after), default=since)
        after = told_entries(body for _, body in rows_after)
        lacking = tuple(entry for entry in after if entry.id not in have)
        return Taken(last, lacking, tuple(entry.id for entry in sent))

    def entries(self, visit: str) -> tuple[Entry, ...]:
        """Return all entries of a visit in the order in which they came."""
        query = sa.select(ENTRIES.c.body).where(self._of(visit)).order_by(ENTRIES.c.seq)
        with self.database.look(self.firm) as connection:
            return tuple(told_entries(connection.execute(query).scalars()))

    def last(self, visit: str) -> int:
        """Return the number of a visit's last entry, 0 if it has none."""
        query = sa.select(sa.func.max(ENTRIES.c.seq)).where(self._of(visit))
        with self.database.look(self.firm) as connection:
            return int(connection.execute(query).scalar() or 0)

    def _of(self, visit: str) -> sa.ColumnElement[bool]:
        return sa.and_(ENTRIES.c.firm == self.firm, ENTRIES.c.visit == visit)


def open_store(path: Path) -> Store:
    """Open the store in a file of one's own machine.

    Made if it is not there, and brought to the schema of this release if it is older.

    Raises
    ------
    UsageError
        If the file is of a later release.
    """
    database = Database(file_url(path))
    migrate(database)
    return Store(database)


def _body(entry: Entry) -> str:
    return json.dumps(write_entry(entry), ensure_ascii=False, sort_keys=True)


def _fresh(connection: Connection, firm: str, sent: Sequence[Entry]) -> list[Entry]:
    """Return the entries that are not in the store, once each."""
    once = {entry.id: entry for entry in sent}
    known: dict[str, str] = {}
    ids = list(once)
    for start in range(0, len(ids), 500):
        query = sa.select(ENTRIES.c.id, ENTRIES.c.body).where(ENTRIES.c.firm == firm)
        rows = connection.execute(query.where(ENTRIES.c.id.in_(ids[start : start + 500])))
        known |= {row.id: row.body for row in rows}
    changed = [i for i, body in known.items() if body != _body(once[i])]
    changed += [e.id for e in sent if _body(e) != _body(once[e.id])]
    if changed:
        remedy = "an entry is never altered: add a new one"
        raise DocumentError(
            tuple(Fault("entry-altered", i, "this id is taken", remedy) for i in changed[:50])
        )
    return [entry for entry in once.values() if entry.id not in known]
