"""A PostgreSQL server that things happen to, one at a time."""

import random
import signal
import threading
from dataclasses import dataclass, field
from pathlib import Path

import psycopg
from devices import entry

import temporary_postgres
from levelbook.archive.database import Database
from levelbook.archive.entries import read_entries
from levelbook.archive.store import Store

SEGMENT_MB = 1
"""Of the files that it writes ahead to, so that a table grows larger than they are."""
PAGE = 8192
BALLAST = "visit-ballast"


@dataclass
class Shaken:
    """The server; whatever is done to it waits until what was done before is over."""

    running: temporary_postgres.Server
    can_narrow: bool = field(init=False)
    """Whether this system lets us limit its files."""
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _table: Path = field(init=False)

    def __post_init__(self) -> None:
        self.can_narrow = self.running.can_narrow()

    @property
    def url(self) -> str:
        """The address of its database."""
        return self.running.url()

    def fill(self) -> None:
        """Write so much that the table of entries is larger than a file written ahead to."""
        database, chance = Database(self.url), random.Random(7)
        store, count = Store(database), 0
        with psycopg.connect(self.url) as connection:
            found = connection.execute("SELECT pg_relation_filepath('entries')").fetchone()
        assert found is not None
        self._table = self.running.folder / "data" / found[0]
        while self._table.stat().st_size <= SEGMENT_MB * 2**20:
            every = [entry(BALLAST, f"r{count + n}", chance) for n in range(500)]
            taken = read_entries(every, BALLAST, 2**52)
            store.sync(BALLAST, 10**9, taken, "2026-01-01T00:00:00.000000Z")
            count += 500
        database.close()

    def restart(self, how: signal.Signals) -> None:
        """End it, with ``SIGKILL`` as if the power failed, and start it again."""
        with self._lock:
            self.running.stop(how)
            self.running.start()

    def narrow_tables(self, pages: int) -> None:
        """Let no table grow by more than some pages; there is room to write ahead."""
        with self._lock:
            self.running.narrow(self._table.stat().st_size + pages * PAGE)

    def narrow_log(self, share: float) -> None:
        """Let it write ahead only up to a share of a file: it goes down when it gets there."""
        with self._lock:
            self.running.narrow(int(share * SEGMENT_MB * 2**20))

    def widen(self) -> None:
        """Give it room again."""
        with self._lock:
            self.running.widen()
