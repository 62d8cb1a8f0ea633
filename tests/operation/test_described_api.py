"""The description of the API is whole, and the server answers as it says, whatever it is asked."""

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
import schemathesis
import two_firms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from openapi_spec_validator import OpenAPIV31SpecValidator
from schemathesis import GenerationMode
from schemathesis.openapi import from_dict
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.applications import Starlette
from starlette.testclient import TestClient

import databases
from levelbook.app.access import RULES
from levelbook.app.openapi import DESCRIBED, UNDESCRIBED, document, plain
from levelbook.app.routes import take_document
from levelbook.app.server import make_app
from levelbook.archive.database import Database
from levelbook.archive.place import STORE
from levelbook.archive.store import open_store

EXAMPLES = int(os.environ.get("LEVELBOOK_EXAMPLES", "3"))
"""Requests for each address, caller and kind of data; more for a wide run by hand."""
CHECKS = [
    schemathesis.checks.not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]
EXPECTED = (503, 507)
MODES = tuple(GenerationMode)


@dataclass
class Asked:
    """An app to ask: the client, whom it asks as, and ids of things that are there."""

    app: Starlette
    client: TestClient
    headers: dict[str, str] = field(default_factory=dict)
    ids: dict[str, str] = field(default_factory=dict)


@pytest.fixture(scope="module")
def own(tmp_path_factory) -> Iterator[Asked]:
    """Give one's own machine, with a house on it."""
    folder = tmp_path_factory.mktemp("own")
    store = open_store(folder / STORE)
    visit = take_document(store, two_firms.BOOK.read_bytes())
    store.close()
    app = make_app(folder)
    with TestClient(app, raise_server_exceptions=False) as client:
        yield Asked(app, client, {}, {"visit": visit, "later": visit})


@pytest.fixture(scope="module")
def firm(tmp_path_factory, postgres, postgres_template) -> Iterator[two_firms.World]:
    """Give a firm's server, on PostgreSQL, which refuses more than SQLite does."""
    with databases._made(postgres, postgres_template) as url:
        database = Database(url)
        with two_firms.made(database, tmp_path_factory.mktemp("firm")) as world:
            yield world
        database.close()


@contextlib.contextmanager
def asked(mode: str, own: Asked, firm: two_firms.World) -> Iterator[Asked]:
    """Give whom to ask: one's own machine, or a firm as its owner or as nobody."""
    if mode == "own":
        yield own
        return
    headers = firm.caller(firm.one, "owner").headers if mode == "owner" else {}
    yield Asked(firm.app, firm.client, headers, firm.one.ids)


def named(one: Any) -> str:
    """Return a description's name for the test report."""
    return f"{one.method} {one.path}"


def test_every_rule_has_its_description() -> None:
    """No address goes without a description, and none is described that does not exist."""
    ruled = {(plain(rule.path), m) for rule in RULES for m in rule.methods}
    ruled -= {(path.replace(":path", ""), "GET") for path in UNDESCRIBED}
    described = [(one.path, one.method) for one in DESCRIBED]
    assert ruled == set(described)
    assert len(described) == len(set(described))


def test_the_document_is_what_the_standard_asks(firm) -> None:
    """The document is OpenAPI 3.1, is handed out to who is signed in, and tells every route."""
    told = document(firm.app.routes)
    OpenAPIV31SpecValidator(told).validate()
    owner = firm.caller(firm.one, "owner")
    assert firm.ask("GET", "/api/openapi.json", owner).json() == told
    assert firm.ask("GET", "/api/openapi.json").status_code == 401
    ways = {(path, method.upper()) for path, way in told["paths"].items() for method in way}
    assert ways == {(one.path, one.method) for one in DESCRIBED}


@pytest.mark.parametrize("mode", ["own", "owner", "anonymous"])
@pytest.mark.parametrize("one", DESCRIBED, ids=named)
def test_the_server_answers_as_described(one, mode, own, firm) -> None:
    """No request brings an error of the server, or an answer that the description lacks."""
    with asked(mode, own, firm) as to:
        told = document(to.app.routes)
        if one.method.lower() not in told["paths"].get(one.path, {}):
            assert mode == "own"
            return
        _ask_much(one, told, to)


def _ask_much(one: Any, told: dict[str, Any], to: Asked) -> None:
    """Send many requests to one address."""
    operation = from_dict(told)[one.path][one.method]
    cases = st.one_of([operation.as_strategy(generation_mode=mode) for mode in MODES])
    known = _known(one.path, to.ids)

    @settings(
        max_examples=EXAMPLES * len(MODES),
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(cases, st.booleans())
    def ask(case: Any, real: bool) -> None:
        if real and case.path_parameters:
            case.path_parameters.update(
                {k: v for k, v in known.items() if k in case.path_parameters}
            )
        given = case.as_transport_kwargs(base_url=two_firms.ADDRESS)
        given["headers"] = dict(given["headers"]) | to.headers
        to.client.cookies.clear()
        answer = to.client.request(**_fit(given), follow_redirects=False)
        if answer.status_code not in EXPECTED or one.path == "/health/ready":
            case.validate_response(answer, checks=CHECKS)

    ask()


def _known(path: str, ids: dict[str, str]) -> dict[str, str]:
    """Return the ids of things that are there, by the names of an address."""
    named = {"kind": "html", "format": "geojson", "file": "report.pdf", "n": "1"}
    of = (ids.get(name, "") for section, name in two_firms.PLACES if path.startswith(section))
    found = ids | named | {"id": next(of, "")}
    return {name: value for name, value in found.items() if value}


def _fit(given: dict[str, Any]) -> dict[str, Any]:
    """Return what the test client takes of a request made for another client."""
    cookies = given.pop("cookies", None)
    if cookies and "cookie" not in given["headers"]:
        given["headers"]["cookie"] = "; ".join(f"{k}={v}" for k, v in cookies.items())
    if "data" in given:
        given["content"] = given.pop("data")
    return {name: value for name, value in given.items() if value is not None}
