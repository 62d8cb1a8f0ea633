"""What is most serious asks for password or passkey again, where they were given long ago."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from test_coming_in import sign_in
from test_passkeys import add, challenge, device
from two_firms import PASSWORD, Caller, World, fill

from levelbook.app.access import RULES
from levelbook.archive.moments import later
from levelbook.archive.tables import AUDIT, SESSIONS
from levelbook.firm import audit, limits, sessions

SERIOUS = [(rule, method) for rule in RULES if rule.proof for method in rule.methods]
EXPECTED = {
    "/api/people/{id}",
    "/api/people/{id}/reset",
    "/api/invitations",
    "/api/passkeys",
    "/api/passkeys/options",
    "/api/passkeys/{id}",
}


def left_open(world: World, role: str, seconds: float = sessions.PROOF + 1) -> Caller:
    """Return somebody who signed in so long ago."""
    caller = world.caller(world.one, role)
    with world.database.use(world.one.id) as connection:
        begun = {"created": later(datetime.now(UTC), -seconds)}
        mine = SESSIONS.c.id == caller.who.session
        connection.execute(sa.update(SESSIONS).where(mine).values(**begun))
    return caller


def code(answer) -> str:
    """Return the code of a refusal, empty where there is none."""
    return answer.json().get("error", {}).get("code", "") if answer.status_code >= 400 else ""


def prove(world: World, caller: Caller, **given):
    """Give a proof again."""
    return world.ask("POST", "/api/prove", caller, json=given)


def invite(world: World, caller: Caller):
    """Do something serious."""
    body = {"email": "dora@alder.example", "name": "", "role": "surveyor"}
    return world.ask("POST", "/api/invitations", caller, json=body)


def test_the_table_names_what_is_serious():
    """Letting people in, changing who they are, and one's own keys."""
    assert {rule.path for rule, _ in SERIOUS} == EXPECTED


@pytest.mark.parametrize("case", SERIOUS, ids=lambda case: f"{case[1]} {case[0].path}")
def test_a_device_left_open_does_not_do_it(shared_world, case):
    """A quarter of an hour after signing in it is refused, with what to do; before, it is not."""
    rule, method = case
    world = shared_world
    address = fill(rule, world.one)
    answer = world.ask(method, address, left_open(world, "owner"), json={})
    assert (answer.status_code, code(answer)) == (403, "prove")
    assert "password or passkey" in answer.json()["error"]["problem"]
    still = left_open(world, "owner", sessions.PROOF - 60)
    assert code(world.ask(method, address, still, json={})) != "prove"


def test_what_is_not_serious_is_not_held_up(shared_world):
    """Reading, writing and signing out go on; so does a release's link, which can be ended."""
    caller = left_open(shared_world, "owner")
    for path in ("/api/me", "/api/people", "/api/visits", "/api/passkeys", "/api/audit"):
        assert shared_world.ask("GET", path, caller).status_code == 200
    visit = shared_world.one.ids["visit"]
    path = f"/api/visits/{visit}/state"
    asked = shared_world.ask("POST", path, caller, json={"state": "for review", "reason": ""})
    assert asked.status_code == 201
    assert shared_world.ask("DELETE", "/api/sessions/all", caller).status_code == 200


def test_the_password_counts_for_a_quarter_of_an_hour(world):
    """Then it is asked for again; the list says that it was given."""
    caller = left_open(world, "owner")
    assert prove(world, caller, password=PASSWORD).json() == {"proved": True}
    assert invite(world, caller).status_code == 201
    with world.database.use(world.one.id) as connection:
        query = sa.select(AUDIT.c.action).where(AUDIT.c.person == caller.who.person)
        assert "proved again" in connection.execute(query).scalars().all()
        key = sessions._proof_key(caller.who.session)
        limits.open_challenge(connection, key, datetime.now(UTC), -1)
    assert code(invite(world, caller)) == "prove"


def test_it_counts_for_its_session_alone(world):
    """Another device of the same person is asked for itself."""
    here, there = left_open(world, "owner"), left_open(world, "owner")
    prove(world, here, password=PASSWORD)
    assert invite(world, here).status_code == 201
    assert code(invite(world, there)) == "prove"


def test_a_wrong_password_proves_nothing_and_is_counted(world):
    """Who has a stolen session cannot guess on: after ten tries it waits."""
    caller = left_open(world, "owner")
    for _ in range(limits.FREE):
        assert prove(world, caller, password="eight grey herons walking").status_code == 403
    answer = prove(world, caller, password=PASSWORD)
    assert (answer.status_code, code(answer)) == (429, "too-many")
    assert int(answer.headers["retry-after"]) > 0
    assert code(invite(world, caller)) == "prove"


def test_wrong_ones_stand_in_the_list_of_what_was_done(world):
    """An owner sees that somebody guesses on a device that is signed in."""
    caller = left_open(world, "surveyor")
    prove(world, caller, password="eight grey herons walking")
    with world.database.look(world.one.id) as connection:
        line = audit.lines(connection, world.one.id, 1)[0]
    assert (line.action, line.subject) == ("sign-in failed", caller.who.person)


def test_nobody_is_kept_from_it_by_failures_elsewhere(world):
    """Who fails at signing in as the owner makes that wait, and not the owner's own proof."""
    caller = left_open(world, "owner")
    for _ in range(limits.FREE):
        assert sign_in(world, world.one.email("owner"), "no password").status_code == 401
    assert sign_in(world, world.one.email("owner")).status_code == 429
    assert prove(world, caller, password=PASSWORD).status_code == 200
    body = {"old": PASSWORD, "new": "a lantern under nine bridges"}
    assert world.ask("POST", "/api/password", caller, json=body).status_code == 200


@pytest.mark.parametrize("given", [{}, {"password": 7}, {"credential": {}}, {"credential": []}])
def test_nothing_proves_nothing(world, given):
    """Half an answer is refused in words."""
    caller = left_open(world, "owner")
    assert prove(world, caller, **given).status_code in (400, 403)
    assert code(invite(world, caller)) == "prove"


def test_a_passkey_proves_too(world):
    """One's own, once a challenge; somebody else's does not, though it is a good one."""
    own, others = device(), device()
    fresh = world.caller(world.one, "owner")
    assert add(world, fresh, own).status_code == 201
    theirs = world.caller(world.one, "surveyor")
    assert add(world, theirs, others).status_code == 201
    caller = left_open(world, "owner")
    wrong = prove(world, caller, credential=others.sign(challenge(world), theirs.who.person))
    assert wrong.status_code == 403
    assert code(invite(world, caller)) == "prove"
    answer = own.sign(challenge(world), caller.who.person)
    assert prove(world, caller, credential=answer).status_code == 200
    assert invite(world, caller).status_code == 201
    assert prove(world, caller, credential=answer).status_code == 400


def test_a_forged_request_does_not_learn_of_it(world):
    """Without the page's token the refusal is the same, proved or not."""
    caller = left_open(world, "owner")
    headers = {"cookie": f"levelbook={caller.token}", "origin": "https://elsewhere.example"}
    assert code(world.ask("POST", "/api/invitations", json={}, headers=headers)) == "foreign"


def test_a_new_password_needs_the_old_one_and_no_more(world):
    """Changing it asks for the password by itself, so it is not asked twice."""
    caller = left_open(world, "owner")
    body = {"old": PASSWORD, "new": "a lantern under nine bridges"}
    assert world.ask("POST", "/api/password", caller, json=body).status_code == 200
