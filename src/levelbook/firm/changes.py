"""What changed in somebody's way in, told to that person until they have read it.

It is read from the audit list, which holds each change in the transaction that made it, so
that none can be made without being told. That it was read is a line of the list, too.
"""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.moments import stamp
from levelbook.archive.tables import AUDIT, PEOPLE, SESSIONS
from levelbook.firm.audit import note
from levelbook.firm.roles import Who

OF_PASSWORD = ("password changed", "password reset", "reset started")
OF_KEYS = ("passkey added", "passkey removed")
READ = "changes read"
MOST = 20
"""Changes told at once, the newest; reading them covers the older ones."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change: its line of the audit list, who made it, and on which device.

    ``own`` where the person made it, or somebody in their name; ``by`` is empty where the
    operator of the server did. ``device`` is empty where none is known.
    """

    seq: int
    at: str
    what: str
    own: bool
    by: str
    device: str


def unread(connection: Connection, who: Who) -> list[Change]:
    """Return what somebody has not read yet, the newest first.

    What was done in the session that asks is left out: it is told at the next sign-in.
    """
    found = [line for line in _lines(connection, who.firm, who.person) if not _here(line, who)]
    return [_told(connection, who, line) for line in found[:MOST]]


def made_at(connection: Connection, who: Who, at: str) -> list[Change]:
    """Return what changed for somebody at one moment."""
    lines = _lines(connection, who.firm, who.person)
    return [_told(connection, who, line) for line in lines if line.at == at]


def mark_read(connection: Connection, who: Who, upto: int, now: datetime) -> None:
    """Write down that somebody has read what is told up to a line of the list.

    What is not told yet cannot be marked: a line that is still to come stays unread.
    """
    told = [change.seq for change in unread(connection, who) if change.seq <= upto]
    if told:
        note(connection, who, READ, who.person, at=stamp(now), upto=max(told))


def _lines(connection: Connection, firm: str, person: str) -> list[Any]:
    """Return the lines that a person has not read, the newest first."""
    known = sa.and_(AUDIT.c.firm == firm, AUDIT.c.action.in_((*OF_PASSWORD, *OF_KEYS, READ)))
    mine = sa.case((AUDIT.c.action.in_(OF_KEYS), AUDIT.c.person), else_=AUDIT.c.subject) == person
    rows = connection.execute(sa.select(AUDIT).where(known, mine)).all()
    found = sorted(rows, key=lambda row: -int(row.seq))
    seen = max((json.loads(row.detail)["upto"] for row in found if row.action == READ), default=0)
    return [row for row in found if row.action != READ and row.seq > seen]


def _told(connection: Connection, who: Who, line: Any) -> Change:  # noqa: ANN401 - a row
    own = line.person == who.person
    by = PEOPLE.c.firm == who.firm, PEOPLE.c.id == line.person
    name = connection.execute(sa.select(PEOPLE.c.name).where(*by)).scalar() or ""
    return Change(line.seq, line.at, line.action, own, name, _device(connection, who, line))


def _device(connection: Connection, who: Who, line: Any) -> str:  # noqa: ANN401 - a row
    """Return the name of the device on which a change was made, empty if none is known."""
    session = _session(line)
    mine = SESSIONS.c.firm == who.firm, SESSIONS.c.person == line.person
    here = SESSIONS.c.id.startswith(session, autoescape=True)
    found = sa.select(SESSIONS.c.device).where(*mine, here).limit(1)
    return str(connection.execute(found).scalar() or "") if session else ""


def _here(line: Any, who: Who) -> bool:  # noqa: ANN401 - a row
    session = _session(line)
    return session != "" and who.session.startswith(session)


def _session(line: Any) -> str:  # noqa: ANN401 - a row
    """Return the beginning of the id of the session in which a line was written."""
    return str(json.loads(line.detail).get("session", ""))
