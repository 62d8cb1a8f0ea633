"""However many reports are asked for at once, readings are taken in."""

import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from levelbook.app.desk import Desk
from levelbook.app.server import make_app

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"
MANY, PATIENCE = 45, 20.0
"""More than the server has threads for: a library's usual number is 40."""
WAYS = {
    "report.pdf": "report",
    "assess": "results",
    "live": "live",
    "plan.svg": "drawing",
    "compare/VISIT": "comparison",
    "export/dxf": "assessment",
}


@pytest.mark.parametrize("path", WAYS)
def test_readings_are_taken_while_results_are_worked_out(tmp_path, monkeypatch, path):
    """Results that take for ever hold up each other, and not the sending of a reading."""
    go = threading.Event()
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as client:
        visit = client.post("/api/import", content=BOOK.read_bytes()).json()["visit"]

        def slow(*_: object) -> None:
            assert go.wait(3 * PATIENCE)
            raise ZeroDivisionError

        monkeypatch.setattr(Desk, WAYS[path], slow)
        asked = f"/api/visits/{visit}/{path.replace('VISIT', visit)}"
        with ThreadPoolExecutor(MANY + 1) as pool:
            answers = [pool.submit(client.get, asked) for _ in range(MANY)]
            try:
                body = {"since": 0, "entries": []}
                taken = pool.submit(client.post, f"/api/visits/{visit}/sync", json=body)
                assert taken.result(PATIENCE).status_code == 200
            finally:
                go.set()
            assert {answer.result().status_code for answer in answers} == {500}
