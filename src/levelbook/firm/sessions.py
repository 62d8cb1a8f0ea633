"""Sessions: one for each sign-in, known by the digest of a token that only the browser has.

A session ends 12 hours after its last use and 30 days after its beginning, the limits of NIST
SP 800-63B, sections 4.1.4 and 4.2.3, taken one from each level; sooner when it is signed out.
What is most serious asks for password or passkey again where they were last given longer ago
than :data:`PROOF`.
"""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import SQLAlchemyError

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import later, read_stamp, stamp
from levelbook.archive.tables import ATTEMPTS, PEOPLE, SESSIONS
from levelbook.firm import limits
from levelbook.firm.roles import Known, Who
from levelbook.firm.tokens import digest, is_token, new_token

IDLE, ABSOLUTE = 12 * 3600, 30 * 86_400
TOUCH = 300
"""Seconds after which a use is written down again."""
PROOF = 900
"""Seconds for which password or passkey, once given, count for what is most serious."""


@dataclass(frozen=True, slots=True)
class Device:
    """A session as its person sees it."""

    id: str
    person: str
    device: str
    created: str
    seen: str


def begin(connection: Connection, who: Who, device: str, now: datetime) -> str:
    """Begin a session and return its token, which is kept nowhere."""
    token = new_token()
    connection.execute(
        sa.insert(SESSIONS).values(
            id=digest(token),
            firm=who.firm,
            person=who.person,
            device=device,
            csrf=new_token(),
            created=stamp(now),
            seen=stamp(now),
            expires=later(now, ABSOLUTE),
        )
    )
    return token


def find(database: Database, token: str, now: datetime) -> Known | None:
    """Return who a token stands for; ``None`` if it is none, or its session is over."""
    if not is_token(token):
        return None
    session = digest(token)
    again = sa.select(ATTEMPTS.c.until).where(ATTEMPTS.c.key == _proof_key(session))
    query = (
        sa.select(SESSIONS, PEOPLE.c.role, again.scalar_subquery().label("again"))
        .join(PEOPLE, PEOPLE.c.id == SESSIONS.c.person)
        .where(SESSIONS.c.id == session, PEOPLE.c.disabled.is_(None), *_open(now))
    )
    with database.look(EVERY_FIRM) as connection:
        row = connection.execute(query).one_or_none()
    if row is None:
        return None
    if now - read_stamp(row.seen) > timedelta(seconds=TOUCH):
        _touch(database, row.firm, row.id, now)
    proved = row.created > later(now, -PROOF) or (row.again or "") > stamp(now)
    return Known(Who(row.firm, row.person, row.role, row.id), row.csrf, proved)


def prove(connection: Connection, session: str, now: datetime) -> None:
    """Write down that password or passkey were given again in a session."""
    limits.open_challenge(connection, _proof_key(session), now, PROOF)


def listed(connection: Connection, firm: str, person: str, now: datetime) -> list[Device]:
    """Return the open sessions of a person, the last used first."""
    query = sa.select(*(SESSIONS.c[name] for name in Device.__slots__)).where(
        SESSIONS.c.firm == firm, SESSIONS.c.person == person, *_open(now)
    )
    return [Device(*row) for row in connection.execute(query.order_by(SESSIONS.c.seen.desc()))]


def person_of(connection: Connection, firm: str, session: str) -> str | None:
    """Return whose session this is, if it is one of the firm that has not ended."""
    query = sa.select(SESSIONS.c.person).where(
        SESSIONS.c.firm == firm, SESSIONS.c.id == session, SESSIONS.c.ended.is_(None)
    )
    return connection.execute(query).scalar()


def end(connection: Connection, firm: str, session: str, now: datetime) -> None:
    """End one session."""
    _end(connection, now, SESSIONS.c.firm == firm, SESSIONS.c.id == session)


def end_all(
    connection: Connection, firm: str, person: str, now: datetime, *, but: str = ""
) -> None:
    """End all sessions of a person, or all but one."""
    here = (SESSIONS.c.firm == firm, SESSIONS.c.person == person, SESSIONS.c.id != but)
    _end(connection, now, *here)


def _proof_key(session: str) -> str:
    return digest("proof", session)


def _touch(database: Database, firm: str, session: str, now: datetime) -> None:
    """Write down that a session was used; where nothing can be written, reading goes on."""
    seen = sa.update(SESSIONS).where(SESSIONS.c.id == session).values(seen=stamp(now))
    with suppress(SQLAlchemyError), database.use(firm) as connection:
        connection.execute(seen)


def _end(connection: Connection, now: datetime, *which: sa.ColumnElement[bool]) -> None:
    ended = sa.update(SESSIONS).where(SESSIONS.c.ended.is_(None), *which)
    connection.execute(ended.values(ended=stamp(now)))


def _open(now: datetime) -> tuple[sa.ColumnElement[bool], ...]:
    """Return what holds of a session that is not over."""
    return (
        SESSIONS.c.ended.is_(None),
        SESSIONS.c.expires > stamp(now),
        SESSIONS.c.seen > later(now, -IDLE),
    )
