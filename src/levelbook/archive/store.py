"""The store: entries, photographs and the list of visits, in one SQLite file.

Entries are only ever added. A sending is one short immediate transaction, synchronised to
the disk before it is answered, so that what was acknowledged survives a killed server. The
layer is SQLAlchemy Core, so that another database can stand behind it.
"""

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, event

from levelbook.archive.entries import write_entry
from levelbook.archive.record import Entry, add_up
from levelbook.errors import DocumentError, Fault

_METADATA = sa.MetaData()
ENTRIES = sa.Table(
    "entries",
    _METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(64), nullable=False, unique=True),
    sa.Column("visit", sa.String(64), nullable=False, index=True),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("received", sa.String(32), nullable=False),
)
VISITS = sa.Table(
    "visits",
    _METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    sa.Column("label", sa.String(300), nullable=False, default=""),
    sa.Column("address", sa.String(300), nullable=False, default=""),
    sa.Column("date", sa.String(40), nullable=False, default="", index=True),
    sa.Column("purpose", sa.String(20), nullable=False, default=""),
    sa.Column("stations", sa.Integer, nullable=False, default=0),
    sa.Column("readings", sa.Integer, nullable=False, default=0),
    sa.Column("updated", sa.String(32), nullable=False, default=""),
)


@dataclass(frozen=True, slots=True)
class VisitRow:
    """A visit in the list of visits."""

    id: str
    label: str
    address: str
    date: str
    purpose: str
    stations: int
    readings: int
    updated: str


@dataclass(frozen=True, slots=True)
class Taken:
    """The answer to a sending: the store's last number, new entries for the device, ids taken."""

    seq: int
    entries: tuple[Entry, ...]
    accepted: tuple[str, ...]


class Store:
    """Entries and visits in the SQLite file at ``path``; made if it is not there."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.parent.mkdir(parents=True, exist_ok=True)
        self._engine = _open(path)
        _METADATA.create_all(self._engine)

    def close(self) -> None:
        """Close the file."""
        self._engine.dispose()

    def sync(self, visit: str, since: int, sent: Sequence[Entry], received: str) -> Taken:
        """Add what is new of ``sent`` and return what the sender lacks, in one transaction.

        Raises
        ------
        DocumentError
            If an id is taken by another entry; nothing of the sending is kept then.
        """
        with self._transaction() as connection:
            fresh = _fresh(connection, sent)
            if fresh:
                rows = [
                    {"id": e.id, "visit": visit, "body": _body(e), "received": received}
                    for e in fresh
                ]
                connection.execute(sa.insert(ENTRIES), rows)
                _summarise(connection, visit, received)
            have = {entry.id for entry in sent}
            rows_after = connection.execute(
                sa.select(ENTRIES.c.seq, ENTRIES.c.body)
                .where(ENTRIES.c.visit == visit, ENTRIES.c.seq > since)
                .order_by(ENTRIES.c.seq)
            ).all()
        after = [(seq, _entry(body)) for seq, body in rows_after]
        last = max((seq for seq, _ in after), default=since)
        lacking = tuple(entry for _, entry in after if entry.id not in have)
        return Taken(last, lacking, tuple(entry.id for entry in sent))

    def entries(self, visit: str) -> tuple[Entry, ...]:
        """Return all entries of a visit in the order in which they came."""
        query = sa.select(ENTRIES.c.body).where(ENTRIES.c.visit == visit).order_by(ENTRIES.c.seq)
        with self._engine.connect() as connection:
            return tuple(_entry(body) for body in connection.execute(query).scalars())

    def last(self, visit: str) -> int:
        """Return the number of a visit's last entry, 0 if it has none."""
        query = sa.select(sa.func.max(ENTRIES.c.seq)).where(ENTRIES.c.visit == visit)
        with self._engine.connect() as connection:
            return int(connection.execute(query).scalar() or 0)

    def visits(self, search: str = "", limit: int = 50, after: int = 0) -> tuple[VisitRow, ...]:
        """Return visits, the last changed first; ``search`` looks in label, address and date."""
        query = sa.select(VISITS).order_by(VISITS.c.updated.desc(), VISITS.c.id)
        for word in search.split()[:8]:
            places = (VISITS.c.label, VISITS.c.address, VISITS.c.date)
            query = query.where(sa.or_(*(p.icontains(word, autoescape=True) for p in places)))
        with self._engine.connect() as connection:
            rows = connection.execute(query.limit(limit).offset(after)).all()
        return tuple(VisitRow(*row) for row in rows)

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        with self._engine.begin() as connection:
            yield connection


def _open(path: Path) -> Engine:
    """Open the file with a write-ahead log; each transaction takes the write lock at once."""
    engine = sa.create_engine(f"sqlite:///{path}", connect_args={"timeout": 30})

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _: object) -> None:  # noqa: ANN401 - the driver's own type
        connection.isolation_level = None
        for setting in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {setting}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def _body(entry: Entry) -> str:
    return json.dumps(write_entry(entry), ensure_ascii=False, sort_keys=True)


def _entry(body: str) -> Entry:
    return Entry(**json.loads(body))


def _fresh(connection: Connection, sent: Sequence[Entry]) -> list[Entry]:
    """Return the entries that are not in the store, once each."""
    once = {entry.id: entry for entry in sent}
    known: dict[str, str] = {}
    ids = list(once)
    for start in range(0, len(ids), 500):
        query = sa.select(ENTRIES.c.id, ENTRIES.c.body)
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


def _summarise(connection: Connection, visit: str, updated: str) -> None:
    """Renew the visit's row in the list."""
    query = sa.select(ENTRIES.c.body).where(ENTRIES.c.visit == visit)
    state = add_up(_entry(body) for body in connection.execute(query).scalars())
    house = state.objects.get(("property", ""), {})
    about = state.objects.get(("visit", ""), {})
    row = {
        "label": str(house.get("label", ""))[:300],
        "address": str(house.get("address", ""))[:300],
        "date": str(about.get("date", ""))[:40],
        "purpose": str(about.get("purpose", ""))[:20],
        "stations": len(state.of("station")),
        "readings": sum(not r.get("struck") for r in state.of("reading").values()),
        "updated": updated,
    }
    if (
        connection.execute(sa.update(VISITS).where(VISITS.c.id == visit).values(**row)).rowcount
        == 0
    ):
        connection.execute(sa.insert(VISITS).values(id=visit, **row))
