"""A visit that is not there is told so by a code of its own, at every address that names one."""

import re

import pytest
from starlette.testclient import TestClient

from levelbook.app.described import VISITS
from levelbook.app.described_firm import FIRM
from levelbook.app.server import make_app

NAMED = [
    (one.method, one.path)
    for one in (*VISITS, *FIRM)
    if "{visit}" in one.path and not one.path.endswith("/sync")
]
"""Sending entries to a visit that is not there begins it."""


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    """Give a client of a server over an empty store."""
    app = make_app(tmp_path_factory.mktemp("empty"))
    with TestClient(app, raise_server_exceptions=False) as made:
        yield made


def test_there_are_such_addresses():
    """What is asked below is not nothing."""
    assert {"/api/visits/{visit}/book", "/api/visits/{visit}/reviews"} <= {p for _, p in NAMED}


@pytest.mark.parametrize("visit", ["visit-9999", "no", "a.b~c!d-0"])
@pytest.mark.parametrize(("method", "path"), NAMED)
def test_the_code_is_its_own(client, method, path, visit):
    """Unknown or of no form that ids have: status 404, code ``no-such-visit``."""
    parts = {"visit": visit, "later": "visit-9998", "format": "dxf", "kind": "pdf"}
    address = re.sub(r"\{(\w+)\}", lambda name: parts[name[1]], path)
    sent = {"state": "for review", "reason": "", "digest": ""}
    answer = client.request(method, address, json=sent if method == "POST" else None)
    told = answer.json()["error"]
    assert (answer.status_code, told["code"]) == (404, "no-such-visit"), told


@pytest.mark.parametrize("address", ["/api/jobs/none", "/api/photos/" + "0" * 64, "/api/nowhere"])
def test_other_things_are_not_found(client, address):
    """What is no visit has the common code."""
    answer = client.get(address)
    assert (answer.status_code, answer.json()["error"]["code"]) == (404, "not-found")
