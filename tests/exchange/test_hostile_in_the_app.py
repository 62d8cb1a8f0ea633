"""Hostile files at the server's addresses: each refused in the one shape, never a fault."""

from collections.abc import Iterator

import hostile_uploads as hostile
import pytest
from starlette.testclient import TestClient
from test_app_exchange import framed, put, written

from levelbook.app.server import make_app

HEAD = [
    {"kind": "property", "of": "", "fields": {"label": "Begun"}},
    {"kind": "visit", "of": "", "fields": {"date": "2026-03-02"}},
]
ANSWERS = {"unit.drawing": "ft", "scale": "1", "inside": "holes"}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Give a client of a server with a house that has just been begun."""
    app = make_app(tmp_path_factory.mktemp("app"))
    with TestClient(app, raise_server_exceptions=False) as made:
        put(made, "visit-0001", written("visit-0001", HEAD))
        yield made


@pytest.mark.parametrize("case", hostile.every(), ids=lambda case: case[0])
def test_is_answered_in_words(client: TestClient, case: hostile.Hostile) -> None:
    """413, 415 or 422 with place and remedy; what is large but harmless comes in."""
    _, name, data, status = case
    drawing = name.endswith((".svg", ".dxf", ".geojson"))
    more = {"into": "visit-0001", "answers": ANSWERS} if drawing else {}
    answer = client.post("/api/import/preview", content=framed(data, name, **more))
    assert answer.status_code == status, answer.text[:500]
    if status != 200:
        told = answer.json()["error"]
        assert set(told) == {"code", "place", "problem", "remedy"}
        assert told["remedy"]
