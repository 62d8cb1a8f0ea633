"""Invitations: an address that lets one person in once, or set a new password once.

Only the digest of the secret in the address is kept. A newer one for the same e-mail address
ends the older; an owner who is shut out or is owner no more leaves none behind.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import later, stamp
from levelbook.archive.tables import FIRMS, INVITATIONS, PEOPLE
from levelbook.errors import ConflictError, MissingError, UsageError
from levelbook.firm import limits, passkeys, people, sessions
from levelbook.firm.audit import note
from levelbook.firm.passwords import Passwords, judge
from levelbook.firm.roles import OWNER, ROLES, Who
from levelbook.firm.tokens import digest, is_token, new_token

OPERATOR = people.OPERATOR
JOIN, RESET = "join", "reset"
LASTS = {JOIN: 7 * 86_400, RESET: 86_400}
"""Seconds for which each kind is good."""


@dataclass(frozen=True, slots=True)
class Invitation:
    """An invitation that is still open."""

    firm: str
    purpose: str
    email: str
    name: str
    role: str
    created: str
    expires: str


def new_firm(database: Database, name: str, email: str, now: datetime) -> tuple[str, str]:
    """Make a firm and invite its first owner; return its id and the invitation's token."""
    firm = str(uuid.uuid4())
    who = Who(firm, OPERATOR, OWNER)
    with database.use(firm) as connection:
        about = {"id": firm, "name": name, "created": stamp(now)}
        connection.execute(sa.insert(FIRMS).values(**about))
        note(connection, who, "firm made", firm, at=stamp(now))
        return firm, invite(connection, who, (email, "", OWNER), now)


def invite(connection: Connection, who: Who, whom: tuple[str, str, str], now: datetime) -> str:
    """Invite somebody (e-mail address, name, role) into a firm and return the token.

    Raises
    ------
    UsageError
        If there is no such role.
    ConflictError
        If the firm has somebody with this e-mail address.
    """
    email, _, role = whom
    if role not in ROLES:
        raise UsageError("role", "there is no such role", f"give one of {', '.join(ROLES)}")
    people.hold_as_owner(connection, who)
    found = people.by_email(connection, email)
    if found is not None and found.firm == who.firm:
        problem = "somebody of your firm has this e-mail address"
        raise ConflictError("email", problem, "reset their password, or let them in again")
    token, key = _write(connection, who, JOIN, whom, now)
    note(connection, who, "invited", key[:16], at=stamp(now), role=role)
    return token


def start_reset(connection: Connection, who: Who, person: str, now: datetime) -> str:
    """Return a token by which somebody sets a new password.

    Raises
    ------
    MissingError, ConflictError
        If there is no such person in the firm, or they are shut out.
    """
    people.hold_as_owner(connection, who)
    found = people.by_id(connection, who.firm, person)
    if found.disabled is not None:
        raise ConflictError("person", "this person is shut out", "let them in again first")
    token, _ = _write(connection, who, RESET, (found.email, found.name, found.role), now)
    note(connection, who, "reset started", person, at=stamp(now))
    return token


def find(connection: Connection, token: str, now: datetime) -> Invitation:
    """Return the open invitation of a token.

    Raises
    ------
    MissingError
        If there is none, it was used, or its time is over: all alike.
    """
    query = sa.select(*(INVITATIONS.c[name] for name in Invitation.__slots__))
    if is_token(token):
        row = connection.execute(query.where(*_open(digest(token), now))).one_or_none()
        if row is not None:
            return Invitation(*row)
    raise _gone()


def waiting(connection: Connection, firm: str, now: datetime) -> list[Invitation]:
    """Return the open invitations into a firm, the newest first."""
    query = sa.select(*(INVITATIONS.c[name] for name in Invitation.__slots__)).where(
        INVITATIONS.c.firm == firm,
        INVITATIONS.c.purpose == JOIN,
        INVITATIONS.c.used.is_(None),
        INVITATIONS.c.expires > stamp(now),
    )
    rows = connection.execute(query.order_by(INVITATIONS.c.created.desc()))
    return [Invitation(*row) for row in rows]


def accept(
    database: Database, passwords: Passwords, token: str, given: tuple[str, str], now: datetime
) -> str:
    """Use an invitation with a name and a password; return the e-mail address to sign in with.

    Raises
    ------
    MissingError, UsageError, ConflictError
        If it is not open, the password is too easily guessed, or the address is taken.
    """
    with database.look(EVERY_FIRM) as connection:
        found = find(connection, token, now)
        firm = people.firm_name(connection, found.firm)
    name, password = given
    judge(password, (found.email, name, found.name, firm))
    kept = passwords.hash(password)
    try:
        with database.use(found.firm) as connection:
            _use(connection, token, now)
            if found.purpose == RESET:
                _set_again(connection, found, kept, now)
            else:
                _join(connection, found, (name or found.name, kept), now)
    except IntegrityError:
        problem = "this e-mail address has an account already"
        raise ConflictError("email", problem, "ask for an invitation to another address") from None
    return found.email


def _write(
    connection: Connection, who: Who, purpose: str, whom: tuple[str, str, str], now: datetime
) -> tuple[str, str]:
    """Write an invitation in place of older ones; return its token and the token's digest."""
    email, name, role = whom
    older = sa.update(INVITATIONS).where(
        INVITATIONS.c.firm == who.firm, INVITATIONS.c.email == email, INVITATIONS.c.used.is_(None)
    )
    connection.execute(older.values(used=stamp(now)))
    token = new_token()
    about = {"purpose": purpose, "email": email, "name": name, "role": role, "by": who.person}
    times = {"created": stamp(now), "expires": later(now, LASTS[purpose])}
    row = {"id": digest(token), "firm": who.firm} | about | times
    connection.execute(sa.insert(INVITATIONS).values(**row))
    return token, digest(token)


def _use(connection: Connection, token: str, now: datetime) -> None:
    """Mark an invitation as used; of two at once, one finds it gone."""
    used = sa.update(INVITATIONS).where(*_open(digest(token), now)).values(used=stamp(now))
    if connection.execute(used).rowcount != 1:
        raise _gone()


def _join(connection: Connection, found: Invitation, given: tuple[str, str], now: datetime) -> None:
    name, kept = given
    person = str(uuid.uuid4())
    about = {"email": found.email, "name": name, "role": found.role, "password": kept}
    row = {"id": person, "firm": found.firm, "created": stamp(now)} | about
    connection.execute(sa.insert(PEOPLE).values(**row))
    who = Who(found.firm, person, found.role)
    note(connection, who, "joined", person, at=stamp(now), role=found.role)


def _set_again(connection: Connection, found: Invitation, kept: str, now: datetime) -> None:
    """Set a new password, end every session and every passkey, and forget the failures.

    Whoever could come in before cannot any more, by whatever way they had.
    """
    people.hold_people(connection, found.firm)
    person = people.by_email(connection, found.email)
    if person is None or person.disabled is not None:
        raise _gone()
    here = (PEOPLE.c.firm == found.firm, PEOPLE.c.id == person.id)
    connection.execute(sa.update(PEOPLE).where(*here).values(password=kept))
    sessions.end_all(connection, found.firm, person.id, now)
    keys = passkeys.remove_all(connection, found.firm, person.id)
    limits.forget(connection, limits.account_key(found.email))
    note(connection, person.who, "password reset", person.id, at=stamp(now), passkeys=keys)


def _open(key: str, now: datetime) -> tuple[sa.ColumnElement[bool], ...]:
    return (
        INVITATIONS.c.id == key,
        INVITATIONS.c.used.is_(None),
        INVITATIONS.c.expires > stamp(now),
    )


def _gone() -> MissingError:
    problem = "this invitation was used, is too old, or was never written"
    return MissingError("invitation", problem, "ask an owner of the firm for a new one")
