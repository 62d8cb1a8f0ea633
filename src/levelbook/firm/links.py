"""Links for clients: an address with 256 random bits shows one release, until it expires.

Only the SHA-256 of the secret is kept, so that nobody who reads the database can open a
report by it. A wrong, an expired and a revoked secret are the same to whoever asks.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.archive.tables import LINKS
from levelbook.errors import UsageError
from levelbook.firm import audit
from levelbook.firm.issues import find
from levelbook.firm.refusals import missing
from levelbook.firm.roles import Who
from levelbook.firm.tokens import digest, is_token, new_token

USUAL_DAYS, MOST_DAYS = 90, 730


@dataclass(frozen=True, slots=True)
class Link:
    """A link: of which release, until when, whether earlier visits show, how often viewed."""

    id: str
    firm: str
    release: str
    earlier: bool
    by: str
    created: str
    expires: str
    revoked: str | None
    views: int
    viewed: str | None

    def open(self, now: datetime) -> bool:
        """Tell whether the link still shows its release."""
        return self.revoked is None and stamp(now) < self.expires


def new_link(
    database: Database, who: Who, release: str, days: int, *, earlier: bool, now: datetime
) -> tuple[str, Link]:
    """Make a link to a release and return its secret, which is told this once, and the link.

    Raises
    ------
    MissingError
        If the firm has no such release.
    UsageError
        If the days are not 1 to 730.
    """
    if not 1 <= days <= MOST_DAYS:
        problem = f"a link works for 1 to {MOST_DAYS} days"
        raise UsageError("days", problem, f"give a number, such as {USUAL_DAYS}")
    find(database, who.firm, release)
    secret = new_token()
    until = stamp(now + timedelta(days=days))
    made = Link(
        digest(secret), who.firm, release, earlier, who.person, stamp(now), until, None, 0, None
    )
    with database.use(who.firm) as connection:
        row = {name: getattr(made, name) for name in Link.__slots__}
        connection.execute(sa.insert(LINKS).values(**row))
        audit.note(connection, who, "link made", made.id, at=made.created, release=release)
    return secret, made


def links_of(database: Database, firm: str, release: str) -> tuple[Link, ...]:
    """Return the links to a release, the newest first.

    Raises
    ------
    MissingError
        If the firm has no such release.
    """
    find(database, firm, release)
    query = _select().where(LINKS.c.firm == firm, LINKS.c.release == release)
    with database.look(firm) as connection:
        rows = connection.execute(query.order_by(LINKS.c.created.desc(), LINKS.c.id))
        return tuple(Link(*row) for row in rows)


def get(database: Database, firm: str, link: str) -> Link:
    """Return a link of a firm by its id.

    Raises
    ------
    MissingError
        If the firm has no such link.
    """
    query = _select().where(LINKS.c.firm == firm, LINKS.c.id == link)
    with database.look(firm) as connection:
        row = connection.execute(query).one_or_none()
    if row is None:
        raise missing(link, "link")
    return Link(*row)


def revoke(database: Database, who: Who, link: str, now: datetime) -> None:
    """Let a link show nothing any more; revoking it again changes nothing.

    Raises
    ------
    MissingError
        If the firm has no such link.
    """
    get(database, who.firm, link)
    with database.use(who.firm) as connection:
        here = sa.and_(LINKS.c.firm == who.firm, LINKS.c.id == link, LINKS.c.revoked.is_(None))
        done = connection.execute(sa.update(LINKS).where(here).values(revoked=stamp(now)))
        if done.rowcount:
            audit.note(connection, who, "link revoked", link, at=stamp(now))


def open_link(database: Database, secret: str, now: datetime) -> Link | None:
    """Return the link that a secret opens, ``None`` if there is none or it is closed."""
    if not is_token(secret):
        return None
    with database.look(EVERY_FIRM) as connection:
        row = connection.execute(_select().where(LINKS.c.id == digest(secret))).one_or_none()
    link = None if row is None else Link(*row)
    return link if link is not None and link.open(now) else None


def count_view(database: Database, link: Link, now: datetime) -> None:
    """Count that the page of a link was shown."""
    here = sa.and_(LINKS.c.firm == link.firm, LINKS.c.id == link.id)
    changed = sa.update(LINKS).where(here).values(views=LINKS.c.views + 1, viewed=stamp(now))
    with database.use(link.firm) as connection:
        connection.execute(changed)


def is_secret_of(link: Link, secret: str) -> bool:
    """Tell whether a secret is the one of a link."""
    return is_token(secret) and digest(secret) == link.id


def _select() -> sa.Select[Any]:
    return sa.select(*(LINKS.c[name] for name in Link.__slots__))
