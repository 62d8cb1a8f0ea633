"""What visits amount to is noted although the database fails in between."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
import two_firms
from sqlalchemy.exc import DataError, OperationalError

from levelbook.app.noting import Noting
from levelbook.app.routes import take_document
from levelbook.archive.database import Database
from levelbook.archive.store import Store
from levelbook.archive.tables import LOCAL, VISITS
from levelbook.firm import noting

LATE = datetime(2099, 1, 1, tzinfo=UTC)
AWAY = OperationalError("SELECT 1", {}, Exception("server closed the connection"))
FAULT = DataError("UPDATE visits", {}, Exception("value too long"))


@pytest.fixture
def work(database: Database, monkeypatch: pytest.MonkeyPatch):
    """Give what notes, with a database in which one house waits."""
    monkeypatch.setattr("levelbook.app.noting.REST", 0.0)
    take_document(Store(database), two_firms.BOOK.read_bytes())
    made = Noting(database)
    yield made
    made.close()


def noted(database: Database) -> tuple[str, bool]:
    """Return what is noted of the house, and whether that is settled."""
    query = sa.select(VISITS.c.finding, VISITS.c.assessed == VISITS.c.updated)
    with database.look(LOCAL) as connection:
        row = connection.execute(query).one()
    return row[0], bool(row[1])


@pytest.mark.parametrize("error", [AWAY, OSError(28, "full")], ids=["away", "full"])
def test_what_failed_for_a_moment_is_noted_later(work, monkeypatch, error):
    """A database that is restarted in the middle leaves the visit for the next round."""
    with monkeypatch.context() as broken:
        broken.setattr("levelbook.app.noting.note", lambda *_: _raise(error))
        assert work.round(LATE) == 1
    assert noted(work.database) == ("", False)
    assert work.round(LATE) == 1
    finding, settled = noted(work.database)
    assert finding
    assert settled
    assert work.round(LATE) == 0


def test_what_always_fails_does_not_hold_up_others(work, monkeypatch):
    """A visit whose note the database can never take is left until it changes."""
    monkeypatch.setattr("levelbook.app.noting.note", lambda *_: _raise(FAULT))
    assert work.round(LATE) == 1
    assert noted(work.database) == ("", True)
    monkeypatch.setattr("levelbook.app.noting.note", noting.note)
    assert work.round(LATE) == 0


def _raise(error: Exception) -> None:
    raise error
