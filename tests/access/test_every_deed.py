"""Every way to change something, done once: the audit list tells of it, or it is told why not."""

import hashlib
import json
from collections.abc import Iterator

import pytest
import two_firms
from authenticator import Authenticator
from test_coming_in import sign_in
from two_firms import ADDRESS, BOOK, PASSWORD, World, picture

from levelbook.app.access import RULES
from levelbook.archive.database import Database
from levelbook.book.model import Book
from levelbook.findings import assess
from levelbook.firm import mail, releases
from levelbook.firm.files import NAMES, Made, Told

WAYS = {(method, rule.path) for rule in RULES for method in rule.methods if rule.csrf}
KEPT = "what is written is only ever added, and carries its author and device"
NOTHING = "nothing is changed by it"
NO_LINE = {
    ("POST", "/api/visits/{visit}/sync"): KEPT,
    ("POST", "/api/import"): KEPT,
    ("POST", "/api/import/preview"): NOTHING,
    ("POST", "/api/import/take"): "it keeps photographs alone",
    ("PUT", "/api/photos/{sha256}"): "a photograph is kept by its hash and never replaced",
    ("POST", "/api/visits/{visit}/report"): NOTHING,
    ("POST", "/api/sign-in/passkey/options"): NOTHING,
    ("POST", "/api/passkeys/options"): NOTHING,
}
"""What leaves no line, and why none is needed."""
FRESH = "a lantern under nine bridges"


@pytest.fixture
def office(sqlite_url: str, tmp_path, monkeypatch) -> Iterator[World]:
    """Give a server whose releases are made quickly, and whose mail goes nowhere."""

    def quick_files(book: Book, told: Told, *_: object) -> Made:
        about = {"label": book.property.label, "firm": told.firm}
        files = dict.fromkeys(NAMES, told.name.encode()) | {"page.json": json.dumps(about).encode()}
        return Made(files, assess(book))

    database = Database(sqlite_url)
    monkeypatch.setattr(releases, "make_files", quick_files)
    monkeypatch.setattr(mail, "send", lambda *_: None)
    smtp = mail.Smtp("mail.example", 25, "office@cedar.example")
    monkeypatch.setattr(mail, "read_settings", lambda _: smtp)
    with two_firms.made(database, tmp_path) as world:
        yield world
    database.close()


class Deeds:
    """Does things as somebody, and gathers what the list tells of each."""

    def __init__(self, world: World) -> None:
        self.world, self.told = world, {}
        self.owner = world.caller(world.one, "owner")

    def lines(self) -> list[dict]:
        """Return the newest lines of the firm's list."""
        asked = self.world.ask("GET", "/api/audit?limit=500", self.owner)
        found: list[dict] = asked.json()["entries"]
        return found

    def do(self, way: str, caller=None, ids: tuple[str, ...] = (), **given) -> dict:
        """Do one thing, which must go well, and return its answer."""
        method, path = way.split()
        before = len(self.lines())
        filled = path
        for part, value in zip([p for p in path.split("/") if "{" in p], ids, strict=True):
            filled = filled.replace(part, value)
        answer = self.world.ask(method, filled, caller, **given)
        assert answer.status_code < 300, (way, answer.text)
        found = self.lines()
        self.told[method, path] = {line["action"] for line in found[: len(found) - before]}
        told: dict = answer.json()
        return told


def coming_in(deeds: Deeds) -> None:
    """Come in, look after one's own account, and leave."""
    world, key = deeds.world, Authenticator(host="testserver", origin=ADDRESS)
    surveyor = world.caller(world.one, "surveyor")
    given = {"email": world.one.email("reviewer"), "password": PASSWORD}
    deeds.do("POST /api/sign-in", json=given)
    options = deeds.do("POST /api/passkeys/options", surveyor)
    made = {"credential": key.make(options), "name": "phone"}
    name = deeds.do("POST /api/passkeys", surveyor, json=made)["passkey"]["id"]
    asked = deeds.do("POST /api/sign-in/passkey/options")
    answer = key.sign(asked, surveyor.who.person)
    deeds.do("POST /api/sign-in/passkey", json={"credential": answer})
    deeds.do("DELETE /api/passkeys/{id}", surveyor, (name,))
    deeds.do("POST /api/prove", surveyor, json={"password": PASSWORD})
    deeds.do("POST /api/password", surveyor, json={"old": PASSWORD, "new": FRESH})
    again = world.caller(world.one, "surveyor")
    newest = deeds.lines()[0]["seq"]
    deeds.do("POST /api/changes/read", again, json={"upto": newest})
    deeds.do("DELETE /api/sessions/{id}", surveyor, (again.who.session,))
    deeds.do("POST /api/sign-out", surveyor)


def people(deeds: Deeds) -> None:
    """Invite somebody, change them, start a reset."""
    owner, path = deeds.owner, "POST /api/people/{id}"
    whom = {"email": "cleo@cedar.example", "name": "Cleo", "role": "surveyor"}
    token = deeds.do("POST /api/invitations", owner, json=whom)["token"]
    deeds.do("POST /api/invitations/{token}", ids=(token,), json={"password": FRESH})
    person = deeds.world.one.people["reviewer"]
    deeds.do("POST /api/people/{id}/reset", owner, (person,))
    deeds.do(path, owner, (person,), json={"role": "surveyor", "disabled": True})


def visits(deeds: Deeds) -> None:
    """Take a house in, review and release it, hand it out."""
    owner, data = deeds.owner, picture("green")
    visit = deeds.do("POST /api/import", owner, content=BOOK.read_bytes())["visit"]
    deeds.do("POST /api/visits/{visit}/sync", owner, (visit,), json={"since": 0, "entries": []})
    for what in ("preview", "take"):
        rows = b"station,x,y,reading\n1,0,0,0.5\n"
        head = json.dumps({"name": "a.csv", "sizes": {"file": len(rows)}}).encode()
        deeds.do(f"POST /api/import/{what}", owner, content=head + b"\n" + rows)
    sha256 = hashlib.sha256(data).hexdigest()
    deeds.do("PUT /api/photos/{sha256}", owner, (sha256,), content=data)
    deeds.do("POST /api/visits/{visit}/report", owner, (visit,))
    deeds.do("POST /api/visits/{visit}/state", owner, (visit,), json={"state": "for review"})
    made = deeds.do("POST /api/visits/{visit}/release", owner, (visit,), json={})["release"]
    link = deeds.do("POST /api/releases/{id}/links", owner, (made["id"],), json={})
    sent = {"to": "buyer@birch.example", "address": link["address"]}
    for evil in ("https://evil.example/r/", f"{ADDRESS}.evil.example/r/", f"{ADDRESS}/x/r/"):
        secret = link["address"].rpartition("/")[2]
        path = f"/api/links/{link['id']}/mail"
        refused = deeds.world.ask("POST", path, owner, json=sent | {"address": evil + secret})
        assert refused.status_code == 400
    assert deeds.do("POST /api/links/{id}/mail", owner, (link["id"],), json=sent)["sent"] is True
    deeds.do("DELETE /api/links/{id}", owner, (link["id"],))


def instruments(deeds: Deeds) -> None:
    """Add an instrument, change it, check it."""
    owner = deeds.owner
    one = deeds.do("POST /api/instruments", owner, json={"name": "level", "check_days": 90})["id"]
    deeds.do("POST /api/instruments/{id}", owner, (one,), json={"check_days": 30})
    check = {"date": "2026-01-05", "deviation": 0.1, "unit": "in"}
    deeds.do("POST /api/instruments/{id}/checks", owner, (one,), json=check)


LINES = {
    ("POST", "/api/sign-in"): {"signed in"},
    ("POST", "/api/sign-in/passkey"): {"signed in"},
    ("POST", "/api/sign-out"): {"signed out"},
    ("DELETE", "/api/sessions/{id}"): {"signed out"},
    ("POST", "/api/passkeys"): {"passkey added"},
    ("DELETE", "/api/passkeys/{id}"): {"passkey removed"},
    ("POST", "/api/password"): {"password changed"},
    ("POST", "/api/prove"): {"proved again"},
    ("POST", "/api/changes/read"): {"changes read"},
    ("POST", "/api/invitations"): {"invited"},
    ("POST", "/api/invitations/{token}"): {"joined"},
    ("POST", "/api/people/{id}/reset"): {"reset started"},
    ("POST", "/api/people/{id}"): {"role changed", "shut out"},
    ("POST", "/api/visits/{visit}/state"): {"visit for review"},
    ("POST", "/api/visits/{visit}/release"): {"visit released"},
    ("POST", "/api/releases/{id}/links"): {"link made"},
    ("POST", "/api/links/{id}/mail"): {"link mailed"},
    ("DELETE", "/api/links/{id}"): {"link revoked"},
    ("POST", "/api/instruments"): {"instrument added"},
    ("POST", "/api/instruments/{id}"): {"instrument changed"},
    ("POST", "/api/instruments/{id}/checks"): {"instrument checked"},
}


def test_every_way_is_thought_of():
    """Whoever adds an address that changes something says what the list tells of it."""
    assert set(LINES) | set(NO_LINE) == WAYS
    assert not set(LINES) & set(NO_LINE)


def test_the_list_tells_of_every_deed(office):
    """Each line stands there as soon as the deed is answered, and the chain holds to its end."""
    deeds = Deeds(office)
    for part in (coming_in, people, visits, instruments):
        part(deeds)
    assert deeds.told == LINES | {way: set() for way in NO_LINE}
    checked = office.ask("GET", "/api/audit/check", deeds.owner).json()
    assert checked["broken"] is None
    assert checked["lines"] == len(deeds.lines())


def test_the_list_names_no_client_and_no_secret(office):
    """Who reads it, or a copy, learns ids and figures; no address, password or token."""
    deeds = Deeds(office)
    people(deeds)
    visits(deeds)
    assert sign_in(office, office.one.email("owner"), "not the password").status_code == 401
    told = json.dumps(deeds.lines())
    for word in ("buyer", "cleo", "cedar", "birch", PASSWORD, FRESH, "not the password", "/r/"):
        assert word.lower() not in told.lower()


def test_a_book_that_is_brought_in_carries_its_bringer(office):
    """Each entry of a whole book that a surveyor takes in has their name, as all they write."""
    surveyor = office.caller(office.one, "surveyor")
    name = office.ask("GET", "/api/me", surveyor).json()["person"]["name"]
    visit = office.ask("POST", "/api/import", surveyor, content=BOOK.read_bytes()).json()["visit"]
    entries = office.ask("GET", f"/api/visits/{visit}/history", surveyor).json()["entries"]
    assert name
    assert {entry["author"] for entry in entries} == {name}
