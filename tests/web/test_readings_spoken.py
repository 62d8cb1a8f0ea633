"""Readings said to the phone, and what is missing when finishes have no pair."""

import json
import urllib.error
import urllib.request

import pytest
import steps
from steps import PHONE

pytestmark = pytest.mark.browser


def test_a_reading_is_dictated(server, device, faults):
    """Words as dictation writes them become the reading; what is no number is not saved."""
    page = device(PHONE).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    field = page.locator("#reading")
    assert field.get_attribute("inputmode") == "none"
    page.get_by_role("button", name="Phone keyboard").click()
    page.locator("#reading[inputmode=text]").wait_for()
    save = page.get_by_role("button", name="Save and go on")
    field.fill("hello house")
    page.get_by_text("no reading").wait_for()
    assert save.is_disabled()
    for said in ("minus zero point six", "one and three eighths", "0.6"):
        field.fill(said)
        save.click()
    steps.count_readings(page, 3)
    steps.open_page(page, "Before you leave")
    page.get_by_text("No station in").wait_for(state="detached")
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Carpet", exact=True).click()
    steps.key_in(page, "3")
    steps.count_readings(page, 4)
    steps.open_page(page, "Before you leave")
    page.get_by_text("No pair yet between Tile and Carpet in house").wait_for()
    steps.all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    try:
        with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
            found = json.load(answer)
    except urllib.error.HTTPError as error:
        found = json.load(error)["draft"]
    assert [r["value"] for r in found["readings"]] == ["-0.6", "1 3/8", "0.6", "0.3"]
