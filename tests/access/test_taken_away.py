"""Rights that are taken away while something is under way: nothing is done by them any more."""

import json
from datetime import UTC, datetime

import anyio
import pytest
import sqlalchemy as sa
from test_coming_in import sign_in
from test_passkeys import add, challenge, device, hand_in
from two_firms import ADDRESS, PASSWORD, quick

from levelbook.app import late
from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.tables import INVITATIONS, PEOPLE, SESSIONS
from levelbook.errors import DeniedError
from levelbook.firm import invitations, people
from levelbook.firm.accounts import Accounts, Place, WrongError
from levelbook.firm.passkeys import Keys
from levelbook.firm.roles import Who

NEW = {"email": "cleo@cedar.example", "name": "Cleo", "role": "owner"}
FRESH = "a lantern under nine bridges"


@pytest.fixture
def second(world):
    """Give a second owner of the first firm."""
    with world.database.use(world.one.id) as connection:
        here = PEOPLE.c.id == world.one.people["reviewer"]
        connection.execute(sa.update(PEOPLE).where(here).values(role="owner"))
    return world.caller(world.one, "reviewer")


def begun_before(world, path: str, caller, body: dict, meanwhile) -> int:
    """Begin a request, do something else, send its rest, and return the answer's status."""
    data, answers = json.dumps(body).encode(), []
    given = caller.headers | {"host": "testserver", "content-type": "application/json"}
    scope = {"type": "http", "http_version": "1.1", "method": "POST", "scheme": "http"}
    scope |= {"path": path, "raw_path": path.encode(), "query_string": b"", "root_path": ""}
    scope |= {"client": ("192.0.2.1", 5), "server": ("testserver", 80)}
    scope["headers"] = [(name.encode(), value.encode()) for name, value in given.items()]
    parts = iter([data[:1], data[1:]])

    async def receive():
        part = next(parts)
        if part == data[1:]:
            await anyio.to_thread.run_sync(meanwhile)
        return {"type": "http.request", "body": part, "more_body": part == data[:1]}

    async def send(message):
        answers.append(message)

    world.client.portal.call(world.app, scope, receive, send)
    return next(m["status"] for m in answers if m["type"] == "http.response.start")


def open_invitations(world) -> int:
    """Return how many invitations are open in all."""
    with world.database.look(EVERY_FIRM) as connection:
        unused = sa.select(sa.func.count()).where(INVITATIONS.c.used.is_(None))
        return connection.execute(unused).scalar_one()


TAKEN = {
    "shut out": ("POST", "/api/people/{person}", {"disabled": True}),
    "made less": ("POST", "/api/people/{person}", {"role": "surveyor"}),
    "signed out": ("DELETE", "/api/sessions/{session}", {}),
}


@pytest.mark.parametrize("how", TAKEN)
def test_a_request_begun_before_does_nothing_after(world, second, monkeypatch, how):
    """Its last byte comes when the rights are gone: no way in is left behind."""
    monkeypatch.setattr(late, "SOON", 0.0)
    gone = world.caller(world.one, "owner")
    method, path, body = TAKEN[how]
    path = path.format(person=gone.who.person, session=gone.who.session)

    def take():
        assert world.ask(method, path, second, json=body).status_code == 200

    assert begun_before(world, "/api/invitations", gone, NEW, take) == 401
    assert open_invitations(world) == 0


def test_a_slow_body_of_somebody_who_stays_is_taken(world, monkeypatch):
    """Whoever is still there with the same role is served, however long it took."""
    monkeypatch.setattr(late, "SOON", 0.0)
    owner = world.caller(world.one, "owner")
    assert begun_before(world, "/api/invitations", owner, NEW, lambda: None) == 201
    visit = "a-visit-of-a-slow-device"
    caller = world.caller(world.one, "surveyor")
    sync = f"/api/visits/{visit}/sync"
    assert begun_before(world, sync, caller, {"since": 0, "entries": []}, lambda: None) == 200


@pytest.mark.parametrize("how", ["shut out", "made less"])
@pytest.mark.parametrize("what", ["invite", "reset", "role", "shut out", "let in"])
def test_what_a_former_owner_has_under_way_is_refused(world, second, how, what):
    """It is looked at again in the transaction itself, whatever the request was let in by."""
    former = Who(world.one.id, world.one.people["owner"], "owner")
    other, now = world.one.people["surveyor"], datetime.now(UTC)
    deeds = {
        "invite": lambda c: invitations.invite(c, former, ("x@cedar.example", "", "owner"), now),
        "reset": lambda c: invitations.start_reset(c, former, other, now),
        "role": lambda c: people.set_role(c, former, other, "owner", now),
        "shut out": lambda c: people.set_disabled(c, former, other, now, disabled=True),
        "let in": lambda c: people.set_disabled(c, former, former.person, now, disabled=False),
    }
    body = {"disabled": True} if how == "shut out" else {"role": "reviewer"}
    path = f"/api/people/{former.person}"
    assert world.ask("POST", path, second, json=body).status_code == 200
    with pytest.raises(DeniedError), world.database.use(world.one.id) as connection:
        deeds[what](connection)
    assert open_invitations(world) == 0


def test_a_reset_does_not_outlive_being_shut_out(world, second):
    """Who is let in again comes in by the old password, not by an address from before."""
    path = f"/api/people/{world.one.people['surveyor']}"
    token = world.ask("POST", f"{path}/reset", second).json()["token"]
    for out in (True, False):
        assert world.ask("POST", path, second, json={"disabled": out}).status_code == 200
    answer = world.ask("POST", f"/api/invitations/{token}", json={"password": FRESH})
    assert answer.status_code == 404
    assert sign_in(world, world.one.email("surveyor")).status_code == 200


def test_a_reset_ends_every_passkey(world):
    """A key that somebody else added to the account opens nothing after the reset."""
    owner, theirs = world.caller(world.one, "owner"), world.caller(world.one, "surveyor")
    key = device()
    assert add(world, theirs, key).status_code == 201
    token = world.ask("POST", f"/api/people/{theirs.who.person}/reset", owner).json()["token"]
    assert hand_in(world, key.sign(challenge(world), theirs.who.person)).status_code == 200
    answer = world.ask("POST", f"/api/invitations/{token}", json={"password": FRESH})
    assert answer.status_code == 201
    assert hand_in(world, key.sign(challenge(world), theirs.who.person)).status_code == 403
    line = world.ask("GET", "/api/audit", owner).json()["entries"][0]
    assert (line["action"], line["detail"]["passkeys"]) == ("password reset", 1)


@pytest.mark.parametrize("what", ["reset", "changed", "shut out"])
def test_a_sign_in_under_way_does_not_outlive_its_password(world, what):
    """The old password was right when it was looked at, and is not when the session begins."""
    owner, now = world.caller(world.one, "owner"), datetime.now(UTC)
    caller = world.caller(world.one, "surveyor")
    path = f"/api/people/{caller.who.person}"
    passwords = quick()
    check = passwords.check

    def meanwhile():
        if what == "reset":
            token = world.ask("POST", f"{path}/reset", owner).json()["token"]
            given = {"password": FRESH}
            assert world.ask("POST", f"/api/invitations/{token}", json=given).status_code == 201
        elif what == "changed":
            given = {"old": PASSWORD, "new": FRESH}
            assert world.ask("POST", "/api/password", caller, json=given).status_code == 200
        else:
            out = world.ask("POST", path, owner, json={"disabled": True})
            assert out.status_code == 200

    def slow(kept, password):
        right = check(kept, password)
        meanwhile()
        return right

    passwords.check = slow
    accounts = Accounts(world.database, passwords, Keys(ADDRESS))
    with pytest.raises(WrongError):
        accounts.sign_in(world.one.email("surveyor"), PASSWORD, Place("192.0.2.1"), now)
    mine = sa.select(sa.func.count()).where(
        SESSIONS.c.person == caller.who.person, SESSIONS.c.ended.is_(None)
    )
    with world.database.look(world.one.id) as connection:
        assert connection.execute(mine).scalar_one() == (1 if what == "changed" else 0)
