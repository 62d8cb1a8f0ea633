"""How much a person may add within a day, and a firm in all: against machines, not people.

A surveyor takes some tens of photographs at a house. Who sends thousands has lost a device, or
runs a program that must not fill the disk for everyone.
"""

import threading
import time
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.tables import BLOBS
from levelbook.errors import NoRoomError, TooManyError
from levelbook.firm import limits
from levelbook.firm.roles import Who
from levelbook.firm.tokens import digest

DAY = 86_400
GIGABYTE, KILOBYTE = 1_000_000_000, 1000
RENEWED = 600.0
"""Seconds after which the bytes of a firm are added up again."""


@dataclass(frozen=True, slots=True)
class Quota:
    """Photographs and gigabytes that a person may add within a day; gigabytes of a firm in all."""

    photographs: int = 2000
    person_gb: float = 5.0
    firm_gb: float = 1000.0


class Quotas:
    """Counts what is added, in the table of the limits on tries; safe for threads."""

    def __init__(self, database: Database, quota: Quota) -> None:
        self.database, self.quota = database, quota
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[float, int]] = {}

    def take(self, who: Who, size: int, now: datetime) -> None:
        """Count a photograph of so many bytes before it is kept.

        Raises
        ------
        TooManyError, NoRoomError
            If it is more than may be added; it is not counted then.
        """
        self._room(who.firm, size)
        with self.database.use(EVERY_FIRM) as connection:
            for (key, most, told), by in zip(self._shares(who), _amounts(size), strict=True):
                until = limits.take_share(connection, key, (by, most), now, DAY)
                if until is not None:
                    raise _used_up(told, until, now)
        with self._lock:
            at, kept = self._kept[who.firm]
            self._kept[who.firm] = (at, kept + size)

    def _shares(self, who: Who) -> tuple[tuple[str, int, str], ...]:
        """Return key, most and words of each thing that is counted for a person."""
        quota = self.quota
        return (
            (
                digest("photographs", who.firm, who.person),
                quota.photographs,
                f"{quota.photographs:,} photographs",
            ),
            (
                digest("photograph kilobytes", who.firm, who.person),
                int(quota.person_gb * GIGABYTE / KILOBYTE),
                f"{quota.person_gb:g} GB of photographs",
            ),
        )

    def _room(self, firm: str, size: int) -> None:
        """Refuse what would be more than a firm may keep in all."""
        with self._lock:
            at, kept = self._kept.get(firm, (-RENEWED, 0))
        now = time.monotonic()
        if now - at >= RENEWED:
            kept = self._added_up(firm)
            with self._lock:
                self._kept[firm] = (now, kept)
        if kept + size > self.quota.firm_gb * GIGABYTE:
            problem = f"your firm has used up its room for files, {self.quota.firm_gb:g} GB"
            remedy = "it stays on the device; ask whoever runs the server for more room"
            raise NoRoomError("photographs", problem, remedy)

    def _added_up(self, firm: str) -> int:
        query = sa.select(sa.func.coalesce(sa.func.sum(BLOBS.c.size), 0))
        with self.database.look(firm) as connection:
            return int(connection.execute(query.where(BLOBS.c.firm == firm)).scalar_one())


def _amounts(size: int) -> tuple[int, int]:
    """Return what a photograph counts for: itself, and its kilobytes, begun ones whole."""
    return 1, -(-size // KILOBYTE)


def _used_up(told: str, until: datetime, now: datetime) -> TooManyError:
    problem = f"you have added {told} within a day, as many as one person may"
    remedy = "they stay on the device, which sends them when the day is over"
    wait = max(1, int((until - now) / timedelta(seconds=1)) + 1)
    return TooManyError("photographs", wait, problem, remedy)
