"""Texts and addresses meant to be run, followed or taken for something else: they stay data."""

import hashlib
import json
from urllib.parse import quote

import pytest
import sqlalchemy as sa
from test_coming_in import sign_in
from two_firms import ADDRESS, PASSWORD, World, made

from levelbook.app.settings import Settings
from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.tables import PEOPLE
from levelbook.firm import limits

TEXTS = (
    "' OR '1'='1",
    "'; DROP TABLE people; --",
    '" UNION SELECT password FROM people --',
    "%' OR 1=1 /*",
    "\\'; SELECT pg_sleep(9); --",
    "{{7*7}}",
    "${7*7}",
    "#{7*7}",
    "<%= 7*7 %>",
    "{% debug %}",
    "%(name)s %s %n",
    "{0.__class__}",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "javascript:alert(1)",
    "</title><svg onload=alert(1)>",
    "=HYPERLINK(1)",
    "../../etc/passwd",
    "$(id)",
    "a`id`",
    "٣ ½ ﷽",
)
REFUSED = ("a\r\nSet-Cookie: x=1", "a\x00b", "a\nb", "\u202eabc", "\x1b[31m", "a\u2066b", "\x7f")


def send(world, method, path, caller, body: str):
    """Send a JSON body as it stands."""
    headers = {"content-type": "application/json"}
    return world.ask(method, path, caller, headers=headers, content=body.encode("utf-8"))


def plain(answer) -> None:
    """Hold an answer to what every answer to hostile text must be."""
    assert answer.status_code < 500, answer.text
    assert answer.headers["content-type"].startswith("application/json")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert "x" not in {c.partition("=")[0] for c in answer.headers.get_list("set-cookie")}
    assert "location" not in answer.headers


@pytest.mark.parametrize("text", TEXTS)
def test_a_name_comes_back_as_it_was_written(shared_world: World, text):
    """Stored and told again as JSON, to the letter; nothing of it is worked out or cut."""
    world = shared_world
    owner = world.caller(world.one, "owner")
    body = {"email": "x@cedar.example", "name": text, "role": "surveyor"}
    answer = world.ask("POST", "/api/invitations", owner, json=body)
    plain(answer)
    token = answer.json()["token"]
    told = world.ask("GET", f"/api/invitations/{token}")
    plain(told)
    assert told.json()["invitation"]["name"] == text
    listed = world.ask("GET", "/api/people", owner)
    plain(listed)
    assert text in [i["name"] for i in listed.json()["invitations"]]


@pytest.mark.parametrize("text", [*TEXTS, *REFUSED])
def test_no_text_field_runs_anything(shared_world: World, text):
    """In every field of every address of accounts: an answer in JSON, and the people stay."""
    world = shared_world
    owner = world.caller(world.one, "owner")
    person, token = world.one.people["surveyor"], world.one.ids["token"]
    asked = (
        ("POST", "/api/sign-in", None, {"email": text, "password": text, "device": text}),
        ("POST", "/api/invitations", owner, {"email": text, "name": text, "role": text}),
        (
            "POST",
            f"/api/invitations/{token}",
            None,
            {"name": text, "password": ""},
        ),
        ("POST", f"/api/people/{person}", owner, {"role": text}),
        ("POST", "/api/passkeys", owner, {"name": text, "credential": {"id": text}}),
        ("POST", "/api/sign-in/passkey", None, {"device": text, "credential": {"id": text}}),
        ("POST", "/api/password", owner, {"old": text, "new": text}),
    )
    for method, path, caller, body in asked:
        plain(world.ask(method, path, caller, json=body))
    for path, names in (("/api/audit", ("after", "limit")), ("/api/sessions", ("person",))):
        for name in names:
            plain(world.ask("GET", path, owner, params={name: text}))
    for path in ("/api/people/", "/api/sessions/", "/api/passkeys/"):
        method = "POST" if path == "/api/people/" else "DELETE"
        plain(world.ask(method, path + quote(text, safe=""), owner, json={}))
    with world.database.look(EVERY_FIRM) as connection:
        number = sa.select(sa.func.count()).select_from(PEOPLE)
        assert connection.execute(number).scalar_one() == 6


@pytest.mark.parametrize("text", REFUSED)
def test_control_characters_are_refused(shared_world: World, text):
    """No line of text holds what could end a header or a line, or turn the writing round."""
    owner = shared_world.caller(shared_world.one, "owner")
    body = {"email": "y@cedar.example", "name": f"A{text}B", "role": "surveyor"}
    answer = shared_world.ask("POST", "/api/invitations", owner, json=body)
    assert answer.status_code == 400
    assert answer.json()["error"]["place"] == "name"


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        "null",
        "7",
        "{",
        '{"email": 7, "password": []}',
        '{"email": null, "password": null}',
        '{"email": {"$ne": ""}, "password": {"$ne": ""}}',
        '{"email": "\\ud800@x.example", "password": "\\udfff"}',
        '{"email": "a@x.example", "password": "\\ud800aaaaaaaaaaaa"}',
        '{"email": "a@x.example", "password": "' + "x" * 5000 + '"}',
        '{"email": "a@x.example", "password": NaN}',
        "[" * 20_000,
    ],
)
def test_no_body_is_a_fault_of_the_program(shared_world: World, body):
    """Whatever arrives in place of an e-mail address and a password is refused in words."""
    world = shared_world
    for path in ("/api/sign-in", f"/api/invitations/{world.one.ids['token']}"):
        answer = send(world, "POST", path, None, body)
        plain(answer)
        assert 400 <= answer.status_code < 500


def test_a_form_of_another_site_is_no_json(shared_world):
    """What a plain HTML form can send is not taken for JSON."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        body = json.dumps({"email": shared_world.one.email("owner"), "password": PASSWORD})
        answer = shared_world.ask(
            "POST", "/api/sign-in", headers={"content-type": kind}, content=body.encode()
        )
        assert answer.status_code == 415


@pytest.mark.parametrize(
    "path",
    [
        "//evil.example",
        "//evil.example/",
        "/\\evil.example",
        "/%2f%2fevil.example/..",
        "/%5cevil.example",
        "/https://evil.example",
        "/?next=https://evil.example",
        "/sign-in?return=//evil.example",
        "/api/me/",
        "/api/me//",
        "/api//me",
        "/r//evil.example",
        "/%0d%0aLocation:%20https://evil.example",
        "/api/%0d%0aSet-Cookie:x=1",
    ],
)
def test_nothing_leads_away(shared_world: World, path):
    """No address redirects anywhere, nor puts what it holds into a header."""
    for caller in (None, shared_world.caller(shared_world.one, "owner")):
        answer = shared_world.ask("GET", f"http://testserver{path}", caller)
        assert not 300 <= answer.status_code < 400
        assert "location" not in answer.headers
        assert "evil" not in " ".join(f"{k}: {v}" for k, v in answer.headers.items())
        assert "x" not in answer.cookies


def test_the_host_that_a_request_names_is_never_told_again(shared_world):
    """No answer builds an address from the Host header."""
    world = shared_world
    headers = {"host": "evil.example", "x-forwarded-host": "evil.example"}
    caller = world.caller(world.one, "owner")
    for path in ("/", "/api/me", "/api/people", "/api/nothing"):
        answer = world.ask("GET", path, caller, headers=headers)
        assert "evil.example" not in answer.text + str(answer.headers)
    refused = world.ask("POST", "/api/sign-out", caller, headers=headers)
    assert refused.status_code == 403


def guess(world, forwarded: str):
    """Fail to sign in, as if through a proxy."""
    name = hashlib.sha256(forwarded.encode()).hexdigest()[:16]
    body = {"email": f"{name}@nowhere.example", "password": "x" * 12}
    headers = {"x-forwarded-for": forwarded, "forwarded": f"for={forwarded}"}
    return world.ask("POST", "/api/sign-in", json=body, headers=headers)


def test_nobody_chooses_their_own_address(world):
    """Without a proxy, what a request says of its address is not looked at."""
    for k in range(limits.PER_ADDRESS):
        assert guess(world, f"192.0.2.{k}").status_code == 401
    assert guess(world, "203.0.113.200").status_code == 429


def test_behind_a_proxy_the_last_address_counts(database, tmp_path):
    """The proxy's own entry is taken; what a client put before it changes nothing."""
    settings = Settings("https://testserver", behind_proxy=True)
    with made(database, tmp_path, settings) as world:
        for k in range(limits.PER_ADDRESS):
            assert guess(world, f"192.0.2.{k}, 198.51.100.7").status_code == 401
        assert guess(world, "203.0.113.200, 198.51.100.7").status_code == 429
        assert guess(world, "203.0.113.200, 198.51.100.8").status_code == 401
        answer = sign_in(
            world,
            world.one.email("owner"),
            headers={"x-forwarded-for": "198.51.100.9", "origin": "https://testserver"},
        )
        assert answer.status_code == 200
        assert "secure" in answer.headers["set-cookie"].lower()
        headers = {"origin": ADDRESS}
        assert sign_in(world, world.one.email("owner"), headers=headers).status_code == 403
