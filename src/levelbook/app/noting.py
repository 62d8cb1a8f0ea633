"""Notes what visits amount to into the list, some time after writing has stopped.

One thread works through what waits, one visit at a time, and rests four times as long as it
worked, so that it takes at most a fifth of one processor from those who wait for an answer.
What a crash interrupts is found again: each row of the list tells what it was noted for.
"""

import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError

from levelbook.app.answers import database_state
from levelbook.app.logs import fault_lines
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.archive.tables import FIRMS, LOCAL, VISITS
from levelbook.firm.noting import Noted, note, waiting, write_note

T = TypeVar("T")
LOG = logging.getLogger("levelbook.noting")
QUIET = timedelta(seconds=60)
"""How long a visit is left alone after the last writing."""
PAUSE, REST = 20.0, 4.0
AT_ONCE = 20


class Noting:
    """The thread that notes; started and stopped with the server."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._stop = threading.Event()
        self._work = ThreadPoolExecutor(1, thread_name_prefix="noting")
        self._thread = threading.Thread(target=self._run, name="noting", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def close(self) -> None:
        """Finish the visit that is being worked on, and end."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self._work.shutdown(wait=True, cancel_futures=True)

    def round(self, before: datetime) -> int:
        """Note visits of every firm last written to before a moment; return how many."""
        count = 0
        for firm in self._done(self._firms) or ():
            found = self._done(partial(waiting, self.database, firm, stamp(before), AT_ONCE))
            for visit in found or ():
                if self._stop.is_set():
                    return count
                begun = time.monotonic()
                self._note(firm, visit)
                count += 1
                self._stop.wait(REST * (time.monotonic() - begun))
        return count

    def _run(self) -> None:
        while not self._stop.wait(PAUSE):
            self.round(datetime.now(UTC) - QUIET)

    def _note(self, firm: str, visit: str) -> None:
        """Note one visit; what cannot be worked out is noted as nothing until it changes.

        What failed because the database could not work is left as it was, for the next round.
        """
        error = self._failure(partial(note, self.database, firm, visit))
        if error is not None and not _passes(error):
            self._failure(partial(self._leave, firm, visit))

    def _leave(self, firm: str, visit: str) -> None:
        with self.database.use(firm) as connection:
            self.database.hold(connection, f"{firm}/{visit}")
            query = sa.select(VISITS.c.updated).where(VISITS.c.firm == firm, VISITS.c.id == visit)
            updated = connection.execute(query).scalar()
            if updated is not None:
                write_note(connection, firm, visit, Noted(), updated)

    def _firms(self) -> tuple[str, ...]:
        with self.database.look(EVERY_FIRM) as connection:
            others = sa.select(FIRMS.c.id).where(FIRMS.c.id != LOCAL)
            return (LOCAL, *connection.execute(others).scalars())

    def _done(self, make: Callable[[], T]) -> T | None:
        """Return what a work gives, ``None`` if it fails; the failure is logged, not raised."""
        done = self._work.submit(make)
        return None if _told(done) else done.result()

    def _failure(self, make: Callable[[], object]) -> BaseException | None:
        """Return what a work fails with, ``None`` if it does not; the failure is logged."""
        return _told(self._work.submit(make))


def _passes(error: BaseException) -> bool:
    """Tell whether an error is one of the database's or the disk's, which may be gone soon."""
    if isinstance(error, SQLAlchemyError):
        return database_state(error)[0] != 0
    return isinstance(error, OSError)


def _told(done: Future[T]) -> BaseException | None:
    """Return what stopped a work, having logged it."""
    error = done.exception()
    if error is not None:
        LOG.error("noting failed", extra={"told": {"error": fault_lines(error)}})
    return error
