"""Row-level security of PostgreSQL: a firm's rows are its own, whatever a query forgets."""

import re
import secrets
from pathlib import Path

import pytest
import sqlalchemy as sa
from store_rows import VISIT, entry, listed, row

from databases import ROLE, superuser_url
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.migrating import open_database, require_current
from levelbook.archive.store import Store
from levelbook.archive.tables import ACROSS, ADDED_ONLY, ENTRIES, METADATA, OWN_FIRM
from levelbook.errors import UsageError

WALLED = {*OWN_FIRM, *ACROSS, "firms"}


@pytest.fixture
def walls(postgres_url: str):
    """Give a PostgreSQL database with a row of two firms in every walled table."""
    opened = Database(postgres_url)
    for firm in ("ash", "birch"):
        with opened.use(firm) as connection:
            for name in sorted(WALLED):
                table = METADATA.tables[name]
                connection.execute(sa.insert(table).values(**row(table, firm)))
    yield opened
    opened.close()


def seen(database: Database, firm: str, name: str) -> int:
    """Return how many rows of a table a use for ``firm`` sees without naming any firm."""
    with database.use(firm) as connection:
        query = sa.select(sa.func.count()).select_from(METADATA.tables[name])
        return int(connection.execute(query).scalar_one())


def test_no_table_is_forgotten() -> None:
    """Every table with a firm stands in one of the two lists, and the counts of tries in none."""
    assert {t.name for t in METADATA.sorted_tables} == WALLED | {"attempts"}
    assert not set(OWN_FIRM) & set(ACROSS)


def test_the_role_of_the_tests_is_below_the_walls(walls: Database) -> None:
    """What is shown here is shown for a role without special powers that owns the tables."""
    query = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user"
    with walls.use("ash") as connection:
        assert connection.execute(sa.text(query)).scalar() is False
        owned = (
            "SELECT bool_and(tableowner = current_user) FROM pg_tables WHERE schemaname='public'"
        )
        assert connection.execute(sa.text(owned)).scalar() is True


@pytest.mark.parametrize("name", sorted(WALLED))
def test_a_firm_sees_its_own_rows_only(walls: Database, name: str) -> None:
    """Neither another firm's rows, nor any without a firm; all firms' only where that is said."""
    assert [seen(walls, firm, name) for firm in ("ash", "birch", "cedar", "")] == [1, 1, 0, 0]
    assert seen(walls, EVERY_FIRM, name) == (0 if name in OWN_FIRM else 2)
    with walls.engine.connect() as connection:
        query = sa.select(sa.func.count()).select_from(METADATA.tables[name])
        assert connection.execute(query).scalar() == 0


@pytest.mark.parametrize("name", sorted(WALLED))
def test_a_firm_writes_its_own_rows_only(walls: Database, name: str) -> None:
    """Nothing is written in another firm's name; another's rows are neither changed nor deleted."""
    table = METADATA.tables[name]
    column = table.c.id if name == "firms" else table.c.firm
    with pytest.raises(sa.exc.DBAPIError, match="row-level security"), walls.use("ash") as use:
        use.execute(sa.insert(table).values(**row(table, "birch", 2)))
    if name not in ADDED_ONLY:
        with walls.use("ash") as use:
            assert use.execute(sa.delete(table).where(column == "birch")).rowcount == 0
        with pytest.raises(sa.exc.DBAPIError, match="row-level security"), walls.use("ash") as use:
            use.execute(sa.update(table).values({column: "cedar"}))
    assert seen(walls, "birch", name) == 1


def test_the_firm_of_a_use_ends_with_it(walls: Database) -> None:
    """A connection that comes back from the pool belongs to no firm."""
    with walls.use("ash"):
        pass
    with walls.engine.connect() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(ENTRIES)).scalar() == 0


def test_the_same_id_in_two_firms(database: Database) -> None:
    """Visits and entries of the same ids in two firms know nothing of each other."""
    ash, birch = Store(database, "ash"), Store(database, "birch")
    ash.sync(VISIT, 0, (entry(1),), "t")
    taken = birch.sync(VISIT, 0, (entry(1, author="B"), entry(2)), "t")
    assert taken.entries == ()
    assert [e.author for e in ash.entries(VISIT)] == ["A"]
    assert [e.author for e in birch.entries(VISIT)] == ["B", "A"]
    assert [r.readings for r in listed(database, "ash")] == [1]
    assert listed(database, "cedar") == ()
    assert Store(database, "cedar").last(VISIT) == 0


def test_a_role_above_the_walls_is_refused(postgres_url: str) -> None:
    """The server does not run as a role that row-level security does not bind."""
    above = Database(superuser_url(postgres_url))
    with pytest.raises(UsageError, match="row-level security does not bind"):
        require_current(above)
    above.close()


def test_a_server_that_owns_no_table(postgres_url: str) -> None:
    """The role of the operator's page works, and can neither see across nor take walls down."""
    page = (Path(__file__).resolve().parents[2] / "docs" / "store.md").read_text("utf-8")
    grants = [f"{line};" for line in re.findall(r"^(GRANT .*);$", page, flags=re.MULTILINE)]
    assert len(grants) == 2
    role = f"server_{secrets.token_hex(4)}"
    owner, above = Database(postgres_url), Database(superuser_url(postgres_url))
    with above.engine.begin() as connection:
        connection.execute(sa.text(f"CREATE ROLE {role} LOGIN NOSUPERUSER NOBYPASSRLS"))
    with owner.engine.begin() as connection:
        for grant in grants:
            connection.execute(sa.text(grant.replace("levelbook_server", role)))
    server = open_database(postgres_url.replace(f"{ROLE}@", f"{role}@"))
    Store(server, "ash").sync(VISIT, 0, (entry(1),), "t")
    assert listed(server, "birch") == ()
    assert [r.readings for r in listed(server, "ash")] == [1]
    for query in (
        "ALTER TABLE entries DISABLE ROW LEVEL SECURITY",
        "DROP TRIGGER entries_added_only ON entries",
        "DROP POLICY own_firm ON entries",
        "ALTER TABLE entries DISABLE TRIGGER ALL",
    ):
        with pytest.raises(sa.exc.DBAPIError, match="must be owner"), server.use("ash") as use:
            use.execute(sa.text(query))
    server.close()
    with above.engine.begin() as connection:
        connection.execute(sa.text(f"DROP OWNED BY {role}"))
        connection.execute(sa.text(f"DROP ROLE {role}"))
    owner.close()
    above.close()
