"""A queue of threads: whoever comes first goes first, and nobody waits for ever."""

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import TimeoutError as NoConnectionError


class Queue:
    """Lets one thread at a time through, in the order in which they came.

    SQLite by itself lets writers try again after a while, and one that comes just then goes
    first: among many, one can wait until it gives up.
    """

    def __init__(self, longest: float) -> None:
        self._longest, self._lock = longest, threading.Lock()
        self._waiting: deque[threading.Event] = deque()

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for one's turn, and hold it.

        Raises
        ------
        sqlalchemy.exc.TimeoutError
            If it does not come in time.
        """
        mine = threading.Event()
        with self._lock:
            self._waiting.append(mine)
            if len(self._waiting) == 1:
                mine.set()
        try:
            if not mine.wait(self._longest):
                raise NoConnectionError("waited too long for others to write")
            yield
        finally:
            with self._lock:
                self._waiting.remove(mine)
                if self._waiting:
                    self._waiting[0].set()
