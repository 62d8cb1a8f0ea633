"""Requests that no page sends: odd names, keys, clocks and figures are refused in words."""

import base64
import json
import uuid
from datetime import UTC, datetime

import pytest
from icalendar import Calendar
from test_hostile_requests import guess
from two_firms import World, made

from levelbook.app.settings import Settings
from levelbook.firm import limits

DEVICE = "abcdefgh"


def key(text: str) -> str:
    """Return a key of a page of the list, as the list itself makes them."""
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


@pytest.mark.parametrize(
    "path",
    [
        "/" + "a" * 300,
        "/assets/" + "b" * 5000 + ".js",
        "/" + "%C3%A9" * 150,
        "/a/" * 1000,
        "/api/visits?after=" + key('["\\ud800", "x"]'),
        "/api/visits?after=" + key('["x", "\\udfff"]'),
        "/api/visits?after=" + key('["\\u0000", "x"]'),
        "/api/visits?after=" + key("[" * 200),
        "/api/visits?after=" + key('["x", 7]'),
        "/api/visits?after=%C3%A9",
        "/api/visits?search=%ED%A0%80",
        "/api/sessions?person=%ED%A0%80",
        "/api/audit?after=" + "9" * 400,
        "/api/jobs/" + "%F0%9F%8F%A0" * 40,
        "/r/" + "%ED%A0%80" * 20,
    ],
)
def test_no_address_is_a_fault_of_the_program(shared_world: World, path):
    """However long or odd it is, signed in or not."""
    for caller in (None, shared_world.caller(shared_world.one, "owner")):
        assert shared_world.ask("GET", path, caller).status_code < 500


def write(world: World, visit: str, **changed):
    """Send an entry that sets the house's label, in this or another form."""
    now = int(datetime.now(UTC).timestamp() * 1000)
    entry = {"id": str(uuid.uuid4()), "visit": visit, "clock": f"{now:016d}-0000-{DEVICE}"}
    entry |= {"device": DEVICE, "author": "A", "made": "now", "do": "set"}
    entry |= {"kind": "property", "of": "", "fields": {"label": "a house"}} | changed
    caller = world.caller(world.one, "surveyor")
    body = json.dumps({"since": 0, "entries": [entry]}).encode()
    headers = {"content-type": "application/json"}
    return world.ask("POST", f"/api/visits/{visit}/sync", caller, headers=headers, content=body)


ARABIC = str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩")


def test_a_clock_cannot_be_put_ahead_of_every_other(shared_world: World):
    """Clocks compare as text: digits of another script would win over all later entries."""
    visit, now = str(uuid.uuid4()), f"{int(datetime.now(UTC).timestamp() * 1000):016d}"
    odd = f"{now.translate(ARABIC)}-0000-{DEVICE}"
    assert odd > f"{'9' * 16}-ffff-{DEVICE}"
    assert write(shared_world, visit, clock=odd).status_code == 422
    assert write(shared_world, visit, clock=f"{now}-0000-{DEVICE}").status_code == 200


@pytest.mark.parametrize(
    "label",
    [
        "a\r\nEND:VEVENT\r\nBEGIN:VALARM\r\nACTION:EMAIL",
        "a\rATTENDEE:mailto:x@example.org",
        "a\nURL:https://evil.example",
        "a\x0b\x0c\x1c\x85\u2028\u2029URL:https://evil.example",
        'a;X="b",c\\nd:e',
        "é" * 300,
    ],
)
def test_no_label_adds_a_line_to_the_calendar(world: World, label):
    """What is due comes as whole events, each with its own properties alone."""
    visit, day = str(uuid.uuid4()), datetime.now(UTC).replace(day=1)
    about = {"date": day.replace(year=day.year - 1).date().isoformat(), "purpose": "condition"}
    assert write(world, visit, fields={"label": label}).status_code == 200
    assert write(world, visit, kind="visit", fields=about).status_code == 200
    owner = world.caller(world.one, "owner")
    answer = world.ask("GET", "/api/reminders.ics?days=366", owner)
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    names = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "TRANSP"}
    assert set(event) == names
    assert not event.subcomponents


def test_a_port_behind_an_address_makes_no_other_of_it(database, tmp_path):
    """Some proxies tell the client's port, too, which is another one each time."""
    settings = Settings("https://testserver", behind_proxy=True)
    with made(database, tmp_path, settings) as world:
        for k in range(limits.PER_ADDRESS):
            told = (f"198.51.100.7:{40_000 + k}", "198.51.100.7")[k % 2]
            assert guess(world, f"192.0.2.{k}, {told}").status_code == 401
        assert guess(world, "198.51.100.7:9").status_code == 429
        assert guess(world, "198.51.100.8:9").status_code == 401
        networks = ("[2001:db8::1]:5", "2001:db8::2", "[2001:db8::3]")
        for k in range(limits.PER_ADDRESS):
            assert guess(world, f"192.0.2.{k}, {networks[k % 3]}").status_code == 401
        assert guess(world, "[2001:db8::9]:7").status_code == 429


def test_photographs_do_not_stay_in_the_browsers_own_store(shared_world: World):
    """They are of houses: who comes next on this device must not find them there."""
    path = f"/api/photos/{shared_world.one.ids['sha256']}"
    answer = shared_world.ask("GET", path, shared_world.caller(shared_world.one, "owner"))
    assert (answer.status_code, answer.headers["cache-control"]) == (200, "no-store")
