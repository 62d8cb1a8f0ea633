"""The database behind the store: SQLite in a file, or PostgreSQL, with the firm of each use.

A use names its firm, or says that it is for all firms (signing in, moving, backup). In
PostgreSQL the firm is a setting of the transaction, by which row-level security shows only
that firm's rows, whatever a query forgets; SQLite has no such wall.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import ArgumentError

from levelbook.archive.queue import Queue
from levelbook.errors import UsageError

EVERY_FIRM = "*"
SETTING = "levelbook.firm"
PATIENCE = 30
"""Seconds that a writer of a file waits for others."""
AWAY = {"connect_timeout": 10, "tcp_user_timeout": 30_000, "keepalives_idle": 30}
"""After how many seconds PostgreSQL is taken to be away where it says nothing at all, and after
how many milliseconds where it stops in the middle; what its address tells goes first."""
_SETTINGS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "cache_size=-8000")
"""Of SQLite; 8 MB of pages a connection, with which a list of 100,000 visits is gone through
in half the time that it takes with the usual 2 MB."""


class Database:
    """One database; ``url`` is ``sqlite:///FILE`` or ``postgresql://…``."""

    def __init__(self, url: str) -> None:
        self.engine = _sqlite(url) if url.startswith("sqlite") else _postgresql(url)
        self._writers: Callable[[], AbstractContextManager[None]] = nullcontext
        if not self.postgresql:
            self._writers = Queue(PATIENCE).turn

    @property
    def postgresql(self) -> bool:
        """Tell whether this is PostgreSQL."""
        return self.engine.dialect.name == "postgresql"

    @contextmanager
    def use(self, firm: str) -> Iterator[Connection]:
        """Give a connection in one transaction, for the rows of one firm.

        Committed at the end, undone if an error leaves the block.
        """
        with self._writers(), self.engine.begin() as connection:
            self.name_firm(connection, firm)
            yield connection

    def name_firm(self, connection: Connection, firm: str) -> None:
        """Say for which firm's rows a connection is, to the end of its transaction."""
        if self.postgresql:
            connection.execute(sa.select(sa.func.set_config(SETTING, firm, True)))

    @contextmanager
    def look(self, firm: str) -> Iterator[Connection]:
        """Give a connection to read with: in SQLite it waits for no writer."""
        if self.postgresql:
            with self.use(firm) as connection:
                yield connection
            return
        with self.engine.connect() as connection:
            yield connection.execution_options(reading=True)

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """Give a connection that sees everything as it is at one moment, whoever writes.

        For whose rows is for the caller to say, by :meth:`name_firm`, as often as needed.
        """
        with self.engine.connect() as connection:
            if not self.postgresql:
                yield connection.execution_options(reading=True)
                return
            seen = connection.execution_options(isolation_level="REPEATABLE READ")
            seen.execute(sa.text("SET TRANSACTION READ ONLY"))
            yield seen

    def hold(self, connection: Connection, name: str) -> None:
        """Wait until no other transaction holds ``name``, and hold it to the end of this one.

        SQLite's transactions hold the whole file from their beginning.
        """
        if self.postgresql:
            lock = sa.func.pg_advisory_xact_lock(sa.func.hashtextextended(name, 0))
            connection.execute(sa.select(lock))

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def file_url(path: Path) -> str:
    """Return the address of a database in a file."""
    return f"sqlite:///{path}"


def _postgresql(url: str) -> Engine:
    """Open PostgreSQL with connections that are tried before they are used."""
    try:
        parsed = sa.make_url(url)
    except ArgumentError:
        parsed = None
    if parsed is None or parsed.get_backend_name() != "postgresql":
        problem = "this is no address of a database"
        remedy = "give postgresql://USER@HOST/NAME or sqlite:///FILE"
        raise UsageError("--database", problem, remedy)
    parsed = parsed.set(drivername="postgresql+psycopg")
    away = {name: value for name, value in AWAY.items() if name not in parsed.query}
    settings: dict[str, Any] = {"pool_size": 10, "max_overflow": 20, "pool_pre_ping": True}
    return sa.create_engine(parsed, connect_args=away, **settings)


def _sqlite(url: str) -> Engine:
    """Open the file with a write-ahead log; each transaction takes the write lock at once."""
    file = sa.make_url(url).database
    if file and file != ":memory:":
        Path(file).parent.mkdir(parents=True, exist_ok=True)
    engine = sa.create_engine(url, connect_args={"timeout": PATIENCE})

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _: object) -> None:  # noqa: ANN401 - the driver's own type
        connection.isolation_level = None
        for setting in _SETTINGS:
            connection.execute(f"PRAGMA {setting}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get("reading", False)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine
