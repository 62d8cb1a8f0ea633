"""A database that says nothing: requests are answered, and nobody waits for ever."""

import socket
import time

import lives
import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from levelbook.archive import database
from levelbook.archive.database import Database


def test_a_database_behind_a_dead_network_is_told_to_be_away(tmp_path, monkeypatch):
    """Where a connection is taken and nothing is ever said, the answer is 503."""
    assert database.AWAY["connect_timeout"] <= 10
    monkeypatch.setitem(database.AWAY, "connect_timeout", 2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        url = f"postgresql://nobody@127.0.0.1:{silent.getsockname()[1]}/none"
        app, _ = lives.build(url, tmp_path / "photos")
        with TestClient(app, raise_server_exceptions=False) as client:
            begun = time.monotonic()
            answer = client.get("/api/visits")
            assert answer.status_code == 503
            assert answer.json()["error"]["code"] == "database"
            assert time.monotonic() - begun < 60


@pytest.mark.parametrize(("told", "seconds"), [("", 10), ("?connect_timeout=3", 3)])
def test_the_address_goes_first(told, seconds):
    """Who operates the server may choose other patience in the database's address."""
    opened, found = Database(f"postgresql://nobody@127.0.0.1:1/none{told}"), {}

    @event.listens_for(opened.engine, "do_connect")
    def _seen(_dialect, _record, _given, settings):
        found.update(settings)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        opened.engine.connect()
    assert int(found["connect_timeout"]) == seconds
    assert found["tcp_user_timeout"] == database.AWAY["tcp_user_timeout"]
    opened.close()
