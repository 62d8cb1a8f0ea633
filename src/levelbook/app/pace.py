"""How many requests a session may send: far more than a person makes, fewer than a machine could.

A bucket of tokens for each session, filled at a steady rate. A device that catches up after a
day offline sends some tens of requests; the pages of one house ask for a few a second.
"""

import time
from collections import OrderedDict
from collections.abc import Callable

RATE, BURST = 50.0, 500.0
"""Requests a second in the long run, and requests at once after a rest."""
MOST = 10_000
"""Sessions remembered; of more, the one that rested longest begins with a full bucket again."""


class Pace:
    """Counts the requests of each session; for one thread, that of the event loop."""

    def __init__(
        self,
        rate: float = RATE,
        burst: float = BURST,
        most: int = MOST,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.rate, self.burst, self.most, self.clock = rate, burst, most, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait(self, session: str) -> float:
        """Count a request; return how many seconds it must wait, 0 if it may go on.

        One that must wait is not counted.
        """
        now = self.clock()
        at, left = self._left.pop(session, (now, self.burst))
        left = min(self.burst, left + self.rate * (now - at))
        may = left >= 1.0
        self._left[session] = (now, left - 1.0 if may else left)
        while len(self._left) > self.most:
            self._left.popitem(last=False)
        return 0.0 if may else (1.0 - left) / self.rate

    def __len__(self) -> int:
        """Return how many sessions are remembered."""
        return len(self._left)
