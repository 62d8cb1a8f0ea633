"""Invitations, resets and roles: who gets in, once, and who stays an owner."""

import threading
from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from test_coming_in import sign_in
from two_firms import PASSWORD, quick

from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.moments import later
from levelbook.archive.tables import INVITATIONS, PEOPLE
from levelbook.errors import ConflictError, DeniedError, MissingError
from levelbook.firm import invitations, people
from levelbook.firm.roles import Who
from levelbook.firm.tokens import digest

NEW = {"email": "cleo@cedar.example", "name": "Cleo", "role": "surveyor"}
GIVEN = {"name": "Cleo C.", "password": "a lantern under nine bridges"}


def invite(world, **changed):
    """Invite somebody as an owner of the first firm and return the token."""
    answer = world.ask(
        "POST", "/api/invitations", world.caller(world.one, "owner"), json=NEW | changed
    )
    assert answer.status_code == 201, answer.text
    return answer.json()["token"]


def accept(world, token, **changed):
    """Open an invitation's address and fill it in, as nobody."""
    return world.ask("POST", f"/api/invitations/{token}", json=GIVEN | changed)


def test_an_invitation_lets_one_person_in_once(world):
    """Who opens it sees what it is for, sets a password, signs in; a second time it is gone."""
    token = invite(world)
    told = world.ask("GET", f"/api/invitations/{token}").json()["invitation"]
    assert (told["email"], told["role"], told["purpose"]) == (NEW["email"], "surveyor", "join")
    assert told["firm"] == {"name": "Alder Levels"}
    assert accept(world, token).status_code == 201
    assert sign_in(world, NEW["email"], GIVEN["password"]).status_code == 200
    again = accept(world, token, password="another lantern, ten bridges")
    assert again.status_code == 404
    assert world.ask("GET", f"/api/invitations/{token}").status_code == 404
    assert sign_in(world, NEW["email"], "another lantern, ten bridges").status_code == 401


def test_two_at_once_make_one_person(world):
    """Of two who open the same invitation at the same moment, one is told that it is gone."""
    token, told, start = invite(world), [], threading.Barrier(4)

    def try_it():
        start.wait()
        try:
            invitations.accept(
                world.database, quick(), token, ("C", GIVEN["password"]), datetime.now(UTC)
            )
            told.append("in")
        except (MissingError, ConflictError):
            told.append("gone")

    threads = [threading.Thread(target=try_it) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["gone", "gone", "gone", "in"]


def test_the_token_is_not_kept(world):
    """The database holds its SHA-256 alone, and the owner's list does not hold it either."""
    token = invite(world)
    with world.database.use(EVERY_FIRM) as connection:
        ids = connection.execute(sa.select(INVITATIONS.c.id)).scalars().all()
    assert digest(token) in ids
    assert token not in ids
    listed = world.ask("GET", "/api/people", world.caller(world.one, "owner"))
    assert NEW["email"] in listed.text
    assert token not in listed.text
    assert digest(token) not in listed.text


@pytest.mark.parametrize(
    "token", ["x", "A" * 43, "A" * 5000, "' OR 1=1 --", "%2e%2e%2fpeople", "{{7*7}}", "\u202e"]
)
def test_a_guessed_token_opens_nothing(shared_world, token):
    """Whatever is tried in its place is told as one that was never written."""
    for method, given in (("GET", {}), ("POST", {"json": GIVEN})):
        answer = shared_world.ask(method, f"/api/invitations/{token}", **given)
        assert answer.status_code in (404, 405)
        assert answer.headers["content-type"].startswith("application/json")


def test_an_invitation_ends_by_itself(world):
    """After its time it is gone, and no password is set by it."""
    token = invite(world)
    with world.database.use(world.one.id) as connection:
        ended = {"expires": later(datetime.now(UTC), -1)}
        connection.execute(sa.update(INVITATIONS).values(**ended))
    assert accept(world, token).status_code == 404
    assert sign_in(world, NEW["email"], GIVEN["password"]).status_code == 401


def test_a_newer_invitation_ends_the_older(world):
    """Sent again, only the last address works."""
    older, newer = invite(world), invite(world, role="reviewer")
    assert accept(world, older).status_code == 404
    assert accept(world, newer).status_code == 201


def test_an_easy_password_leaves_the_invitation_open(world):
    """A password that is refused does not use the invitation up."""
    token = invite(world)
    assert accept(world, token, password="too short").status_code == 400
    assert accept(world, token, password="i am cleo of cedar").status_code == 400
    assert accept(world, token).status_code == 201


def test_who_is_here_is_not_invited_again(world):
    """An address of the firm's own people is refused; one of another firm only at its use."""
    owner = world.caller(world.one, "owner")
    own = NEW | {"email": world.one.email("reviewer")}
    assert world.ask("POST", "/api/invitations", owner, json=own).status_code == 409
    token = invite(world, email=world.other.email("reviewer"))
    assert accept(world, token).status_code == 409
    assert sign_in(world, world.other.email("reviewer")).status_code == 200


@pytest.mark.parametrize("role", ["admin", "anyone", "", "OWNER", 7, None])
def test_no_other_role_can_be_given(world, role):
    """Neither by invitation nor by a change."""
    owner = world.caller(world.one, "owner")
    asked = world.ask("POST", "/api/invitations", owner, json=NEW | {"role": role})
    assert asked.status_code == 400
    if role:
        path = f"/api/people/{world.one.people['surveyor']}"
        assert world.ask("POST", path, owner, json={"role": role}).status_code == 400


def test_a_reset_ends_all_sessions_and_sets_a_password_once(world):
    """The person sets a new password by the address that an owner hands over."""
    owner, theirs = world.caller(world.one, "owner"), world.caller(world.one, "surveyor")
    path = f"/api/people/{theirs.who.person}/reset"
    token = world.ask("POST", path, owner).json()["token"]
    assert world.ask("GET", "/api/me", theirs).status_code == 200
    told = world.ask("GET", f"/api/invitations/{token}").json()["invitation"]
    assert (told["purpose"], told["email"]) == ("reset", world.one.email("surveyor"))
    assert accept(world, token).status_code == 201
    assert world.ask("GET", "/api/me", theirs).status_code == 401
    assert sign_in(world, world.one.email("surveyor")).status_code == 401
    assert sign_in(world, world.one.email("surveyor"), GIVEN["password"]).status_code == 200
    assert accept(world, token).status_code == 404


def test_shut_out_is_shut_out_at_once(world):
    """Every session ends, password and reset open nothing; letting in again undoes it."""
    owner, theirs = world.caller(world.one, "owner"), world.caller(world.one, "surveyor")
    path = f"/api/people/{theirs.who.person}"
    token = world.ask("POST", f"{path}/reset", owner).json()["token"]
    assert world.ask("POST", path, owner, json={"disabled": True}).status_code == 200
    assert world.ask("GET", "/api/me", theirs).status_code == 401
    assert sign_in(world, world.one.email("surveyor")).status_code == 401
    assert accept(world, token).status_code == 404
    assert world.ask("POST", f"{path}/reset", owner).status_code == 409
    assert world.ask("POST", path, owner, json={"disabled": False}).status_code == 200
    assert sign_in(world, world.one.email("surveyor")).status_code == 200


def test_a_role_counts_from_the_next_request_on(world):
    """Who is made a reviewer may release with the session they have, and loses it as soon."""
    owner, theirs = world.caller(world.one, "owner"), world.caller(world.one, "surveyor")
    path = f"/api/people/{theirs.who.person}"
    for role, status in (("owner", 200), ("surveyor", 403)):
        assert world.ask("POST", path, owner, json={"role": role}).status_code == 200
        assert world.ask("GET", "/api/audit", theirs).status_code == status


def test_the_last_owner_stays(world):
    """The only owner is neither shut out nor made less; beside another one they may be."""
    owner = world.caller(world.one, "owner")
    path = f"/api/people/{owner.who.person}"
    assert world.ask("POST", path, owner, json={"disabled": True}).status_code == 409
    assert world.ask("POST", path, owner, json={"role": "reviewer"}).status_code == 409
    second = f"/api/people/{world.one.people['reviewer']}"
    assert world.ask("POST", second, owner, json={"role": "owner"}).status_code == 200
    assert world.ask("POST", path, owner, json={"role": "reviewer"}).status_code == 200
    assert world.ask("GET", "/api/audit", owner).status_code == 403


def test_two_owners_cannot_make_each_other_less(world):
    """Of two owners who shut each other out at the same moment, one is left."""
    one, two = world.one.people["owner"], world.one.people["reviewer"]
    with world.database.use(world.one.id) as connection:
        connection.execute(sa.update(PEOPLE).where(PEOPLE.c.id == two).values(role="owner"))
    start, told = threading.Barrier(2), []

    def shut_out(by, whom):
        start.wait()
        try:
            with world.database.use(world.one.id) as connection:
                who = Who(world.one.id, by, "owner")
                people.set_disabled(connection, who, whom, datetime.now(UTC), disabled=True)
            told.append("out")
        except (ConflictError, DeniedError):
            told.append("kept")

    threads = [threading.Thread(target=shut_out, args=pair) for pair in ((one, two), (two, one))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["kept", "out"]


def test_a_former_owner_leaves_no_way_in_behind(world):
    """The open invitations of somebody who is owner no more, or shut out, lead nowhere."""
    owner = world.caller(world.one, "owner")
    second = f"/api/people/{world.one.people['reviewer']}"
    world.ask("POST", second, owner, json={"role": "owner"})
    token = invite(world)
    former = world.caller(world.one, "reviewer")
    path = f"/api/people/{owner.who.person}"
    assert world.ask("POST", path, former, json={"role": "surveyor"}).status_code == 200
    assert accept(world, token).status_code == 404


def test_people_see_names_and_owners_see_addresses(shared_world):
    """E-mail addresses and invitations are for owners."""
    world = shared_world
    for role, names in (("surveyor", {"id", "name", "role"}), ("owner", None)):
        told = world.ask("GET", "/api/people", world.caller(world.one, role)).json()
        assert len(told["people"]) == 3
        for person in told["people"]:
            assert set(person) == (names or {"id", "name", "role", "email", "created", "disabled"})
        assert bool(told["invitations"]) is (role == "owner")


def test_a_new_firm_waits_for_its_owner(database):
    """A firm is made with one invitation, and its first owner comes in by it."""
    now = datetime.now(UTC)
    firm, token = invitations.new_firm(database, "Cedar Levels", "cleo@cedar.example", now)
    email = invitations.accept(database, quick(), token, ("Cleo", PASSWORD), now)
    with database.look(firm) as connection:
        (person,) = people.listed(connection, firm)
    assert (email, person.role, person.name) == ("cleo@cedar.example", "owner", "Cleo")
    assert people.firms(database)[-1][1] == "Cedar Levels"
