"""Every address against everyone who may ask: the table of rules is what the server does."""

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Route
from starlette.testclient import TestClient
from two_firms import World, fill

from levelbook.app.access import RULES, Access, Rule, own_machine
from levelbook.app.server import make_app
from levelbook.firm.roles import ANYONE, ROLES

CASES = [(rule, method) for rule in RULES for method in rule.methods]
BY_ID = [(r, m) for r, m in CASES if "{" in r.path and r.path.startswith("/api/")]
OF_NO_FIRM = ("/api/invitations/{token}",)
"""Addresses whose secret tells the firm by itself."""


def named(case: tuple[Rule, str]) -> str:
    """Return a case's name for the test report."""
    return f"{case[1]} {case[0].path}"


def routes(app) -> list[Route]:
    """Return every way of every route that an app answers."""
    return [route for route in app.router.routes if isinstance(route, Route)]


def ways(app) -> set[tuple[str, str]]:
    """Return path and method of everything that an app answers."""
    return {(r.path, m) for r in routes(app) for m in (r.methods or ()) if m != "HEAD"}


def test_no_route_is_missing_from_the_table(shared_world):
    """Everything that the server answers has its rule."""
    assert ways(shared_world.app) - {(rule.path, method) for rule, method in CASES} == set()


def test_no_route_of_the_own_machine_is_missing_from_the_table(tmp_path):
    """Nor has one's own machine an address without a rule."""
    assert ways(make_app(tmp_path)) - {(rule.path, method) for rule, method in CASES} == set()


def test_no_rule_is_without_a_route(shared_world):
    """The table names nothing that does not exist."""
    assert {(rule.path, method) for rule, method in CASES} - ways(shared_world.app) == set()


def test_rules_are_told_once():
    """No address has two rules."""
    assert len({(rule.path, method) for rule, method in CASES}) == len(CASES)


def test_whatever_changes_something_is_held_to_the_own_pages():
    """Only reading is open to requests from elsewhere."""
    assert [rule.path for rule, method in CASES if rule.csrf != (method != "GET")] == []


def refused(answer) -> str:
    """Return the code of the gate's refusal, empty where it let the request through."""
    if answer.status_code not in (401, 403):
        return ""
    told = answer.json()["error"]
    return told["code"] if told["place"] == "access" else ""


@pytest.mark.parametrize("case", CASES, ids=named)
@pytest.mark.parametrize("role", [None, *ROLES])
def test_each_route_is_open_to_its_roles_alone(shared_world: World, case, role):
    """Whoever has the role comes through the gate, nobody else does."""
    rule, method = case
    world = shared_world
    caller = world.caller(world.one, role) if role else None
    answer = world.ask(method, fill(rule, world.one), caller)
    if rule.roles == ANYONE or role in rule.roles:
        assert refused(answer) == ""
        assert answer.status_code < 500
    else:
        assert refused(answer) == ("not-allowed" if role else "signed-out")


@pytest.mark.parametrize("case", CASES, ids=named)
@pytest.mark.parametrize("role", ROLES)
def test_another_firm_sees_nothing(shared_world: World, case, role):
    """What another firm's people get holds nothing of this firm, whatever they ask for."""
    rule, method = case
    world = shared_world
    answer = world.ask(method, fill(rule, world.one), world.caller(world.other, role))
    assert answer.status_code < 500
    if rule.path in OF_NO_FIRM or rule.roles == ANYONE:
        return
    held = answer.content.decode("utf-8", "replace")
    assert world.one.marker not in held
    assert not any(person in held for person in world.one.people.values())


@pytest.mark.parametrize("case", BY_ID, ids=named)
def test_what_is_anothers_answers_as_what_is_not_there(shared_world: World, case):
    """An id of another firm gets the same answer, to the letter, as one that nobody has."""
    rule, method = case
    world = shared_world
    if rule.path in OF_NO_FIRM:
        return
    told = []
    for ids in (world.one.ids, dict.fromkeys(world.one.ids, "f" * 64)):
        firm = type(world.one)(world.one.id, "", {}, ids)
        body = {"json": {}} if method == "POST" else {}
        caller = world.caller(world.other, "owner")
        answer = world.ask(method, fill(rule, firm), caller, **body)
        text = answer.text
        for value in sorted(ids.values(), key=len, reverse=True):
            for shown in (value, value[:64], value[:12]):
                text = text.replace(shown, "ID")
        told.append((answer.status_code, text))
    assert told[0] == told[1]


READABLE = [case for case in BY_ID if case[1] == "GET" and case[0].path not in OF_NO_FIRM]
EMPTY = ("/api/jobs/{job}", "/api/releases/{id}/{file}")
"""Addresses of things that are not there yet in this firm, such as a file of a release."""


@pytest.mark.parametrize("case", READABLE, ids=named)
def test_the_firm_itself_sees_it(shared_world: World, case):
    """The ids of these tests are real: the firm's own owner gets what another's does not."""
    rule, method = case
    world = shared_world
    if rule.path in EMPTY:
        return
    own = world.ask(method, fill(rule, world.one), world.caller(world.one, "owner"))
    foreign = world.ask(method, fill(rule, world.one), world.caller(world.other, "owner"))
    assert (own.status_code, foreign.status_code) == (200, 404)


def test_what_the_table_does_not_name_is_open_to_nobody():
    """A route that somebody forgot to rule answers 403, to an owner too, and is not reached."""
    reached = []

    async def forgotten(_):
        reached.append("forgotten")

    extra = [Route("/api/forgotten", forgotten), Route("/api/me", forgotten, methods=["PUT"])]
    gate = Middleware(Access, extra, own_machine, secure=False)
    client = TestClient(Starlette(routes=extra, middleware=[gate]))
    for method, path in (("GET", "/api/forgotten"), ("HEAD", "/api/forgotten"), ("PUT", "/api/me")):
        assert client.request(method, path).status_code == 403
    assert client.get("/api/forgotten").json()["error"]["code"] == "not-allowed"
    assert reached == []
