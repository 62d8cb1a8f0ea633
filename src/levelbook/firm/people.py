"""The people of a firm: found, listed, changed."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.archive.tables import FIRMS, INVITATIONS, PEOPLE
from levelbook.errors import ConflictError, DeniedError, MissingError, UsageError
from levelbook.firm import sessions
from levelbook.firm.audit import note
from levelbook.firm.roles import OWNER, ROLES, Who

OPERATOR = "operator"
"""Whoever runs the server's commands, in the audit list."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody of a firm; ``password`` is what is kept of it."""

    id: str
    firm: str
    email: str
    name: str
    role: str
    password: str | None
    created: str
    disabled: str | None

    @property
    def who(self) -> Who:
        """Return the person without a session."""
        return Who(self.firm, self.id, self.role)


_COLUMNS = tuple(PEOPLE.c[name] for name in Person.__slots__)


def by_email(connection: Connection, email: str) -> Person | None:
    """Return the person with an e-mail address, among those whom the connection may see."""
    row = connection.execute(sa.select(*_COLUMNS).where(PEOPLE.c.email == email)).one_or_none()
    return Person(*row) if row else None


def by_id(connection: Connection, firm: str, person: str) -> Person:
    """Return a person of a firm.

    Raises
    ------
    MissingError
        If the firm has no such person.
    """
    query = sa.select(*_COLUMNS).where(PEOPLE.c.firm == firm, PEOPLE.c.id == person)
    row = connection.execute(query).one_or_none()
    if row is None:
        raise MissingError("person", "there is no such person", "go back to the list")
    return Person(*row)


def listed(connection: Connection, firm: str) -> list[Person]:
    """Return all people of a firm by name."""
    query = sa.select(*_COLUMNS).where(PEOPLE.c.firm == firm)
    rows = connection.execute(query.order_by(PEOPLE.c.name, PEOPLE.c.id))
    return [Person(*row) for row in rows]


def firm_name(connection: Connection, firm: str) -> str:
    """Return the name of a firm, empty if it has none."""
    return str(connection.execute(sa.select(FIRMS.c.name).where(FIRMS.c.id == firm)).scalar() or "")


def firms(database: Database) -> list[tuple[str, str]]:
    """Return id and name of every firm, the oldest first."""
    query = sa.select(FIRMS.c.id, FIRMS.c.name).order_by(FIRMS.c.created, FIRMS.c.id)
    with database.look(EVERY_FIRM) as connection:
        return [(row[0], row[1]) for row in connection.execute(query)]


def hold_people(connection: Connection, firm: str) -> None:
    """Wait until no other transaction changes who is in a firm."""
    if connection.dialect.name == "postgresql":
        key = sa.func.hashtextextended(f"people/{firm}", 0)
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(key)))


def hold_as_owner(connection: Connection, who: Who) -> None:
    """Hold the people of a firm, and refuse who is its owner no more.

    Between the look at a request's session and its transaction, somebody else may have taken
    the role or shut the person out; what those did must not be undone by what was under way.

    Raises
    ------
    DeniedError
        If it is not an owner of the firm who asks.
    """
    hold_people(connection, who.firm)
    if who.person == OPERATOR:
        return
    found = by_id(connection, who.firm, who.person)
    if found.role != OWNER or found.disabled is not None:
        problem = "you are no longer an owner of this firm"
        raise DeniedError("access", problem, "ask an owner of your firm")


def set_role(connection: Connection, who: Who, person: str, role: str, now: datetime) -> None:
    """Give somebody another role; it counts from the next request on.

    Raises
    ------
    ConflictError
        If the firm would be left without an owner.
    """
    if role not in ROLES:
        raise UsageError("role", "there is no such role", f"give one of {', '.join(ROLES)}")
    hold_as_owner(connection, who)
    found = by_id(connection, who.firm, person)
    if found.role == role:
        return
    if role != OWNER:
        _keep_an_owner(connection, found)
        _withdraw(connection, found, now)
    _change(connection, found, role=role)
    note(connection, who, "role changed", person, at=stamp(now), before=found.role, after=role)


def set_disabled(
    connection: Connection, who: Who, person: str, now: datetime, *, disabled: bool
) -> None:
    """Shut somebody out, with all of their sessions, or let them in again.

    Raises
    ------
    ConflictError
        If the firm would be left without an owner.
    """
    hold_as_owner(connection, who)
    found = by_id(connection, who.firm, person)
    if (found.disabled is not None) == disabled:
        return
    if disabled:
        _keep_an_owner(connection, found)
        _withdraw(connection, found, now, INVITATIONS.c.email == found.email)
        sessions.end_all(connection, who.firm, person, now)
    _change(connection, found, disabled=stamp(now) if disabled else None)
    note(connection, who, "shut out" if disabled else "let in again", person, at=stamp(now))


def _keep_an_owner(connection: Connection, person: Person) -> None:
    """Refuse what would leave the firm without an owner."""
    others = sa.select(PEOPLE.c.id).where(
        PEOPLE.c.firm == person.firm,
        PEOPLE.c.role == OWNER,
        PEOPLE.c.disabled.is_(None),
        PEOPLE.c.id != person.id,
    )
    if person.role == OWNER and connection.execute(others.limit(1)).first() is None:
        problem = "this is the last owner of the firm"
        raise ConflictError("person", problem, "make somebody else an owner first")


def _withdraw(
    connection: Connection, person: Person, now: datetime, *others: sa.ColumnElement[bool]
) -> None:
    """Let the open invitations that somebody wrote lead nowhere, and ``others``."""
    written = sa.update(INVITATIONS).where(
        INVITATIONS.c.firm == person.firm,
        sa.or_(INVITATIONS.c.by == person.id, *others),
        INVITATIONS.c.used.is_(None),
    )
    connection.execute(written.values(used=stamp(now)))


def _change(connection: Connection, person: Person, **values: str | None) -> None:
    here = (PEOPLE.c.firm == person.firm, PEOPLE.c.id == person.id)
    connection.execute(sa.update(PEOPLE).where(*here).values(**values))
