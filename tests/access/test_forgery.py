"""Requests that another site makes a browser send: each one that changes something is refused."""

import pytest
from starlette.testclient import TestClient
from test_rules import named, refused
from two_firms import ADDRESS, PASSWORD, World, fill

from levelbook.app.access import CSRF, RULES
from levelbook.app.server import make_app
from levelbook.firm.roles import ANYONE

CHANGES = [(rule, method) for rule in RULES for method in rule.methods if rule.csrf]
SIGNED_IN = [case for case in CHANGES if case[0].roles != ANYONE]
OPEN = [case for case in CHANGES if case[0].roles == ANYONE]
FOREIGN = (
    {"origin": "https://evil.example"},
    {"origin": "null"},
    {"origin": "http://testserver.evil.example"},
    {"origin": "http://testserver:81"},
    {"origin": "https://testserver"},
    {"origin": ADDRESS, "sec-fetch-site": "cross-site"},
    {"origin": "", "sec-fetch-site": "same-site"},
    {"origin": "", "sec-fetch-site": "none"},
)


def bare(caller, **changed) -> dict[str, str]:
    """Return somebody's headers with some of them others, or without those that are empty."""
    headers = caller.headers | {k.replace("_", "-"): v for k, v in changed.items()}
    return {name: value for name, value in headers.items() if value}


@pytest.mark.parametrize("case", SIGNED_IN, ids=named)
def test_without_the_pages_token_nothing_changes(shared_world: World, case):
    """No token, a wrong one, another session's, or the session's own token in its place."""
    rule, method = case
    world = shared_world
    caller = world.caller(world.one, "owner")
    other = world.caller(world.one, "owner")
    for given in ("", "x", "é", caller.csrf + "x", other.csrf, caller.token, caller.who.session):
        headers = bare(caller, **{CSRF: given})
        sent = {k: v.encode("utf-8") for k, v in headers.items()}
        answer = world.ask(method, fill(rule, world.one), headers=sent)
        assert (answer.status_code, refused(answer)) == (403, "csrf"), given
    assert world.ask("GET", "/api/me", caller).status_code == 200


@pytest.mark.parametrize("case", SIGNED_IN, ids=named)
def test_from_another_site_nothing_changes(shared_world: World, case):
    """Not even with the right token, nor without a word on where it comes from."""
    rule, method = case
    world = shared_world
    caller = world.caller(world.one, "owner")
    for changed in (*FOREIGN, {"origin": ""}):
        headers = bare(caller, **changed)
        answer = world.ask(method, fill(rule, world.one), headers=headers)
        assert (answer.status_code, refused(answer)) == (403, "foreign"), changed
    assert world.ask("GET", "/api/me", caller).status_code == 200


@pytest.mark.parametrize("case", OPEN, ids=named)
def test_nobody_is_signed_in_by_another_site(shared_world: World, case):
    """What needs no session is refused to other sites, too: none signs one in as somebody else."""
    rule, method = case
    world = shared_world
    for changed in FOREIGN:
        headers = {k: v for k, v in changed.items() if v}
        answer = world.ask(method, fill(rule, world.one), headers=headers)
        assert (answer.status_code, refused(answer)) == (403, "foreign"), changed
    assert refused(world.ask(method, fill(rule, world.one))) == ""


def test_the_own_pages_may(shared_world):
    """With its token, and Origin or Sec-Fetch-Site that say so, a change goes through."""
    world = shared_world
    for changed in ({}, {"origin": "", "sec-fetch-site": "same-origin"}):
        caller = world.caller(world.one, "owner")
        answer = world.ask("POST", "/api/sign-out", headers=bare(caller, **changed))
        assert answer.status_code == 200


def test_signing_in_as_somebody_else_needs_the_token_of_who_is_here(shared_world):
    """While somebody is signed in, signing in is a change of theirs."""
    world = shared_world
    caller = world.caller(world.one, "owner")
    body = {"email": world.one.email("surveyor"), "password": PASSWORD}
    answer = world.ask("POST", "/api/sign-in", headers=bare(caller, **{CSRF: ""}), json=body)
    assert (answer.status_code, refused(answer)) == (403, "csrf")


@pytest.mark.parametrize("rule", [r for r in RULES if "GET" in r.methods], ids=lambda r: r.path)
def test_no_other_site_may_read(shared_world: World, rule):
    """No answer opens itself to scripts of other sites, and none asks to be embedded there."""
    world = shared_world
    headers = world.caller(world.one, "owner").headers | {"origin": "https://evil.example"}
    answer = world.ask("GET", fill(rule, world.one), headers=headers)
    assert not [name for name in answer.headers if name.startswith("access-control-")]
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("header", ["x-http-method-override", "x-method-override", "x-http-method"])
def test_a_method_cannot_be_slipped_in(shared_world, header):
    """Reading stays reading, whatever a header says."""
    world = shared_world
    caller = world.caller(world.one, "owner")
    path = f"/api/sessions?_method=DELETE&person={caller.who.person}"
    headers = {"cookie": caller.headers["cookie"], header: "DELETE"}
    assert world.ask("GET", path, headers=headers).status_code == 200
    assert world.ask("GET", "/api/me", caller).status_code == 200


def test_ones_own_machine_is_closed_to_other_sites(tmp_path):
    """Without accounts, too, a page on another site changes nothing in the store."""
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as client:
        for changed in FOREIGN:
            headers = {k: v for k, v in changed.items() if v}
            answer = client.post("/api/import", content=b"{}", headers=headers)
            assert (answer.status_code, refused(answer)) == (403, "foreign")
        assert refused(client.post("/api/import", content=b"{}")) == ""
        assert client.get("/api/me").json()["mode"] == "own"
