"""The schema: made in steps, the same as the tables the code knows, up and down with data."""

from pathlib import Path

import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import HEAD, migrate, revision
from levelbook.archive.tables import METADATA

MADE_BY = sa.text(
    "SELECT type, name, sql FROM sqlite_master WHERE type IN ('table', 'index') "
    "AND name NOT LIKE 'alembic%' AND name NOT LIKE 'sqlite%' ORDER BY 1, 2"
)


def test_the_steps_lead_to_the_tables_that_the_code_knows(database: Database) -> None:
    """A column added to one and not the other is found."""
    assert revision(database) == HEAD
    with database.engine.connect() as connection:
        options = {"compare_type": True, "compare_server_default": database.postgresql}
        context = MigrationContext.configure(connection, opts=options)
        assert compare_metadata(context, METADATA) == []


def test_a_file_is_made_by_the_same_words(sqlite_url: str, tmp_path: Path) -> None:
    """In SQLite the steps and the tables of the code give the same statements, defaults too."""
    told = []
    stepped, straight = Database(sqlite_url), Database(file_url(tmp_path / "straight.sqlite"))
    METADATA.create_all(straight.engine)
    for each in (stepped, straight):
        with each.engine.connect() as connection:
            told.append([tuple(row) for row in connection.execute(MADE_BY)])
        each.close()
    assert told[0] == told[1]


def test_up_from_nothing(bare_url: str) -> None:
    """An empty database gets all tables at once."""
    opened = Database(bare_url)
    assert migrate(opened) == ""
    tables = set(sa.inspect(opened.engine).get_table_names())
    assert tables == {table.name for table in METADATA.sorted_tables} | {"alembic_version"}
    opened.close()
