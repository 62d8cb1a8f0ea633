"""Signing in and out: what the cookie is, when it ends, and that no other opens anything."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from argon2.exceptions import VerifyMismatchError
from starlette.testclient import TestClient
from two_firms import ADDRESS, PASSWORD, Caller, World, made, quick

from levelbook.app.access import CSRF
from levelbook.app.settings import Settings
from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.moments import later
from levelbook.archive.tables import PEOPLE, SESSIONS
from levelbook.firm import sessions
from levelbook.firm.accounts import Accounts, Place, WrongError
from levelbook.firm.passkeys import Keys
from levelbook.firm.tokens import digest, new_token


def sign_in(world: World, email: str, password: str = PASSWORD, **given):
    """Try to sign in, from the server's own pages."""
    body = {"email": email, "password": password, "device": "a phone"}
    return world.ask("POST", "/api/sign-in", json=body, **given)


def cookies(answer) -> dict[str, str]:
    """Return each cookie that an answer sets, by name, with its attributes."""
    return {c.partition("=")[0]: c.partition("=")[2] for c in answer.headers.get_list("set-cookie")}


def token_of(answer) -> str:
    """Return the session's token that an answer sets."""
    return cookies(answer)["levelbook"].partition(";")[0]


def me(world: World, cookie: str):
    """Ask who one is with a cookie header as it stands."""
    return world.ask("GET", "/api/me", headers={"cookie": cookie})


def test_signing_in_tells_who_one_is(world):
    """With password and e-mail address one gets a session, the firm and the token for changes."""
    answer = sign_in(world, world.one.email("reviewer").upper())
    assert answer.status_code == 200
    told = me(world, f"levelbook={token_of(answer)}").json()
    assert told["person"]["role"] == "reviewer"
    assert told["firm"] == {"id": world.one.id, "name": "Alder Levels"}
    assert told["mode"] == "firm"
    assert len(told["csrf"]) == 43


def test_what_is_kept_is_a_digest(world):
    """Neither the session's token nor the device's is found anywhere in the database."""
    answer = sign_in(world, world.one.email("owner"))
    found = {name: value.partition(";")[0] for name, value in cookies(answer).items()}
    with world.database.use(EVERY_FIRM) as connection:
        ids = connection.execute(sa.select(SESSIONS.c.id)).scalars().all()
    assert digest(found["levelbook"]) in ids
    assert not set(found.values()) & set(ids)


def test_the_cookies_are_out_of_reach_of_scripts_and_other_sites(world):
    """HttpOnly, SameSite, the whole path; and no longer than a session may last."""
    for value in cookies(sign_in(world, world.one.email("owner"))).values():
        kept = value.lower()
        assert "httponly" in kept
        assert "samesite=lax" in kept
        assert "path=/" in kept
        assert "domain" not in kept


def test_over_https_the_cookies_are_bound_to_it(database, tmp_path):
    """Under https they are Secure and bear the prefix that binds them to the host."""
    address = "https://testserver"
    with made(database, tmp_path, Settings(address)) as world:
        client = TestClient(world.app, base_url=address)
        body = {"email": world.one.email("owner"), "password": PASSWORD}
        answer = client.post("/api/sign-in", json=body)
        found = cookies(answer)
        assert set(found) == {"__Host-levelbook", "__Host-levelbook-device"}
        assert all("; secure" in value.lower() for value in found.values())
        assert client.get("/api/me").json()["person"]["role"] == "owner"
        plain = {"cookie": f"levelbook={found['__Host-levelbook'].partition(';')[0]}"}
        client.cookies.clear()
        assert client.get("/api/me", headers=plain).status_code == 401


@pytest.mark.parametrize("wrong", ["password", "email", "both", "disabled", "no password"])
def test_every_refusal_is_the_same(world, wrong):
    """Nothing in the answer tells whether there is such an account."""
    email, password = world.one.email("owner"), PASSWORD
    if wrong in ("password", "both"):
        password = "eight grey herons walking"
    if wrong in ("email", "both"):
        email = "nobody@nowhere.example"
    changed = {
        "disabled": {"disabled": later(datetime.now(UTC), 0)},
        "no password": {"password": None},
    }
    if wrong in changed:
        with world.database.use(world.one.id) as connection:
            connection.execute(
                sa.update(PEOPLE).where(PEOPLE.c.email == email).values(changed[wrong])
            )
    answer = sign_in(world, email, password)
    assert answer.status_code == 401
    assert answer.json()["error"] == {
        "code": "refused",
        "place": "sign-in",
        "problem": "the e-mail address or the password is not right",
        "remedy": "try again, or ask an owner of your firm for a reset",
    }
    assert cookies(answer) == {}


@pytest.mark.parametrize("email", [None, "nobody@nowhere.example"])
def test_one_hash_is_checked_whoever_asks(world, email):
    """For an account that does not exist, one that nothing opens is checked in its place."""
    passwords, checked = quick(), []
    verify = passwords._hasher.verify

    class Watched:
        def verify(self, kept, password):
            checked.append(kept)
            return verify(kept, password)

    passwords._hasher = Watched()
    accounts = Accounts(world.database, passwords, Keys(ADDRESS))
    with pytest.raises(WrongError):
        accounts.sign_in(
            email or world.one.email("owner"), "x" * 12, Place("192.0.2.1"), datetime.now(UTC)
        )
    assert len(checked) == 1
    assert (checked[0] == passwords.dummy) is (email is not None)
    assert not verify_quietly(verify, passwords.dummy, "x" * 12)


def verify_quietly(verify, kept: str, password: str) -> bool:
    """Tell whether a password opens a hash."""
    try:
        return bool(verify(kept, password))
    except VerifyMismatchError:
        return False


def test_a_session_planted_before_is_worth_nothing(world):
    """Signing in gives a new token whatever cookie the browser had, and ends the one before."""
    planted = new_token()
    first = sign_in(world, world.one.email("owner"), headers={"cookie": f"levelbook={planted}"})
    assert token_of(first) != planted
    assert me(world, f"levelbook={planted}").status_code == 401
    before = Caller(world.caller(world.one, "owner").who, token_of(first), "")
    csrf = me(world, f"levelbook={before.token}").json()["csrf"]
    headers = {"cookie": f"levelbook={before.token}", CSRF: csrf, "origin": ADDRESS}
    second = sign_in(world, world.one.email("owner"), headers=headers)
    assert token_of(second) not in (planted, before.token)
    assert me(world, f"levelbook={before.token}").status_code == 401
    assert me(world, f"levelbook={token_of(second)}").status_code == 200


def test_signing_out_ends_the_session_for_good(world):
    """The cookie of a session that was signed out opens nothing, and the browser drops it."""
    caller = world.caller(world.one, "surveyor")
    answer = world.ask("POST", "/api/sign-out", caller)
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert me(world, f"levelbook={caller.token}").status_code == 401


@pytest.mark.parametrize(
    "forged",
    [
        "",
        "levelbook=",
        "levelbook=*",
        "levelbook=' OR '1'='1",
        "levelbook=" + "A" * 43,
        "levelbook=" + "A" * 5000,
        "levelbook=%00",
        "levelbook=é",
        "Levelbook={token}",
        "levelbook-device={token}",
        "levelbook={digest}",
        "levelbook={token}x",
        "levelbook={token}; levelbook={token}",
        "levelbook=wrong; levelbook={token}",
        "__Host-levelbook={token}",
    ],
)
def test_no_other_cookie_opens_anything(shared_world, forged):
    """Neither invented, cut, doubled nor renamed cookies are taken, nor the digest that is kept."""
    caller = shared_world.caller(shared_world.one, "owner")
    cookie = forged.format(token=caller.token, digest=digest(caller.token))
    assert me(shared_world, cookie.encode()).status_code == 401
    assert me(shared_world, f"levelbook={caller.token}").status_code == 200


@pytest.mark.parametrize(
    ("column", "seconds", "open_"),
    [
        ("seen", -sessions.IDLE + 60, True),
        ("seen", -sessions.IDLE - 1, False),
        ("expires", 60, True),
        ("expires", -1, False),
        ("ended", -1, False),
    ],
)
def test_a_session_ends_by_itself(shared_world, column, seconds, open_):
    """After twelve hours without use, at its last day, and when it was ended."""
    world = shared_world
    caller = world.caller(world.one, "surveyor")
    moved = {column: later(datetime.now(UTC), seconds)}
    with world.database.use(world.one.id) as connection:
        here = SESSIONS.c.id == caller.who.session
        connection.execute(sa.update(SESSIONS).where(here).values(**moved))
    assert (me(world, f"levelbook={caller.token}").status_code == 200) is open_


def test_use_keeps_a_session_alive(world):
    """A use is written down when the last one is a while ago, so that it counts."""
    caller = world.caller(world.one, "surveyor")
    query = sa.select(SESSIONS.c.seen).where(SESSIONS.c.id == caller.who.session)
    long_ago = later(datetime.now(UTC), -sessions.IDLE + 60)
    with world.database.use(world.one.id) as connection:
        here = SESSIONS.c.id == caller.who.session
        connection.execute(sa.update(SESSIONS).where(here).values(seen=long_ago))
    assert me(world, f"levelbook={caller.token}").status_code == 200
    with world.database.look(world.one.id) as connection:
        assert connection.execute(query).scalar_one() > later(datetime.now(UTC), -60)


def test_devices_are_listed_and_signed_out(world):
    """One sees one's own devices, signs one out, then all but this."""
    mine = [world.caller(world.one, "surveyor") for _ in range(3)]
    found = world.ask("GET", "/api/sessions", mine[0]).json()["sessions"]
    assert [s["id"] for s in found if s["current"]] == [mine[0].who.session]
    assert {c.who.session for c in mine} == {s["id"] for s in found}
    gone = world.ask("DELETE", f"/api/sessions/{mine[1].who.session}", mine[0])
    assert gone.status_code == 200
    assert world.ask("GET", "/api/me", mine[1]).status_code == 401
    assert world.ask("DELETE", "/api/sessions/all", mine[0]).status_code == 200
    assert world.ask("GET", "/api/me", mine[2]).status_code == 401
    assert world.ask("GET", "/api/me", mine[0]).status_code == 200
    last = world.ask("GET", "/api/sessions", mine[0]).json()["sessions"]
    assert [s["id"] for s in last] == [mine[0].who.session]


def test_only_an_owner_signs_others_out(world):
    """A colleague's device is not there for a reviewer; an owner lists it and signs it out."""
    theirs = world.caller(world.one, "surveyor")
    reviewer, owner = (world.caller(world.one, r) for r in ("reviewer", "owner"))
    path = f"/api/sessions/{theirs.who.session}"
    query = {"person": theirs.who.person}
    assert world.ask("DELETE", path, reviewer).status_code == 404
    assert world.ask("GET", "/api/sessions", reviewer, params=query).status_code == 403
    assert world.ask("DELETE", "/api/sessions/all", reviewer, params=query).status_code == 404
    assert world.ask("GET", "/api/me", theirs).status_code == 200
    listed = world.ask("GET", "/api/sessions", owner, params=query).json()["sessions"]
    assert theirs.who.session in {s["id"] for s in listed}
    assert world.ask("DELETE", "/api/sessions/all", owner, params=query).status_code == 200
    assert world.ask("GET", "/api/me", theirs).status_code == 401
    foreign = world.caller(world.other, "owner")
    assert world.ask("GET", "/api/sessions", foreign, params=query).status_code == 404


def test_a_new_password_ends_every_other_session(world):
    """Who changes the password stays in, everything else of theirs is signed out."""
    here, there = (world.caller(world.one, "reviewer") for _ in range(2))
    new = "a lantern under nine bridges"
    wrong = world.ask("POST", "/api/password", here, json={"old": "not the password", "new": new})
    assert wrong.status_code == 403
    easy = world.ask("POST", "/api/password", here, json={"old": PASSWORD, "new": "a" * 12})
    assert easy.status_code == 400
    good = world.ask("POST", "/api/password", here, json={"old": PASSWORD, "new": new})
    assert good.status_code == 200
    assert world.ask("GET", "/api/me", here).status_code == 200
    assert world.ask("GET", "/api/me", there).status_code == 401
    assert sign_in(world, world.one.email("reviewer")).status_code == 401
    assert sign_in(world, world.one.email("reviewer"), new).status_code == 200
