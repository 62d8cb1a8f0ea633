"""The list of everything of consequence, each line bound to the one before it.

``chain`` is the SHA-256 of a line together with the ``chain`` before it in the same firm. Who
alters, removes or inserts a line breaks the chain from there on; that lines at the end were
cut off shows only against a chain that was written down elsewhere, which is why checking the
list tells its last one. The database itself refuses to change or delete lines.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import rfc8785
import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.chain import BEGINNING, TOLD, link
from levelbook.archive.moments import stamp
from levelbook.archive.tables import AUDIT
from levelbook.firm.roles import Who

__all__ = ["BEGINNING", "Checked", "Line", "check", "follow", "lines", "link", "note"]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the list."""

    seq: int
    at: str
    person: str
    action: str
    subject: str
    detail: str
    chain: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What checking the list found: how many lines, the last chain, and where it breaks."""

    lines: int
    chain: str
    broken: int | None
    """The number of the first line that does not fit, or ``None``."""
    expected: bool = True
    """Whether the chain that was asked after is in the list."""


def note(
    connection: Connection,
    who: Who,
    action: str,
    subject: str = "",
    *,
    at: str = "",
    **detail: object,
) -> None:
    """Add a line to the firm's list, in the transaction of what it tells.

    Parameters
    ----------
    connection
        One for the rows of the firm of ``who``.
    who
        Whoever did it.
    action
        What was done, a few words such as ``visit released``.
    subject
        The id of what it was done to.
    at
        When; now if not given.
    detail
        Figures and ids, no personal data.
    """
    _hold(connection, who.firm)
    last = sa.select(AUDIT.c.chain).where(AUDIT.c.firm == who.firm)
    before = connection.execute(last.order_by(AUDIT.c.seq.desc()).limit(1)).scalar()
    told: Any = detail
    row = {
        "at": at or stamp(datetime.now(UTC)),
        "person": who.person,
        "action": action,
        "subject": subject,
        "detail": rfc8785.dumps(told).decode(),
    }
    chain = link(before or BEGINNING, who.firm, row)
    connection.execute(sa.insert(AUDIT).values(firm=who.firm, chain=chain, **row))


def lines(connection: Connection, firm: str, limit: int, after: int = 0) -> list[Line]:
    """Return lines, the newest first; with ``after``, those before that number."""
    query = sa.select(*(AUDIT.c[name] for name in Line.__slots__)).where(AUDIT.c.firm == firm)
    if after:
        query = query.where(AUDIT.c.seq < after)
    rows = connection.execute(query.order_by(AUDIT.c.seq.desc()).limit(limit))
    return [Line(*row) for row in rows]


def check(connection: Connection, firm: str, expect: str = "") -> Checked:
    """Follow the chain of a firm's list from its beginning to its end.

    ``expect`` is a chain that was told earlier: if it is not in the list, lines were cut off
    after it was told, or the whole list was written anew.
    """
    query = sa.select(*(AUDIT.c[name] for name in Line.__slots__)).where(AUDIT.c.firm == firm)
    rows = connection.execution_options(yield_per=1000).execute(query.order_by(AUDIT.c.seq))
    return follow(firm, (Line(*row) for row in rows), expect)


def follow(firm: str, found: Iterable[Line], expect: str = "") -> Checked:
    """Return what is found on following ``found``, the oldest line first."""
    number, before, broken, seen = 0, BEGINNING, None, not expect
    for line in found:
        number += 1
        fits = link(before, firm, {name: getattr(line, name) for name in TOLD})
        if broken is None and fits != line.chain:
            broken = line.seq
        before = line.chain
        seen = seen or before == expect
    return Checked(number, before if number else "", broken, seen)


def _hold(connection: Connection, firm: str) -> None:
    """Wait until no other transaction writes this firm's list.

    SQLite's transactions hold the whole file from their beginning.
    """
    if connection.dialect.name == "postgresql":
        key = sa.func.hashtextextended(f"audit/{firm}", 0)
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(key)))
