"""Two firms in a database of each kind."""

import houses
import pytest

from levelbook.archive.database import Database


@pytest.fixture
def firms(database: Database) -> Database:
    """Give a database with two firms in it."""
    houses.add_firms(database)
    return database
