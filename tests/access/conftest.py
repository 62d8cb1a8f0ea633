"""Servers with two firms: one for all tests of a module that only look, one new for each other."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import two_firms
from two_firms import World

import databases
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate


@pytest.fixture(scope="module", params=databases.BOTH)
def shared_world(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[World]:
    """Give one server for all tests of a module, once on each kind of database."""
    folder = tmp_path_factory.mktemp("world")
    if request.param == "sqlite":
        database = Database(file_url(folder / "levelbook.sqlite"))
        migrate(database)
        with two_firms.made(database, folder, houses=True) as world:
            yield world
        return
    server, template = (request.getfixturevalue(n) for n in ("postgres", "postgres_template"))
    with databases._made(server, template) as url:
        database = Database(url)
        with two_firms.made(database, folder, houses=True) as world:
            yield world
        database.close()


@pytest.fixture
def world(database: Database, tmp_path: Path) -> Iterator[World]:
    """Give a server of its own."""
    with two_firms.made(database, tmp_path) as made:
        yield made
