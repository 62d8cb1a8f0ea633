"""The schema: made in steps, the same as the tables the code knows, up and down with data."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from store_rows import entry, listed, row

from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import (
    EMPTY,
    FIRST,
    HEAD,
    SAME_ROWS,
    VERSIONS,
    migrate,
    require_current,
    revision,
    settings,
)
from levelbook.archive.migrations import schema_0001
from levelbook.archive.store import Store, open_store
from levelbook.archive.tables import (
    ACROSS,
    ADDED_ONLY,
    AUDIT,
    BLOBS,
    ENTRIES,
    FIRMS,
    LOCAL,
    METADATA,
    OWN_FIRM,
    VISITS,
)
from levelbook.errors import UsageError

MADE_BY = sa.text(
    "SELECT type, name, sql FROM sqlite_master WHERE type IN ('table', 'index') "
    "AND name NOT LIKE 'alembic%' AND name NOT LIKE 'sqlite%' ORDER BY 1, 2"
)
# A file written by the program of the first release: two visits to the small sample house.
FIRST_RELEASE = (Path(__file__).parent.parent / "data" / "first-release.sql").read_text("utf-8")


def all_rows(database: Database, table: sa.Table) -> list[tuple[Any, ...]]:
    """Return the rows of a table in the order of its first column, for the own machine."""
    with database.use(LOCAL) as connection:
        return [tuple(r) for r in connection.execute(sa.select(table).order_by(*table.c))]


@pytest.fixture
def first(bare_url: str) -> Iterator[Database]:
    """Give a database of the first release with two visits in it, in SQLite as it was left."""
    opened = Database(bare_url)
    if not opened.postgresql:
        with sqlite3.connect(opened.engine.url.database or "") as file:
            file.executescript(FIRST_RELEASE)
        file.close()
    else:
        with sqlite3.connect(":memory:") as memory, opened.engine.begin() as connection:
            memory.executescript(FIRST_RELEASE)
            schema_0001.METADATA.create_all(connection)
            for table in schema_0001.METADATA.sorted_tables:
                names = [column.name for column in table.columns]
                rows = memory.execute(f"SELECT {', '.join(names)} FROM {table.name}")
                values = [dict(zip(names, row, strict=True)) for row in rows]
                connection.execute(sa.insert(table), values)
            connection.execute(sa.text("SELECT setval('entries_seq_seq', max(seq)) FROM entries"))
        memory.close()
    yield opened
    opened.close()


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


def test_the_steps_are_those_that_the_code_names(sqlite_url: str) -> None:
    """The list of schemas in the code is the chain of the files."""
    opened = Database(sqlite_url)
    with opened.engine.connect() as connection:
        scripts = ScriptDirectory.from_config(settings(connection))
        chain = [script.revision for script in scripts.walk_revisions()]
    opened.close()
    assert (EMPTY, *reversed(chain)) == VERSIONS
    assert chain[0] == HEAD


def test_up_from_nothing_and_down_again(bare_url: str) -> None:
    """An empty database gets all tables, and gives them all back."""
    opened = Database(bare_url)
    assert migrate(opened) == EMPTY
    tables = set(sa.inspect(opened.engine).get_table_names())
    assert tables == {table.name for table in METADATA.sorted_tables} | {"alembic_version"}
    assert migrate(opened) == HEAD
    assert migrate(opened, EMPTY) == HEAD
    assert sa.inspect(opened.engine).get_table_names() == ["alembic_version"]
    assert revision(opened) == EMPTY
    opened.close()


def test_up_with_data(first: Database) -> None:
    """Every entry of the first release is there with its number, under the local firm."""
    before = all_rows(first, schema_0001.ENTRIES)
    visits = all_rows(first, schema_0001.VISITS)
    assert (len(before), len(visits)) == (196, 2)
    assert revision(first) == FIRST
    assert migrate(first) == FIRST
    columns = [ENTRIES.c[column.name] for column in schema_0001.ENTRIES.columns]
    with first.use(LOCAL) as connection:
        query = sa.select(*columns).order_by(*columns).where(ENTRIES.c.firm == LOCAL)
        assert [tuple(r) for r in connection.execute(query)] == before
        query = sa.select(*(VISITS.c[column.name] for column in schema_0001.VISITS.columns))
        assert [tuple(r) for r in connection.execute(query.order_by(VISITS.c.id))] == visits
        assert connection.execute(sa.select(FIRMS.c.id)).scalars().all() == [LOCAL]
        new = [VISITS.c[n] for n in ("inspector", "instrument", "foundation", "year_built")]
        told = {tuple(r) for r in connection.execute(sa.select(*new))}
    assert told == {("A. Surveyor", "L1", "slab-on-ground", 2011)}


def test_numbers_go_on_after_the_last(first: Database) -> None:
    """What is written after the step has greater numbers than all that was there."""
    migrate(first)
    taken = Store(first).sync("visit-09", 0, (entry(1, visit="visit-09"),), "t")
    assert taken.seq == 197


def test_down_and_up_with_data(first: Database) -> None:
    """Going back and forth leaves every row as it was, what was added meanwhile too."""
    old = [all_rows(first, table) for table in schema_0001.METADATA.sorted_tables]
    migrate(first)
    up = [all_rows(first, table) for table in (ENTRIES, VISITS)]
    assert migrate(first, FIRST) == HEAD
    assert [all_rows(first, table) for table in schema_0001.METADATA.sorted_tables] == old
    assert migrate(first) == FIRST
    assert [all_rows(first, table) for table in (ENTRIES, VISITS)] == up
    Store(first).sync("visit-09", 0, (entry(1, visit="visit-09"),), "t")
    migrate(first, FIRST)
    assert len(all_rows(first, schema_0001.ENTRIES)) == 197
    assert len(all_rows(first, schema_0001.VISITS)) == 3


def test_schemas_of_the_same_rows_have_the_same_columns(first: Database) -> None:
    """A backup of one fits into another: every table has the columns that it had."""
    told = []
    for version in SAME_ROWS:
        migrate(first, version)
        found = sa.inspect(first.engine)
        told.append({n: [c["name"] for c in found.get_columns(n)] for n in found.get_table_names()})
    assert told[1:] == told[:-1]
    assert migrate(first, SAME_ROWS[0]) == HEAD
    assert len(all_rows(first, ENTRIES)) == 196


def test_an_inspector_is_found_in_a_database_of_the_former_release(database: Database) -> None:
    """The marked words of the inspector's name are filled in, in every firm; no other changes."""
    for firm in (LOCAL, "other"):
        with database.use("*") as connection:
            connection.execute(sa.insert(FIRMS).values(**row(FIRMS, firm)))
        about = {"id": "visit-1", "inspector": "Béa Reed", "words": " bea reed", "date": "2026"}
        with database.use(firm) as connection:
            connection.execute(sa.insert(VISITS).values(firm=firm, updated="t", **about))
    migrate(database, SAME_ROWS[0])
    migrate(database)
    for firm in (LOCAL, "other"):
        with database.look(firm) as connection:
            here = sa.select(VISITS.c.words).where(VISITS.c.firm == firm)
            assert connection.execute(here).scalar() == " =bea =reed 2026 bea reed"


@pytest.mark.parametrize("name", sorted({*OWN_FIRM, *ACROSS} - {"sessions", "visit_words"}))
def test_down_refuses_to_lose(database: Database, name: str) -> None:
    """What the first release cannot hold keeps the database where it is, with the table told."""
    table = METADATA.tables[name]
    firm = "other" if name in ("entries", "visits") else LOCAL
    with database.use(firm) as connection:
        connection.execute(sa.insert(table).values(**row(table, firm)))
    if table is BLOBS:  # where a photograph lies is known by its name, too
        migrate(database, FIRST)
        return
    with pytest.raises(UsageError, match=f"table {name}: .* going back would lose"):
        migrate(database, FIRST)
    assert revision(database) == HEAD
    with database.use(firm) as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(table)).scalar() == 1


def test_a_firm_of_its_own_is_not_lost(database: Database) -> None:
    """A firm besides that of one's own machine is refused to be dropped, even without a visit."""
    with database.use("*") as connection:
        connection.execute(sa.insert(FIRMS).values(**row(FIRMS, "other")))
    with pytest.raises(UsageError, match="table firms"):
        migrate(database, FIRST)


def test_a_file_of_the_first_release_is_opened(tmp_path: Path) -> None:
    """A store without a note of its schema is known by its tables and brought up by itself."""
    path = tmp_path / "store.sqlite"
    with sqlite3.connect(path) as file:
        file.executescript(FIRST_RELEASE)
    file.close()
    store = open_store(path)
    rows = listed(store.database)
    assert [(r.label, r.stations, r.readings) for r in rows] == [
        ("12 Juniper Bend (invented)", 38, 43)
    ] * 2
    assert len(store.entries(rows[0].id)) == 98
    store.close()


def test_a_step_that_fails_changes_nothing(first: Database) -> None:
    """An accident midway leaves the database at the schema it had, whole."""
    before = all_rows(first, schema_0001.ENTRIES)
    with first.engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE audit (mine INTEGER)"))
    with pytest.raises(sa.exc.DBAPIError, match="audit"):
        migrate(first)
    assert revision(first) == FIRST
    assert all_rows(first, schema_0001.ENTRIES) == before


def test_an_old_or_unknown_schema_is_refused(bare_url: str) -> None:
    """Whoever needs the schema of this release is told what the database has and what to do."""
    opened = Database(bare_url)
    with pytest.raises(UsageError, match=r"is empty.*levelbook archive migrate"):
        require_current(opened)
    migrate(opened, FIRST)
    with pytest.raises(UsageError, match=r"has the schema 0001.*levelbook archive migrate"):
        require_current(opened)
    migrate(opened)
    require_current(opened)
    with opened.engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0099'"))
    for ask in (require_current, revision, migrate):
        with pytest.raises(UsageError, match=r"0099.*update levelbook"):
            ask(opened)
    opened.close()


def test_other_peoples_tables_are_left_alone(bare_url: str) -> None:
    """A database with tables of the same names that are not ours is refused."""
    opened = Database(bare_url)
    with opened.engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE entries (mine INTEGER)"))
    with pytest.raises(UsageError, match="not ours"):
        migrate(opened)
    with pytest.raises(UsageError, match="no schema 'x'"):
        migrate(opened, "x")
    opened.close()


@pytest.mark.parametrize("name", ADDED_ONLY)
def test_rows_that_are_only_added(database: Database, name: str) -> None:
    """The database itself refuses to change or delete rows of the record."""
    table = METADATA.tables[name]
    with database.use(LOCAL) as connection:
        connection.execute(sa.insert(table).values(**row(table, LOCAL)))
    column = next(c for c in table.columns if isinstance(c.type, sa.String) and c.name != "firm")
    for change in (sa.update(table).values({column: "x"}), sa.delete(table)):
        with pytest.raises(sa.exc.DBAPIError, match="never changed"), database.use(LOCAL) as use:
            use.execute(change)
    if database.postgresql:
        query = sa.text(f"TRUNCATE {name}")
        with pytest.raises(sa.exc.DBAPIError, match="never changed"), database.use(LOCAL) as use:
            use.execute(query)
    with database.use(LOCAL) as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(table)).scalar() == 1


def test_the_audit_is_among_them() -> None:
    """The list of what happened is a table that is only added to."""
    assert AUDIT.name in ADDED_ONLY
