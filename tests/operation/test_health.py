"""Whoever operates the server learns whether it works, and what it did, and nothing of anyone."""

import re

import pytest
import sqlalchemy as sa
import two_firms
from starlette.testclient import TestClient

from levelbook.app import health
from levelbook.app.measures import BUCKETS, Measures
from levelbook.app.server import make_app
from levelbook.archive.migrating import FIRST, migrate

LINE = re.compile(r'[a-z_]+(\{([a-z_]+="([^"\\\n]|\\.)*",?)*\})? [0-9.e+-]+')


@pytest.fixture
def client(tmp_path):
    """Give a client of one's own machine, from the machine itself."""
    app = make_app(tmp_path)
    with TestClient(app, raise_server_exceptions=False, client=("127.0.0.1", 5)) as made:
        yield made


def test_a_server_that_works_is_ready(client):
    """Alive, ready, and every check told."""
    assert client.get("/health/live").json() == {"live": True}
    told = client.get("/health/ready")
    assert told.status_code == 200
    assert told.json() == {
        "ready": True,
        "checks": {"database": True, "schema": True, "disk": True},
    }


def test_a_full_disk_is_told_beforehand(client, monkeypatch):
    """A server whose disk is nearly full is alive and not ready."""
    monkeypatch.setattr(health, "LEAST_FREE", 10**18)
    told = client.get("/health/ready")
    assert told.status_code == 503
    assert told.json()["checks"] == {"database": True, "schema": True, "disk": False}
    assert told.json()["error"]["place"] == "disk"
    assert client.get("/health/live").status_code == 200


def test_a_database_of_another_schema_is_told(database):
    """A database that is not of this release is not ready, on both."""
    current = health.schema_current(database)
    assert current()
    migrate(database, FIRST)
    assert not current()


def test_a_database_that_is_away_is_told_and_answered(world):
    """Without its database the server lives, is not ready, and answers 503 with a remedy."""
    owner = world.caller(world.one, "owner")
    engine = world.database.engine
    world.database.engine = sa.create_engine("postgresql+psycopg://nobody@127.0.0.1:1/none")
    try:
        ready = world.ask("GET", "/health/ready")
        assert ready.status_code == 503
        assert ready.json()["checks"]["database"] is False
        assert world.ask("GET", "/health/live").status_code == 200
        for method, path in (("GET", "/api/visits"), ("POST", "/api/import"), ("GET", "/r/x")):
            answer = world.ask(method, path, owner)
            assert answer.status_code == 503
            assert answer.json()["error"]["code"] == "database"
            assert answer.headers["retry-after"] == "5"
    finally:
        world.database.engine = engine
    assert world.ask("GET", "/api/visits", owner).status_code == 200
    told = metrics(world, "127.0.0.1")
    assert re.search(r'levelbook_database_errors_total\{kind="away"\} [34]', told)


def metrics(world, host: str) -> str:
    """Return what the server tells a client at an address."""
    return TestClient(world.app, client=(host, 5)).get("/metrics").text


def test_figures_are_told_as_they_are_read(client):
    """Each line is of the form that is read, and what happened is counted by its route."""
    client.get("/api/visits?search=Sagebrush")
    client.get("/api/visits/visit-0001/live")
    client.request("BREW", "/api/visits")
    told = client.get("/metrics")
    assert told.headers["content-type"].startswith("text/plain; version=0.0.4")
    lines = [line for line in told.text.splitlines() if not line.startswith("# ")]
    assert [line for line in lines if not LINE.fullmatch(line)] == []
    seen = 'levelbook_requests_total{method="GET",route="/api/visits/{visit}/live",status="404"} 1'
    assert seen in lines
    assert any('method="other"' in line for line in lines)
    assert "process_resident_memory_bytes" in told.text
    assert "Sagebrush" not in told.text
    assert "visit-0001" not in told.text


def test_entries_and_jobs_are_counted(client):
    """The house that was taken in and the report that was made are counted."""
    house = two_firms.BOOK.read_bytes()
    visit = client.post("/api/import", content=house).json()["visit"]
    entries = client.get(f"/api/visits/{visit}/history").json()["entries"]
    sending = {"since": 0, "entries": entries[:7]}
    assert client.post(f"/api/visits/{visit}/sync", json=sending).status_code == 200
    client.post(f"/api/visits/{visit}/report")
    told = client.get("/metrics").text
    assert "levelbook_entries_taken_total 7" in told
    assert 'levelbook_jobs{state="' in told


@pytest.mark.parametrize(
    ("host", "headers", "status"),
    [
        ("127.0.0.1", {}, 200),
        ("::1", {}, 200),
        ("127.0.0.1", {"x-forwarded-for": "127.0.0.1"}, 403),
        ("127.0.0.1", {"via": "1.1 proxy"}, 403),
        ("192.0.2.7", {}, 403),
        ("192.0.2.7", {"authorization": "Bearer seven-herons"}, 200),
        ("192.0.2.7", {"authorization": "Bearer seven-heron"}, 403),
        ("192.0.2.7", {"authorization": "Basic seven-herons"}, 403),
        ("192.0.2.7", {"authorization": "Bearer "}, 403),
    ],
)
def test_figures_are_for_the_operator_alone(tmp_path, monkeypatch, host, headers, status):
    """The machine itself and who holds the token see the figures, nobody else."""
    monkeypatch.setenv(health.TOKEN, "seven-herons")
    with TestClient(make_app(tmp_path), client=(host, 5)) as client:
        assert client.get("/metrics", headers=headers).status_code == status


def test_without_a_token_none_opens(tmp_path, monkeypatch):
    """Where no token is set, an empty one opens nothing."""
    monkeypatch.delenv(health.TOKEN, raising=False)
    with TestClient(make_app(tmp_path), client=("192.0.2.7", 5)) as client:
        answer = client.get("/metrics", headers={"authorization": "Bearer "})
        assert answer.status_code == 403


def test_times_fall_into_their_classes():
    """A histogram counts each time in every class that holds it, and adds them up."""
    measures = Measures()
    measures.times("seconds", "told")
    for seconds in (0.001, 0.005, 0.3, 99.0):
        measures.time("seconds", seconds, route='a"b\\c\nd')
    lines = measures.text().splitlines()[2:]
    counts = [float(line.rpartition(" ")[2]) for line in lines]
    assert len(BUCKETS) + 3 == len(lines)
    assert counts[: len(BUCKETS) + 1] == [2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 4]
    assert counts[-2:] == [99.306, 4]
    assert 'route="a\\"b\\\\c\\nd",le="+Inf"' in lines[len(BUCKETS)]
