"""The whole job in a browser: from an empty store to the report in hand."""

import json
import urllib.request
from pathlib import Path

import pytest
import steps
from steps import DESKTOP, PHONE

from levelbook.archive.opening import open_book

pytestmark = pytest.mark.browser

VALUES = ["0", "1", "2", "-1", "3", "4", "12", "-3", "5", "2", "1", "0", "-2", "-4", "1", "3"]


@pytest.mark.parametrize("kind", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_from_nothing_to_the_report(server, device, faults, kind):
    """A house is drawn, read, looked over and reported; the PDF holds the readings as typed."""
    page = device(kind).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    steps.outline(page, steps.GARAGE, ("41", "0"))
    page.get_by_role("button", name="Garage door").click()
    page.get_by_role("button", name="Keep the door").click()
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    for value in VALUES:
        steps.key_in(page, value)
    steps.count_readings(page, len(VALUES))
    page.locator(".live", has_text="highest to lowest").wait_for()
    page.get_by_role("button", name="Closing check").click()
    steps.key_in(page, "0")
    steps.count_readings(page, len(VALUES) + 1)
    steps.open_page(page, "Before you leave")
    page.get_by_text("Setup A has its closing check").wait_for()
    page.get_by_text("No station in garage").wait_for()
    steps.open_page(page, "Findings")
    page.get_by_role("button", name="Build the report").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="PDF").click()
    book = open_book(Path(download.value.path())).book
    written = [reading.value for reading in book.readings]
    expected = [f"{int(v) / 10:.1f}" if int(v) else "0.0" for v in [*VALUES, "0"]]
    assert written == expected
    assert [area.id for area in book.areas] == ["house", "garage"]
    assert book.areas[1].vehicle_door == ((43, 0), (59, 0))


def test_visits_are_listed(server, device, faults):
    """A house that was begun is found again by a word of its name, and opens."""
    page = device(PHONE).new_page()
    faults(page)
    steps.new_house(page, server.address, "Marl <b>House</b>")
    steps.all_saved(page)
    page.get_by_role("link", name="All houses").click()
    page.get_by_label("Search").fill("marl")
    page.get_by_role("link", name="Marl <b>House</b>").click()
    page.get_by_label("Wall length").wait_for()
    with urllib.request.urlopen(f"{server.address}api/visits") as answer:
        assert json.load(answer)["visits"][0]["label"] == "Marl <b>House</b>"
