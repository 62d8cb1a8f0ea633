"""Whoever has an account is told what changed in the way into it, until they have read it."""

import json
from datetime import UTC, datetime

import sqlalchemy as sa
from test_coming_in import me, sign_in, token_of
from test_passkeys import add, device
from two_firms import PASSWORD, Caller, World

from levelbook.archive.tables import AUDIT
from levelbook.firm import invitations
from levelbook.firm.audit import note
from levelbook.firm.changes import MOST
from levelbook.firm.roles import OWNER, Who

NEW = "a lantern under nine bridges"


def told(world: World, caller: Caller) -> list[dict[str, object]]:
    """Return what a person is told now."""
    return world.ask("GET", "/api/changes", caller).json()["changes"]


def read(world: World, caller: Caller, upto: object):
    """Say that changes were read."""
    return world.ask("POST", "/api/changes/read", caller, json={"upto": upto})


def signed_in(world: World, address: str, password: str = PASSWORD) -> Caller:
    """Sign in as the pages do, and return whoever that is."""
    token = token_of(sign_in(world, address, password))
    found = me(world, f"levelbook={token}").json()
    who = Who(found["firm"]["id"], found["person"]["id"], found["person"]["role"])
    return Caller(who, token, found["csrf"])


def change_password(world: World, caller: Caller, old: str = PASSWORD, new: str = NEW) -> None:
    """Set a new password on the account's page."""
    answer = world.ask("POST", "/api/password", caller, json={"old": old, "new": new})
    assert answer.status_code == 200, answer.text


def test_a_changed_password_is_told_at_the_next_sign_in(world):
    """What, when, by whom and on which device; the session that did it is not told of itself."""
    here = signed_in(world, world.one.email("surveyor"))
    change_password(world, here)
    assert told(world, here) == []
    there = signed_in(world, world.one.email("surveyor"), NEW)
    (change,) = told(world, there)
    assert (change["what"], change["own"], change["by"]) == (
        "password changed", True, "Alder surveyor",
    )  # fmt: skip
    assert change["device"] == "a phone"
    assert str(change["at"]) <= datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def test_it_is_told_until_it_was_read(world):
    """On every device, at every sign-in; then no more, and the list says that it was read."""
    change_password(world, signed_in(world, world.one.email("surveyor")))
    one = signed_in(world, world.one.email("surveyor"), NEW)
    other = signed_in(world, world.one.email("surveyor"), NEW)
    (change,) = told(world, one)
    assert told(world, other) == [change]
    assert read(world, one, change["seq"]).status_code == 200
    assert told(world, one) == told(world, other) == []
    with world.database.look(world.one.id) as connection:
        query = sa.select(AUDIT.c.detail).where(AUDIT.c.action == "changes read")
        (line,) = connection.execute(query).scalars()
    assert json.loads(line) == {"upto": change["seq"]}


def test_what_is_still_to_come_cannot_be_marked_as_read(world):
    """Who has stolen a session cannot keep the next change from being told."""
    caller = signed_in(world, world.one.email("surveyor"))
    assert read(world, caller, 2**53 - 1).status_code == 200
    change_password(world, caller)
    assert len(told(world, signed_in(world, world.one.email("surveyor"), NEW))) == 1
    for wrong in (None, "7", 1.5, True, -1, 2**53):
        assert read(world, caller, wrong).status_code == 400


def test_an_owners_reset_is_told_from_its_beginning(world):
    """That an address was made, by whom, and that it was used; an operator has no name here."""
    person = world.one.people["surveyor"]
    watching = world.caller(world.one, "surveyor")
    answer = world.ask("POST", f"/api/people/{person}/reset", world.caller(world.one, "owner"))
    (change,) = told(world, watching)
    assert (change["what"], change["own"], change["by"], change["device"]) == (
        "reset started", False, "Alder owner", "",
    )  # fmt: skip
    given = {"name": "", "password": NEW}
    world.ask("POST", f"/api/invitations/{answer.json()['token']}", json=given)
    with world.database.use(world.one.id) as connection:
        operator = Who(world.one.id, invitations.OPERATOR, OWNER)
        invitations.start_reset(connection, operator, person, datetime.now(UTC))
    found = told(world, signed_in(world, world.one.email("surveyor"), NEW))
    assert [(c["what"], c["by"]) for c in found] == [
        ("reset started", ""), ("password reset", "Alder surveyor"),
        ("reset started", "Alder owner"),
    ]  # fmt: skip


def test_passkeys_are_told(world):
    """Added and removed, to the person's other devices; an owner is told of their own alone."""
    caller, other = (world.caller(world.one, "surveyor") for _ in range(2))
    key = add(world, caller, device()).json()["passkey"]
    world.ask("DELETE", f"/api/passkeys/{key['id']}", caller)
    assert [c["what"] for c in told(world, other)] == ["passkey removed", "passkey added"]
    assert told(world, caller) == []
    assert told(world, world.caller(world.one, "owner")) == []
    assert told(world, world.caller(world.other, "surveyor")) == []


def test_many_are_told_by_the_newest(world):
    """However many there are, one look shows few, and reading the newest covers all."""
    owner, person = world.caller(world.one, "owner"), world.one.people["surveyor"]
    for _ in range(MOST + 3):
        world.ask("POST", f"/api/people/{person}/reset", owner)
    caller = world.caller(world.one, "surveyor")
    found = told(world, caller)
    assert len(found) == MOST
    assert found == sorted(found, key=lambda c: -c["seq"])
    read(world, caller, found[0]["seq"])
    assert told(world, caller) == []


def test_a_device_is_named_by_its_own_session_alone(world):
    """A sign of the pattern language in a session's beginning finds no other device."""
    caller = signed_in(world, world.one.email("surveyor"))
    with world.database.use(world.one.id) as connection:
        note(connection, caller.who, "password changed", caller.who.person, session="%")
    assert [c["device"] for c in told(world, caller)] == [""]
