"""The store: the entries of a firm's visits.

Entries are only ever added. A sending is one short transaction, synchronised to the disk
before it is answered, so that what was acknowledged survives a killed server. Sendings to one
visit wait for each other, so that a device which has seen a number has seen all before it.
With the number of the last entry that a device has it is told that entry's mark, the time at
which it was kept. Where a store does not hold that number under that mark, it is not the one
that the device knows, but brought back from a backup, or another: the device is told all.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database, file_url
from levelbook.archive.entries import told_entries, write_entry
from levelbook.archive.life import life_in
from levelbook.archive.migrating import migrate
from levelbook.archive.record import Entry
from levelbook.archive.summary import summarise
from levelbook.archive.tables import ENTRIES, LOCAL
from levelbook.errors import DocumentError, Fault

_HUGE = 1e300


@dataclass(frozen=True, slots=True)
class Taken:
    """The answer to a sending: the store's last number, new entries for the device, ids taken.

    Attributes
    ----------
    mark
        What the entry of the last number is known by, empty if there is none.
    again
        Whether the device's number was none of this visit here: ``entries`` and ``accepted``
        are then all that is kept of it.
    life
        The archive's life, as :func:`levelbook.archive.life.life_in` tells it.
    """

    seq: int
    entries: tuple[Entry, ...]
    accepted: tuple[str, ...]
    mark: str = ""
    again: bool = False
    life: str = ""


class Store:
    """Entries and visits of one firm in a database."""

    def __init__(self, database: Database, firm: str = LOCAL) -> None:
        self.database, self.firm = database, firm

    def close(self) -> None:
        """Close the database."""
        self.database.close()

    def sync(
        self, visit: str, since: int, sent: Sequence[Entry], received: str, mark: str = ""
    ) -> Taken:
        """Add what is new of ``sent`` and return what the sender lacks, in one transaction.

        Parameters
        ----------
        since, mark
            The number and the mark that the sender was told last; 0 if none. A device of the
            first release tells no mark, and is held to the number alone.
        received
            The time.

        Raises
        ------
        DocumentError
            If an id is taken by another entry; nothing of the sending is kept then.
        """
        with self.database.use(self.firm) as connection:
            self.database.hold(connection, f"{self.firm}/{visit}")
            life = life_in(self.database, connection, self.firm)
            known = self._known(connection, visit, since)
            again = since > 0 and (known is None or mark not in ("", known))
            since, mark = (0, "") if again else (since, known or "")
            fresh = _fresh(connection, self.firm, sent)
            if fresh:
                about = {"firm": self.firm, "visit": visit, "received": received}
                rows = [about | {"id": e.id, "body": _body(e)} for e in fresh]
                connection.execute(sa.insert(ENTRIES), rows)
                summarise(connection, self.firm, visit, received)
            have = {entry.id for entry in sent}
            rows_after = connection.execute(
                sa.select(ENTRIES.c.seq, ENTRIES.c.received, ENTRIES.c.body)
                .where(self._of(visit), ENTRIES.c.seq > since)
                .order_by(ENTRIES.c.seq)
            ).all()
        last, mark = rows_after[-1][:2] if rows_after else (since, mark)
        after = told_entries(row.body for row in rows_after)
        lacking = tuple(entry for entry in after if entry.id not in have)
        return Taken(last, lacking, tuple(entry.id for entry in sent), mark, again, life)

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

    def _known(self, connection: Connection, visit: str, number: int) -> str | None:
        """Return the mark of a visit's entry of this number, ``None`` if it has none."""
        query = sa.select(ENTRIES.c.received).where(self._of(visit), ENTRIES.c.seq == number)
        return connection.execute(query).scalar_one_or_none() if number else None

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
    changed = [i for i, body in known.items() if not _same(body, _body(once[i]))]
    changed += [e.id for e in sent if _body(e) != _body(once[e.id])]
    if changed:
        remedy = "an entry is never altered: add a new one"
        raise DocumentError(
            tuple(Fault("entry-altered", i, "this id is taken", remedy) for i in changed[:50])
        )
    return [entry for entry in once.values() if entry.id not in known]


def _same(body: str, other: str) -> bool:
    """Tell whether two entries say the same: a device that was told ``1.0`` sends ``1``."""
    return body == other or _numbers(json.loads(body)) == _numbers(json.loads(other))


def _numbers(value: Any) -> Any:  # noqa: ANN401 - any JSON
    """Return a JSON value with each number as a browser has it; a yes is none."""
    match value:
        case bool() | str() | None:
            return (type(value), value)
        case int() | float():
            return float(value) if abs(value) < _HUGE else value
        case list():
            return [_numbers(item) for item in value]
    return {name: _numbers(item) for name, item in value.items()}
