"""The tables as the second step leaves them.

Until it is released they change along with ``archive/tables.py``, which a test compares;
after that this file never changes.
"""

import sqlalchemy as sa

METADATA = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)
LOCAL = "local"
"""The firm of a store on one's own machine."""

_COUNT = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_BY_CODE = sa.String(40).with_variant(sa.String(40, collation="C"), "postgresql")
"""Words in the order of their characters' codes, in which a prefix is a range."""


def _firm() -> sa.Column[str]:
    return sa.Column("firm", sa.String(64), nullable=False)


def _time(name: str, *, needed: bool = True) -> sa.Column[str]:
    return sa.Column(name, sa.String(32), nullable=not needed)


def _text(name: str, length: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(length), nullable=False, server_default="")


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False, server_default="0")


FIRMS = sa.Table(
    "firms",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _text("name", 200),
    _time("created"),
    sa.Column("settings", sa.Text, nullable=False, server_default="{}"),
)
ENTRIES = sa.Table(
    "entries",
    METADATA,
    sa.Column("seq", _COUNT, primary_key=True, autoincrement=True),
    _firm(),
    sa.Column("id", sa.String(64), nullable=False),
    sa.Column("visit", sa.String(64), nullable=False),
    sa.Column("body", sa.Text, nullable=False),
    _time("received"),
    sa.UniqueConstraint("firm", "id", name="uq_entries_firm_id"),
    sa.Index("ix_entries_firm_visit_seq", "firm", "visit", "seq"),
    sqlite_autoincrement=True,
)
VISITS = sa.Table(
    "visits",
    METADATA,
    sa.Column("firm", sa.String(64), primary_key=True),
    sa.Column("id", sa.String(64), primary_key=True),
    _text("label", 300),
    _text("address", 300),
    _text("date", 40),
    _text("purpose", 20),
    _number("stations"),
    _number("readings"),
    _text("updated", 32),
    _text("inspector", 200),
    _text("instrument", 200),
    _text("foundation", 80),
    sa.Column("year_built", sa.Integer, nullable=True),
    sa.Column("state", sa.String(20), nullable=False, server_default="draft"),
    _text("finding", 40),
    _text("found", 2000),
    _text("assessed", 32),
    _text("words", 1000),
    sa.Index("ix_visits_firm_updated", "firm", "updated", "id"),
    sa.Index("ix_visits_firm_state", "firm", "state", "updated", "id"),
    sa.Index("ix_visits_firm_date", "firm", "date"),
)
"""``assessed`` is the ``updated`` that ``finding`` and ``found`` were told for; ``words`` are
the words that a search looks for, each after a space."""

VISIT_WORDS = sa.Table(
    "visit_words",
    METADATA,
    sa.Column("firm", sa.String(64), primary_key=True),
    sa.Column("word", _BY_CODE, primary_key=True),
    sa.Column("visit", sa.String(64), primary_key=True),
    sa.Index("ix_visit_words_firm_visit", "firm", "visit"),
)
BLOBS = sa.Table(
    "blobs",
    METADATA,
    sa.Column("firm", sa.String(64), primary_key=True),
    sa.Column("sha256", sa.String(64), primary_key=True),
    _text("media", 80),
    _number("size"),
    _time("received"),
)
PEOPLE = sa.Table(
    "people",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("email", sa.String(254), nullable=False, unique=True),
    _text("name", 200),
    sa.Column("role", sa.String(20), nullable=False),
    sa.Column("password", sa.String(300), nullable=True),
    _time("created"),
    _time("disabled", needed=False),
)
PASSKEYS = sa.Table(
    "passkeys",
    METADATA,
    sa.Column("id", sa.String(400), primary_key=True),
    _firm(),
    sa.Column("person", sa.String(64), nullable=False),
    sa.Column("public_key", sa.String(2000), nullable=False),
    sa.Column("sign_count", _COUNT, nullable=False, server_default="0"),
    _text("name", 100),
    _time("created"),
    _time("used", needed=False),
    sa.Index("ix_passkeys_person", "person"),
)
SESSIONS = sa.Table(
    "sessions",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("person", sa.String(64), nullable=False),
    _text("device", 200),
    sa.Column("csrf", sa.String(64), nullable=False),
    _time("created"),
    _time("seen"),
    _time("expires"),
    _time("ended", needed=False),
    sa.Index("ix_sessions_person", "person"),
)
INVITATIONS = sa.Table(
    "invitations",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("purpose", sa.String(20), nullable=False),
    sa.Column("email", sa.String(254), nullable=False),
    _text("name", 200),
    sa.Column("role", sa.String(20), nullable=False),
    sa.Column("by", sa.String(64), nullable=False),
    _time("created"),
    _time("expires"),
    _time("used", needed=False),
)
ATTEMPTS = sa.Table(
    "attempts",
    METADATA,
    sa.Column("key", sa.String(120), primary_key=True),
    _number("count"),
    _time("until"),
)
"""Counts for the limits on tries, known devices, open challenges; a key is a digest alone."""

REVIEWS = sa.Table(
    "reviews",
    METADATA,
    sa.Column("seq", _COUNT, primary_key=True, autoincrement=True),
    _firm(),
    sa.Column("visit", sa.String(64), nullable=False),
    sa.Column("state", sa.String(20), nullable=False),
    sa.Column("person", sa.String(64), nullable=False),
    _time("at"),
    _text("reason", 2000),
    sa.Column("release", sa.String(64), nullable=True),
    sa.Index("ix_reviews_firm_visit", "firm", "visit", "seq"),
    sqlite_autoincrement=True,
)
RELEASES = sa.Table(
    "releases",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("visit", sa.String(64), nullable=False),
    sa.Column("number", sa.String(40), nullable=False),
    sa.Column("issue", sa.Integer, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.Column("files", sa.Text, nullable=False),
    sa.Column("by", sa.String(64), nullable=False),
    _time("at"),
    _text("reason", 2000),
    _text("date", 40),
    _text("house", 300),
    sa.UniqueConstraint("firm", "number", "issue", name="uq_releases_number_issue"),
    sa.UniqueConstraint("firm", "visit", "issue", name="uq_releases_visit_issue"),
    sa.Index("ix_releases_firm_house", "firm", "house"),
)
"""``files`` is JSON: name to SHA-256 of what the client gets, kept as blobs. ``date`` is the
visit's; ``house`` the words of the address, empty where none is told."""

LINKS = sa.Table(
    "links",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("release", sa.String(64), nullable=False),
    sa.Column("earlier", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("by", sa.String(64), nullable=False),
    _time("created"),
    _time("expires"),
    _time("revoked", needed=False),
    _number("views"),
    _time("viewed", needed=False),
    sa.Index("ix_links_release", "release"),
)
"""``id`` is the SHA-256 of the secret in the address; the secret itself is not kept."""

INSTRUMENTS = sa.Table(
    "instruments",
    METADATA,
    sa.Column("firm", sa.String(64), primary_key=True),
    sa.Column("id", sa.String(64), primary_key=True),
    _text("name", 200),
    _text("serial", 100),
    sa.Column("check_days", sa.Integer, nullable=False, server_default="365"),
    _time("retired", needed=False),
)
CHECKS = sa.Table(
    "instrument_checks",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    _firm(),
    sa.Column("instrument", sa.String(64), nullable=False),
    sa.Column("date", sa.String(10), nullable=False),
    sa.Column("deviation", sa.Float, nullable=False),
    sa.Column("unit", sa.String(10), nullable=False),
    sa.Column("by", sa.String(64), nullable=False),
    _text("note", 1000),
    _time("at"),
    sa.Index("ix_instrument_checks_instrument", "firm", "instrument", "date"),
)
AUDIT = sa.Table(
    "audit",
    METADATA,
    sa.Column("seq", _COUNT, primary_key=True, autoincrement=True),
    _firm(),
    _time("at"),
    sa.Column("person", sa.String(64), nullable=False),
    sa.Column("action", sa.String(60), nullable=False),
    _text("subject", 200),
    sa.Column("detail", sa.Text, nullable=False, server_default="{}"),
    sa.Column("chain", sa.String(64), nullable=False),
    sa.Index("ix_audit_firm_seq", "firm", "seq"),
    sqlite_autoincrement=True,
)
"""``chain`` is the SHA-256 of the row and of the ``chain`` before it in the same firm."""

OWN_FIRM = (
    "entries",
    "visits",
    "visit_words",
    "blobs",
    "reviews",
    "releases",
    "instruments",
    "instrument_checks",
    "audit",
)
"""Tables with what was found at houses: a use sees its own firm's rows and no others."""
ACROSS = ("people", "passkeys", "sessions", "invitations", "links")
"""Tables looked into before the firm is known: a use for every firm sees all rows."""
ADDED_ONLY = ("entries", "reviews", "releases", "audit", "instrument_checks")
"""Tables whose rows are never changed or deleted."""
