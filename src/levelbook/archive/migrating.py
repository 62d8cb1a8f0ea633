"""Bring a database to the schema of this release, or back to an earlier one."""

from typing import TYPE_CHECKING

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.tables import FIRMS, LOCAL, VISITS
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from alembic.config import Config

HEAD, SHARED, FIRST, EMPTY = "0003", "0002", "0001", ""
"""The schema of this release, of the first with firms, of the first one, and none at all."""
VERSIONS = (EMPTY, FIRST, SHARED, HEAD)
SAME_ROWS = (SHARED, HEAD)
"""Schemas whose tables hold the same, so that a backup of one can be restored into another."""
_ABOVE = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user"


def revision(database: Database) -> str:
    """Return the schema that a database has, ``""`` if it has none of ours.

    Raises
    ------
    UsageError
        If it is of a later release, or not ours.
    """
    with database.engine.connect() as connection:
        return _revision(connection)


def migrate(database: Database, to: str = HEAD) -> str:
    """Bring a database to the schema ``to`` in one transaction; return which it had.

    Raises
    ------
    UsageError
        If there is no such schema, or going back would lose something.
    """
    if to not in VERSIONS:
        known = ", ".join(VERSIONS[1:])
        raise UsageError("--to", f"there is no schema {to[:20]!r}", f"give one of {known}")
    with database.engine.begin() as connection:
        database.hold(connection, "levelbook/migrate")
        before = _revision(connection)
        if before != to:
            _run(connection, before, to)
            if before == FIRST and to in SAME_ROWS:
                _summarise_again(database, connection)
            elif before == SHARED and to == HEAD:
                index_again(database, connection)
    return before


def open_database(url: str) -> Database:
    """Open a database of this release's schema; one in a file is brought to it.

    Raises
    ------
    UsageError
        If it cannot be, or a server's database has another schema: an operator migrates that.
    """
    database = Database(url)
    try:
        if database.postgresql:
            require_current(database)
        else:
            migrate(database)
    except (UsageError, DBAPIError):
        database.close()
        raise
    return database


def require_current(database: Database) -> None:
    """Refuse a database of another schema than this release needs, or without its walls.

    Raises
    ------
    UsageError
        With what mends it.
    """
    found = revision(database)
    if found != HEAD:
        has = f"has the schema {found}" if found else "is empty"
        problem = f"this database {has}, and this release needs {HEAD}"
        remedy = "take a backup, then run: levelbook archive migrate --database URL"
        if not found:
            remedy = "run levelbook firm new (or levelbook archive migrate) --database URL first"
        raise UsageError("--database", problem, remedy)
    require_bound(database)


def require_bound(database: Database) -> None:
    """Refuse a role that could look past the walls between firms.

    Raises
    ------
    UsageError
        With what kind of role to give.
    """
    if not database.postgresql:
        return
    with database.engine.connect() as connection:
        if connection.execute(sa.text(_ABOVE)).scalar():
            problem = "row-level security does not bind the role of this address"
            remedy = "give a role made with NOSUPERUSER NOBYPASSRLS"
            raise UsageError("--database", problem, remedy)


def index_again(database: Database, connection: Connection) -> None:
    """Renew the words by which visits are found: those of the inspector's name are marked now."""
    from levelbook.archive.words import index_visit

    database.name_firm(connection, EVERY_FIRM)
    firms = connection.execute(sa.select(FIRMS.c.id)).scalars().all()
    for firm in dict.fromkeys((LOCAL, *firms)):
        database.name_firm(connection, firm)
        visits = sa.select(VISITS.c.id).where(VISITS.c.firm == firm)
        for visit in connection.execute(visits).scalars().all():
            index_visit(connection, firm, visit)


def settings(connection: Connection) -> "Config":
    """Return what Alembic needs to know; there is no file of settings."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "levelbook.archive:migrations")
    config.attributes["connection"] = connection
    return config


def _revision(connection: Connection) -> str:
    tables = sa.inspect(connection).get_table_names()
    if "alembic_version" in tables:
        found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
        if (found or EMPTY) in VERSIONS:
            return found or EMPTY
        problem = f"this database has the schema {found}, which this release does not know"
        raise UsageError("database", problem, "update levelbook, or use a backup")
    if "entries" not in tables:
        return EMPTY
    columns = {column["name"] for column in sa.inspect(connection).get_columns("entries")}
    if columns == {"seq", "id", "visit", "body", "received"}:
        return FIRST
    raise UsageError("database", "its tables are not ours", "give an empty database")


def _run(connection: Connection, before: str, to: str) -> None:
    from alembic import command

    config = settings(connection)
    if before == FIRST:
        command.stamp(config, FIRST)  # the first release kept no note of its schema
    if VERSIONS.index(to) > VERSIONS.index(before):
        command.upgrade(config, to)
    else:
        command.downgrade(config, to or "base")


def _summarise_again(database: Database, connection: Connection) -> None:
    """Fill what the list of visits tells more of than in the first release."""
    from levelbook.archive.summary import summarise

    database.name_firm(connection, LOCAL)
    for visit, updated in connection.execute(sa.select(VISITS.c.id, VISITS.c.updated)).all():
        summarise(connection, LOCAL, visit, updated)
