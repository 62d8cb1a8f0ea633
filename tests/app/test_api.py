"""The server's addresses: a house taken in, worked out, reported; errors in one shape."""

import json
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from levelbook.app.server import make_app
from levelbook.book import digest, read_book

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"


@pytest.fixture
def client(tmp_path):
    """Give a client of a server over an empty store."""
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as made:
        yield made


@pytest.fixture
def visit(client):
    """Take the small house in and give its visit."""
    return client.post("/api/import", content=BOOK.read_bytes()).json()["visit"]


def test_a_house_taken_in_comes_out_the_same(client, visit):
    """The document of an imported visit is the one that came in."""
    back = client.get(f"/api/visits/{visit}/book")
    assert digest(read_book(back.content)) == digest(read_book(BOOK.read_bytes()))
    assert client.get("/api/visits").json()["visits"][0]["id"] == visit


def test_results_are_renewed_by_a_reading(client, visit):
    """A reading that is struck changes the levels at once, and the history tells it."""
    before = client.get(f"/api/visits/{visit}/live").json()
    assert before["stations"]["7"]["level"] == pytest.approx(-0.85)
    assert before["areas"]["house"]["contours"]
    entry = {
        "id": "entry-0001",
        "visit": visit,
        "clock": f"{time.time_ns() // 1_000_000:016d}-0000-device01",
        "device": "device01",
        "author": "A",
        "made": "",
        "do": "set",
        "kind": "reading",
        "of": "r8",
        "fields": {"struck": True},
    }
    sent = client.post(f"/api/visits/{visit}/sync", json={"since": 0, "entries": [entry]}).json()
    assert sent["accepted"] == ["entry-0001"]
    assert len(sent["entries"]) == 98
    after = client.get(f"/api/visits/{visit}/live").json()
    assert "7" not in after["stations"]
    assert client.get(f"/api/visits/{visit}/history").json()["entries"][-1] == entry


def test_a_report_is_made_and_handed_out(client, visit):
    """A report is made by a job that tells its progress; its files can be fetched."""
    job = client.post(f"/api/visits/{visit}/report").json()["job"]
    for _ in range(300):
        state = client.get(f"/api/jobs/{job}").json()
        if state["state"] in ("done", "failed"):
            break
        time.sleep(0.1)
    assert (state["state"], state["done"]) == ("done", state["of"])
    assert client.get(f"/api/visits/{visit}/report.pdf").content.startswith(b"%PDF-")
    page = client.get(f"/api/visits/{visit}/report.html")
    assert "sandbox" in page.headers["content-security-policy"]
    results = client.get(f"/api/visits/{visit}/report.json").json()
    assert results["areas"].keys() == {"house", "garage"}


def test_a_visit_that_is_not_whole_yet_tells_what_is_missing(client):
    """A draft has no results, but its faults and what there is."""
    entry = {
        "id": "entry-0001",
        "visit": "visit-0001",
        "clock": "0000000000000001-0000-device01",
        "device": "device01",
        "author": "A",
        "made": "",
        "do": "set",
        "kind": "property",
        "of": "",
        "fields": {"label": "<b>New</b>"},
    }
    client.post("/api/visits/visit-0001/sync", json={"since": 0, "entries": [entry]})
    book = client.get("/api/visits/visit-0001/book")
    assert book.status_code == 422
    assert book.json()["draft"]["property"] == {"label": "<b>New</b>"}
    assert client.get("/api/visits/visit-0001/live").json()["faults"]
    assert client.post("/api/visits/visit-0001/report").status_code == 422


@pytest.mark.parametrize(
    ("method", "address", "status"),
    [
        ("GET", "/api/nothing", 404),
        ("GET", "/api/visits/nobody-knows-it/live", 404),
        ("GET", "/api/visits/x/live", 404),
        ("GET", "/api/visits/VISIT/report.exe", 404),
        ("GET", "/api/visits/VISIT/plan.svg?kind=colour", 400),
        ("GET", "/api/visits/VISIT/plan.svg?width=1e9", 400),
        ("GET", "/api/visits/VISIT/plan.svg?width=2", 400),
        ("GET", "/api/visits?limit=x", 400),
        ("GET", "/api/visits/VISIT/assess?criteria=none-such", 400),
        ("POST", "/api/import", 422),
        ("POST", "/api/visits/VISIT/sync", 415),
        ("POST", "/api/visits", 405),
        ("GET", "/api/jobs/none", 404),
    ],
)
def test_every_error_has_one_shape(client, visit, method, address, status):
    """Whatever is refused is refused with code, place, problem and remedy."""
    answer = client.request(method, address.replace("VISIT", visit), content=b"x")
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"code", "place", "problem", "remedy"}
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"[]", 400),
        (b'{"since": -1}', 400),
        (b'{"since": NaN}', 400),
        (b"[" * 100_000, 400),
        (json.dumps({"entries": [{}]}).encode(), 422),
        (b"x" * 13_000_000, 413),
    ],
)
def test_sendings_of_the_wrong_form_are_refused(client, visit, body, status):
    """What a device sends is checked before anything is kept."""
    kind = {"content-type": "application/json"}
    answer = client.post(f"/api/visits/{visit}/sync", content=body, headers=kind)
    assert answer.status_code == status
    assert "error" in answer.json()


@pytest.mark.parametrize("address", ["/..%2f..%2fetc/passwd", "/assets/../../server.py", "/%00"])
def test_no_file_outside_the_bundle_is_handed_out(client, address):
    """An address that leads out of the bundle gets the start page, or word of its absence."""
    answer = client.get(address)
    assert "text/html" in answer.headers["content-type"]
    assert "root:" not in answer.text
    assert "def make_app" not in answer.text
