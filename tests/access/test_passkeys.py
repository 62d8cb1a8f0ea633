"""Passkeys: used once a challenge, bound to their server, their person and their counter."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from authenticator import Authenticator
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_coming_in import me, sign_in, token_of
from two_firms import ADDRESS

from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.moments import later
from levelbook.archive.tables import ATTEMPTS, PASSKEYS, PEOPLE
from levelbook.firm import limits

HOST = "testserver"


def device(**changed) -> Authenticator:
    """Return a new device."""
    return Authenticator(**({"host": HOST, "origin": ADDRESS} | changed))


def add(world, caller, made: Authenticator, name="my phone"):
    """Make a key on a device and hand it in."""
    options = world.ask("POST", "/api/passkeys/options", caller).json()
    return world.ask(
        "POST", "/api/passkeys", caller, json={"credential": made.make(options), "name": name}
    )


def challenge(world):
    """Return what the server asks of a device that signs in."""
    return world.ask("POST", "/api/sign-in/passkey/options").json()


def hand_in(world, answer):
    """Hand a device's answer in, as nobody."""
    return world.ask("POST", "/api/sign-in/passkey", json={"credential": answer})


@pytest.fixture
def owned(world):
    """Give a world in which the surveyor has a passkey, and the device that has it."""
    made = device()
    caller = world.caller(world.one, "surveyor")
    assert add(world, caller, made).status_code == 201
    return world, made, caller


def test_a_passkey_signs_in(owned):
    """Without e-mail address and password, and the list tells name and last use."""
    world, made, caller = owned
    answer = hand_in(world, made.sign(challenge(world), caller.who.person))
    assert answer.status_code == 200, answer.text
    told = me(world, f"levelbook={token_of(answer)}").json()
    assert told["person"]["id"] == caller.who.person
    listed = world.ask("GET", "/api/passkeys", caller).json()["passkeys"]
    mine = next(key for key in listed if key["name"] == "my phone")
    assert mine["used"] is not None
    assert set(mine) == {"id", "name", "created", "used"}


def test_what_is_asked_of_a_device(owned):
    """It must verify its user, keep the key itself, and not make a second one of its own."""
    world, made, caller = owned
    asked = world.ask("POST", "/api/passkeys/options", caller).json()
    assert asked["rp"]["id"] == HOST
    assert asked["authenticatorSelection"]["userVerification"] == "required"
    assert asked["authenticatorSelection"]["residentKey"] == "required"
    assert made.sign(challenge(world))["id"] in {c["id"] for c in asked["excludeCredentials"]}
    assert challenge(world)["userVerification"] == "required"
    assert challenge(world)["challenge"] != challenge(world)["challenge"]


def test_an_answer_is_good_once(owned):
    """The same answer, sent again, opens nothing, though the key is right."""
    world, made, _ = owned
    answer = made.sign(challenge(world))
    assert hand_in(world, answer).status_code == 200
    assert hand_in(world, answer).status_code == 400


def test_a_challenge_ends_by_itself(owned):
    """After five minutes it is answered in vain."""
    world, made, _ = owned
    asked = challenge(world)
    with world.database.use(EVERY_FIRM) as connection:
        past = later(datetime.now(UTC), -1)
        connection.execute(sa.update(ATTEMPTS).values(until=past))
    assert hand_in(world, made.sign(asked)).status_code == 400


def test_a_challenge_of_ones_own_making_is_none(owned):
    """A device that answers what nobody asked is refused."""
    world, made, _ = owned
    assert hand_in(world, made.sign({"challenge": "A" * 43})).status_code == 400


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("host", "elsewhere.example"),
        ("origin", "https://elsewhere.example"),
        ("origin", "https://testserver"),
        ("verifies", False),
        ("key", None),
        ("id", b"another key that nobody made yet"),
    ],
)
def test_a_wrong_answer_opens_nothing(owned, name, value):
    """From another site, without its user's consent, with another key, or of an unknown key."""
    world, made, _ = owned
    setattr(made, name, device().key if value is None else value)
    answer = hand_in(world, made.sign(challenge(world)))
    assert answer.status_code == 403
    assert answer.json()["error"]["problem"] == "this passkey does not open anything here"
    assert "set-cookie" not in answer.headers


def test_a_copied_key_is_refused(owned):
    """A counter that does not go up tells of a second copy (Web Authentication 2, 6.1.1)."""
    world, made, _ = owned
    copy = device(id=made.id, key=made.key)
    for _ in range(3):
        assert hand_in(world, made.sign(challenge(world))).status_code == 200
    assert hand_in(world, copy.sign(challenge(world))).status_code == 403
    assert hand_in(world, made.sign(challenge(world))).status_code == 200


def test_a_device_without_a_counter_is_taken(world):
    """Many keep none and always tell 0."""
    made = device(counts=False)
    add(world, world.caller(world.one, "owner"), made)
    for _ in range(2):
        assert hand_in(world, made.sign(challenge(world))).status_code == 200


def test_one_persons_challenge_makes_no_key_for_another(world):
    """A key is made for whoever asked for it, and by a challenge of making, not of signing in."""
    mine, theirs = (world.caller(world.one, r) for r in ("owner", "surveyor"))
    options = world.ask("POST", "/api/passkeys/options", mine).json()
    for asked in (options, challenge(world)):
        body = {"credential": device().make(asked), "name": ""}
        assert world.ask("POST", "/api/passkeys", theirs, json=body).status_code == 400


@pytest.mark.parametrize(("name", "value"), [("host", "x.example"), ("verifies", False)])
def test_a_wrong_key_is_not_kept(world, name, value):
    """Neither one for another site nor one that verifies nobody."""
    made = device()
    setattr(made, name, value)
    assert add(world, world.caller(world.one, "owner"), made).status_code == 400


def test_a_key_is_kept_once(owned):
    """The same key is not kept for a second person, of this firm or another."""
    world, made, _ = owned
    for firm in (world.one, world.other):
        assert add(world, world.caller(firm, "owner"), made).status_code in (400, 409)


def test_a_key_is_removed_by_its_person_alone(owned):
    """Not by an owner, nor from another firm; afterwards it opens nothing."""
    world, made, caller = owned
    name = made.sign({"challenge": "x"})["id"]
    for firm, role in ((world.one, "owner"), (world.other, "surveyor")):
        other = world.caller(firm, role)
        assert world.ask("DELETE", f"/api/passkeys/{name}", other).status_code == 404
    assert world.ask("DELETE", f"/api/passkeys/{name}", caller).status_code == 200
    assert hand_in(world, made.sign(challenge(world))).status_code == 403


def test_shut_out_is_shut_out_with_a_passkey_too(owned):
    """The key of somebody who is disabled opens nothing."""
    world, made, caller = owned
    with world.database.use(world.one.id) as connection:
        here = PEOPLE.c.id == caller.who.person
        moment = later(datetime.now(UTC), 0)
        connection.execute(sa.update(PEOPLE).where(here).values(disabled=moment))
    assert hand_in(world, made.sign(challenge(world))).status_code == 403


def test_a_passkey_does_not_wait(owned):
    """While the account waits for somebody's failed passwords, its key opens it."""
    world, made, _ = owned
    for _ in range(limits.FREE):
        sign_in(world, world.one.email("surveyor"), "eight grey herons walking")
    assert sign_in(world, world.one.email("surveyor")).status_code == 429
    assert hand_in(world, made.sign(challenge(world))).status_code == 200


def test_there_is_a_limit_to_keys(world):
    """Nobody fills the database with them."""
    caller = world.caller(world.one, "owner")
    with world.database.use(world.one.id) as connection:
        about = {"firm": world.one.id, "person": caller.who.person, "public_key": "", "created": ""}
        rows = [{"id": f"key{k:05}", **about} for k in range(20)]
        connection.execute(sa.insert(PASSKEYS), rows)
    answer = add(world, caller, device())
    assert "20 passkeys" in answer.json()["error"]["problem"]


_NAMES = st.sampled_from(
    (
        *("id", "rawId", "type", "response", "clientDataJSON", "attestationObject"),
        *("authenticatorData", "signature", "userHandle", "challenge"),
    )
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=20) | st.just("e30"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_NAMES, inner, max_size=4),
    max_leaves=8,
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(JSON)
def test_whatever_is_handed_in_is_refused_in_words(shared_world, answer):
    """No shape of an answer is a fault of the program."""
    world = shared_world
    told = hand_in(world, answer)
    assert told.status_code in (400, 403, 429)
    assert set(told.json()["error"]) == {"code", "place", "problem", "remedy"}


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["clientDataJSON", "attestationObject"]), st.binary(max_size=60), st.data())
def test_damaged_answers_are_refused_in_words(shared_world, part, noise, data):
    """An answer with its bytes put wrong is no fault of the program.

    What a device says of its key is not signed, so that damage there may make another key;
    what the browser says is held to the challenge and the server's own address.
    """
    import base64

    world = shared_world
    caller = world.caller(world.one, "owner")
    answer = device().make(world.ask("POST", "/api/passkeys/options", caller).json())
    whole = answer["response"][part]
    whole = base64.urlsafe_b64decode(whole + "=" * (-len(whole) % 4))
    at = data.draw(st.integers(0, len(whole)))
    cut = whole[:at] + noise
    if cut == whole:
        return
    answer["response"][part] = base64.urlsafe_b64encode(cut).decode().rstrip("=")
    told = world.ask("POST", "/api/passkeys", caller, json={"credential": answer, "name": ""})
    assert told.status_code in ((400,) if part == "clientDataJSON" else (201, 400)), told.text
