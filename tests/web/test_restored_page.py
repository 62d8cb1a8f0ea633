"""A server that was restored from a backup gets again what an open page still holds."""

import json
import re
import shutil
import urllib.error
import urllib.request

import pytest
import steps
from axe_playwright_python.sync_playwright import Axe
from steps import PHONE
from test_offline import counted, entries, expected, kept_offline, sign_with_photo

from levelbook.archive.backup import backup, restore
from levelbook.archive.place import open_place

pytestmark = pytest.mark.browser

LARGE = (("80", "right"), ("60", "up"), ("80", "left"))
VALUES = ["1", "-2", "3", "4", "-5"]


@pytest.fixture
def faults():
    """Give a watcher of pages; that a photograph is not there is an answer here, and no fault."""
    yield from steps.watching("Failed to load resource")


def ids(server, visit):
    """Return the ids of all entries that the server has of a visit; none if it has no such."""
    try:
        return {each["id"] for each in entries(server, visit)}
    except urllib.error.HTTPError:
        return set()


def read_in(page, values):
    """Write readings down and wait until they are on the server."""
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    for value in values:
        steps.key_in(page, value)


def take_backup(server, folder):
    """Take a backup while the server runs, with one house and no photograph in it."""
    place = open_place(str(server.folder))
    told = backup(place, folder / "backup", "2026-11-25T10:00:00.000000Z")
    place.close()
    assert (told.visits, told.files) == (1, 0)


def set_back(server, folder):
    """Lose the server's folder, and go on at the same address with what the backup holds."""
    server.stop()
    shutil.rmtree(server.folder)
    new = open_place(str(folder / "new"), new=True)
    restore(folder / "backup", new)
    new.close()
    server.folder = folder / "new"
    server.start()


def visit_of(page):
    """Return the id of the house that is open."""
    return page.url.split("#/")[1].split("/")[0]


def test_an_open_page_brings_back_what_a_restored_server_lacks(server, device, faults, tmp_path):
    """Three readings, a backup, two more, a photograph and another house; a new place; all is back.

    Nobody does anything: the page notices by itself, sends, and says so in a quiet line.
    """
    page = device(PHONE).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, LARGE)
    read_in(page, VALUES[:3])
    steps.count_readings(page, 3)
    steps.all_saved(page)
    kept_offline(page)
    first, address = visit_of(page), page.url

    take_backup(server, tmp_path)
    early = ids(server, first)
    steps.new_house(page, server.address)
    steps.all_saved(page)
    second = visit_of(page)
    page.goto(address)
    read_in(page, VALUES[3:])
    steps.count_readings(page, 5)
    steps.open_page(page, "Distress")
    sign_with_photo(page, 1)
    steps.all_saved(page)
    before = {visit: ids(server, visit) for visit in (first, second)}
    (shot,) = [e["fields"]["sha256"] for e in entries(server, first) if e.get("kind") == "photo"]
    page.wait_for_function("async (sha256) => (await fetch(`/api/photos/${sha256}`)).ok", arg=shot)

    set_back(server, tmp_path)
    assert ids(server, first) == early
    assert ids(server, second) == set()
    page.evaluate("dispatchEvent(new Event('online'))")
    lacking = sum(len(each) for each in before.values()) - len(early)
    words = f"it lacked: {lacking} entries and 1 photograph."
    note = page.get_by_role("status").filter(has_text="set back to an earlier state")
    note.filter(has_text=words).wait_for()
    assert {visit: ids(server, visit) for visit in (first, second)} == before
    assert counted(entries(server, first)) == expected(VALUES)
    with urllib.request.urlopen(f"{server.address}api/photos/{shot}") as answer:
        assert answer.headers["content-type"] == "image/jpeg"
    with urllib.request.urlopen(f"{server.address}api/visits") as answer:
        listed = json.load(answer)
    assert {row["id"] for row in listed["visits"]} == {first, second}
    assert re.fullmatch(r"[0-9a-f]{16}\.[0-9a-f]{16}", listed["life"])
    assert Axe().run(page).response["violations"] == []
    note.get_by_role("button", name="Close").click()
    note.wait_for(state="detached")
