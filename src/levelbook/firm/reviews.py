"""Review: draft → for review → released; every step is an event that stays.

A released visit that gets new entries counts as *changed* while its record differs from the
one that was released; what was released stands, and a new issue needs a reason. An issue that
a later one replaces is *superseded*: that is read off the releases, never written over them.
"""

from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.tables import RELEASES, REVIEWS, VISITS
from levelbook.errors import ConflictError, DeniedError, NoVisitError, UsageError
from levelbook.firm import audit
from levelbook.firm.roles import EVERYONE, RELEASERS, Who

DRAFT, FOR_REVIEW, RELEASED, CHANGED = "draft", "for review", "released", "changed"
STATES = (DRAFT, FOR_REVIEW, RELEASED, CHANGED)
LONGEST_REASON = 2000


@dataclass(frozen=True, slots=True)
class Move:
    """One step: who may take it, and whether a reason must be given."""

    roles: frozenset[str]
    reason: bool


MOVES = {
    (DRAFT, FOR_REVIEW): Move(EVERYONE, reason=False),
    (FOR_REVIEW, DRAFT): Move(EVERYONE, reason=True),
    (RELEASED, FOR_REVIEW): Move(EVERYONE, reason=True),
    (CHANGED, FOR_REVIEW): Move(EVERYONE, reason=True),
    (FOR_REVIEW, RELEASED): Move(RELEASERS, reason=False),
}
"""Every step that there is; releasing is taken by :func:`levelbook.firm.releases.release`."""


@dataclass(frozen=True, slots=True)
class Event:
    """One step in the review of a visit, as it was taken."""

    seq: int
    state: str
    person: str
    at: str
    reason: str
    release: str | None


def state_of(connection: Connection, firm: str, visit: str) -> str:
    """Return the state of a visit in the list.

    Raises
    ------
    MissingError
        If the firm has no such visit.
    """
    query = sa.select(VISITS.c.state).where(VISITS.c.firm == firm, VISITS.c.id == visit)
    state: str | None = connection.execute(query).scalar()
    if state is None:
        raise NoVisitError(visit)
    return state


def events(database: Database, firm: str, visit: str) -> tuple[Event, ...]:
    """Return the steps of a visit's review in the order in which they were taken.

    Raises
    ------
    MissingError
        If the firm has no such visit.
    """
    query = sa.select(*(REVIEWS.c[name] for name in Event.__slots__))
    query = query.where(REVIEWS.c.firm == firm, REVIEWS.c.visit == visit).order_by(REVIEWS.c.seq)
    with database.look(firm) as connection:
        state_of(connection, firm, visit)
        return tuple(Event(*row) for row in connection.execute(query))


def moves_of(state: str, role: str) -> tuple[str, ...]:
    """Return the states that somebody with ``role`` can take a visit to from ``state``."""
    return tuple(to for (frm, to), move in MOVES.items() if frm == state and role in move.roles)


def check_move(who: Who, state: str, to: str, reason: str) -> None:
    """Refuse a step that there is not, that the role does not allow, or that lacks its reason.

    Raises
    ------
    ConflictError
        If there is no such step from the visit's state.
    DeniedError
        If it is for other roles.
    UsageError
        If the reason is missing or too long.
    """
    move = MOVES.get((state, to))
    if move is None:
        problem = f"a visit that is {state!r} cannot become {to!r}"
        raise ConflictError("state", problem, _NEXT.get(state, "load the page again"))
    if who.role not in move.roles:
        remedy = "ask a reviewer of your firm"
        raise DeniedError("state", f"this is not open to the role {who.role}", remedy)
    if move.reason and not reason.strip():
        raise UsageError("reason", "this step needs its reason", "say in a sentence why")
    if len(reason) > LONGEST_REASON:
        raise UsageError("reason", "this is too long", f"say it in {LONGEST_REASON} characters")


def move(database: Database, who: Who, visit: str, to: str, reason: str, now: str) -> Event:
    """Take a visit to ``for review`` or back to ``draft`` and return the event.

    Raises
    ------
    MissingError, ConflictError, DeniedError, UsageError
        As :func:`check_move` tells, or if there is no such visit.
    """
    if to not in (DRAFT, FOR_REVIEW):
        raise UsageError("state", "a visit cannot be taken there", "choose draft or for review")
    with database.use(who.firm) as connection:
        database.hold(connection, f"{who.firm}/{visit}")
        check_move(who, state_of(connection, who.firm, visit), to, reason)
        event = add_event(connection, who, visit, Event(0, to, who.person, now, reason, None))
        audit.note(connection, who, f"visit {to}", visit, at=now)
    return event


def add_event(connection: Connection, who: Who, visit: str, event: Event) -> Event:
    """Add an event and set the visit's state in the list, in the caller's transaction."""
    row = {name: getattr(event, name) for name in Event.__slots__ if name != "seq"}
    done = connection.execute(sa.insert(REVIEWS).values(firm=who.firm, visit=visit, **row))
    here = sa.and_(VISITS.c.firm == who.firm, VISITS.c.id == visit)
    connection.execute(sa.update(VISITS).where(here).values(state=event.state))
    key = done.inserted_primary_key
    assert key is not None
    return Event(int(key[0]), *(row[name] for name in Event.__slots__[1:]))


def settle(connection: Connection, firm: str, visit: str, digest: str) -> None:
    """Set a released visit to *changed*, or back, by whether its record is still the released.

    ``digest`` is the record's now, empty where it is no whole book.
    """
    state = state_of(connection, firm, visit)
    if state not in (RELEASED, CHANGED):
        return
    query = sa.select(RELEASES.c.digest).where(RELEASES.c.firm == firm, RELEASES.c.visit == visit)
    last = connection.execute(query.order_by(RELEASES.c.issue.desc()).limit(1)).scalar()
    told = RELEASED if digest == last else CHANGED
    if told != state:
        here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == visit)
        connection.execute(sa.update(VISITS).where(here).values(state=told))


_NEXT = {
    DRAFT: "ask for its review first",
    FOR_REVIEW: "release it, or send it back to draft",
    RELEASED: "ask for the review of a new issue first",
    CHANGED: "ask for the review of a new issue first",
}
