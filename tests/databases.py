"""Databases for tests: each in SQLite and in PostgreSQL, new for every test.

``database`` is migrated and empty, ``database_url`` its address, ``bare_url`` the address of
a database without a table. The role of PostgreSQL owns its tables and is no superuser.
"""

import hashlib
import secrets
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
from psycopg import sql

import temporary_postgres
from levelbook.archive import migrations
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate

ROLE = "levelbook_app"
BOTH = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Path]:
    """Give the folder of the socket of the PostgreSQL server that all test runs share."""
    with temporary_postgres.shared() as folder:
        with _owner(folder) as connection, _one_at_a_time(connection):
            found = connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [ROLE])
            if found.fetchone() is None:
                connection.execute(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS")
        yield folder


@pytest.fixture(scope="session")
def postgres_template(postgres: Path) -> str:
    """Return the name of a migrated database to make others of."""
    name = f"levelbook_template_{_digest_of_schema()}"
    with _owner(postgres) as connection, _one_at_a_time(connection):
        found = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name])
        if found.fetchone() is None:
            part = f"part_{secrets.token_hex(8)}"
            _create(connection, part, "template0")
            _migrate(temporary_postgres.address(postgres, part, ROLE))
            connection.execute(f"ALTER DATABASE {part} RENAME TO {name}")
    return name


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a migrated file to make others of."""
    file = tmp_path_factory.mktemp("template") / "levelbook.sqlite"
    _migrate(file_url(file))
    return file


@pytest.fixture
def postgres_url(postgres: Path, postgres_template: str) -> Iterator[str]:
    """Give the address of a migrated, empty PostgreSQL database."""
    with _made(postgres, postgres_template) as url:
        yield url


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """Return the address of a migrated, empty SQLite file."""
    file = tmp_path / "database" / "levelbook.sqlite"
    file.parent.mkdir()
    shutil.copy(sqlite_template, file)
    return file_url(file)


@pytest.fixture(params=BOTH)
def database_url(request: pytest.FixtureRequest) -> str:
    """Return the address of a migrated, empty database, once for each kind."""
    url: str = request.getfixturevalue(f"{'postgres' if _postgres(request) else 'sqlite'}_url")
    return url


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """Give a migrated, empty database, once for each kind."""
    opened = Database(database_url)
    yield opened
    opened.close()


@pytest.fixture(params=BOTH)
def bare_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the address of a database without a table, once for each kind."""
    if not _postgres(request):
        yield file_url(tmp_path / "bare" / "levelbook.sqlite")
        return
    with _made(request.getfixturevalue("postgres"), "template0") as url:
        yield url


@pytest.fixture
def new_database(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[str], Database]]:
    """Give what makes one more migrated, empty database, of the kind that it is asked for."""
    made: list[Database] = []
    ends: list[Callable[[], object]] = []

    def make(kind: str) -> Database:
        if kind == "sqlite":
            file = tmp_path / f"more-{len(made)}" / "levelbook.sqlite"
            file.parent.mkdir()
            shutil.copy(request.getfixturevalue("sqlite_template"), file)
            made.append(Database(file_url(file)))
            return made[-1]
        server = request.getfixturevalue("postgres")
        given = _made(server, request.getfixturevalue("postgres_template"))
        made.append(Database(given.__enter__()))
        ends.append(lambda: given.__exit__(None, None, None))
        return made[-1]

    yield make
    for opened in made:
        opened.close()
    for end in ends:
        end()


def superuser_url(url: str) -> str:
    """Return the address by which the server's superuser comes to a database of tests."""
    return url.replace(f"{ROLE}@", f"{temporary_postgres.OWNER}@")


def _postgres(request: pytest.FixtureRequest) -> bool:
    return bool(request.param == "postgresql")


def _migrate(url: str) -> None:
    opened = Database(url)
    migrate(opened)
    opened.close()


def _digest_of_schema() -> str:
    folder = Path(migrations.__file__).parent
    files = sorted([*folder.rglob("*.py"), *folder.parent.glob("*.py")])
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:16]


def _owner(folder: Path) -> psycopg.Connection:
    url = temporary_postgres.address(folder, "postgres", temporary_postgres.OWNER)
    return psycopg.connect(url, autocommit=True)


@contextmanager
def _one_at_a_time(connection: psycopg.Connection) -> Iterator[None]:
    """Let no other process of this or another run in."""
    connection.execute("SELECT pg_advisory_lock(1)")
    yield
    connection.execute("SELECT pg_advisory_unlock(1)")


@contextmanager
def _made(folder: Path, template: str) -> Iterator[str]:
    name = f"test_{secrets.token_hex(8)}"
    with _owner(folder) as connection:
        _create(connection, name, template)
    yield temporary_postgres.address(folder, name, ROLE)
    with _owner(folder) as connection:
        connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


def _create(connection: psycopg.Connection, name: str, template: str) -> None:
    query = sql.SQL("CREATE DATABASE {} TEMPLATE {} OWNER {} STRATEGY file_copy")
    parts = (sql.Identifier(part) for part in (name, template, ROLE))
    connection.execute(query.format(*parts))
