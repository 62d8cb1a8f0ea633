"""Servers with two firms, as the tests of access have them."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import two_firms

from levelbook.archive.database import Database


@pytest.fixture
def world(database: Database, tmp_path: Path) -> Iterator[two_firms.World]:
    """Give a server of its own, once on each kind of database."""
    with two_firms.made(database, tmp_path) as made:
        yield made
