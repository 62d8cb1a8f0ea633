"""Without a network: nothing written is lost, nothing is doubled, two devices end equal."""

import io
import json
import os
import urllib.request

import pytest
import steps
from PIL import Image
from steps import DESKTOP, PHONE

pytestmark = pytest.mark.browser

LARGE = (("80", "right"), ("60", "up"), ("80", "left"))
PACE = float(os.environ.get("LEVELBOOK_PACE", "0"))
VALUES = [f"{k % 17}" if k % 3 else f"-{k % 9 + 1}" for k in range(60)]


def kept_offline(page):
    """Wait until the page is kept on the device."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function(
        "async () => (await Promise.all((await caches.keys()).map(async (name) =>"
        " (await (await caches.open(name)).keys()).length))).some((n) => n > 5)"
    )


def entries(server, visit):
    """Return all entries that the server holds of a visit."""
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/history") as answer:
        return json.load(answer)["entries"]


def counted(state_entries):
    """Return the readings as written, in order."""
    ordered = sorted(state_entries, key=lambda e: e["clock"])
    return [e["fields"]["value"] for e in ordered if e.get("kind") == "reading"]


def expected(values):
    """Return what keys in tenths write."""
    return [f"{int(v) / 10:.1f}" for v in values]


def picture(number):
    """Return a small JPEG that differs by number."""
    data = io.BytesIO()
    Image.new("RGB", (400, 300), (40 * number, 90, 120)).save(data, "JPEG")
    return data.getvalue()


def sign_with_photo(page, number):
    """Write down a crack with a photograph."""
    page.locator(".plan-map canvas").first.wait_for()
    page.locator(".plan-map").click(position={"x": 120 + 20 * number, "y": 120})
    page.get_by_label("Photograph", exact=True).set_input_files(
        {"name": f"<i>{number}.jpg", "mimeType": "image/jpeg", "buffer": picture(number)}
    )
    page.get_by_text(f"<i>{number}.jpg").wait_for()
    page.get_by_role("button", name="Keep this sign").click()
    page.get_by_role("button", name=f"Take d{number} back").wait_for()


def test_a_day_without_a_network(server, device, faults):
    """Sketch, 60 readings and 3 photographs offline, a killed tab, a server that dies twice."""
    context = device(PHONE)
    page = context.new_page()
    faults(page)
    page.goto(server.address)
    kept_offline(page)
    context.set_offline(offline=True)
    steps.new_house(page, server.address)
    steps.outline(page, LARGE)
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    for value in VALUES[:30]:
        steps.key_in(page, value)
    steps.count_readings(page, 30)
    address = page.url
    page.close(run_before_unload=False)

    page = context.new_page()
    faults(page)
    page.goto(address)
    steps.count_readings(page, 30)
    for value in VALUES[30:]:
        steps.key_in(page, value)
    steps.count_readings(page, 60)
    steps.open_page(page, "Distress")
    for number in (1, 2, 3):
        sign_with_photo(page, number)
    page.get_by_text("kept here").wait_for()

    context.set_offline(offline=False)
    for _ in range(2):
        server.stop()
        page.evaluate("dispatchEvent(new Event('online'))")
        server.start()
        page.evaluate("dispatchEvent(new Event('online'))")
    steps.all_saved(page)
    visit = address.split("#/")[1].split("/")[0]
    held = entries(server, visit)
    assert counted(held) == expected(VALUES)
    assert len({e["id"] for e in held}) == len(held)
    shots = [e["fields"] for e in held if e.get("kind") == "photo"]
    assert [shot["name"] for shot in shots] == ["<i>1.jpg", "<i>2.jpg", "<i>3.jpg"]
    for shot in shots:
        with urllib.request.urlopen(f"{server.address}api/photos/{shot['sha256']}") as answer:
            assert Image.open(io.BytesIO(answer.read())).format == "JPEG"


def test_two_devices_end_equal(server, device, faults):
    """Two people read one house at once, one of them offline for a while; both see the same."""
    first, second = device(PHONE), device(DESKTOP)
    page = first.new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, LARGE)
    steps.all_saved(page)
    other = second.new_page()
    faults(other)
    other.goto(page.url)
    other.get_by_text("house", exact=False).first.wait_for()
    for each in (page, other):
        steps.open_page(each, "Readings")
        each.get_by_role("button", name="Tile", exact=True).click()
    second.set_offline(offline=True)
    for k in range(6):
        steps.key_in(page, str(k + 1))
        steps.key_in(other, f"-{k + 1}")
    second.set_offline(offline=False)
    other.evaluate("dispatchEvent(new Event('online'))")
    steps.all_saved(other)
    page.evaluate("dispatchEvent(new Event('online'))")
    steps.count_readings(page, 12)
    steps.count_readings(other, 12)
    visit = page.url.split("#/")[1].split("/")[0]
    stations = [e["of"] for e in entries(server, visit) if e.get("kind") == "station"]
    assert len(stations) == len(set(stations)) == 12


def test_forty_readings_typed_like_a_clerk(server, device, faults):
    """From paper notes at a desk: value, Enter, value, Enter; none lost, none out of order.

    Without a pause here; with LEVELBOOK_PACE=1 at one a second, as a person types.
    """
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, LARGE)
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    page.locator("#reading").focus()
    for value in VALUES[:40]:
        page.keyboard.type(value)
        page.keyboard.press("Enter")
        page.wait_for_timeout(1000 * PACE)
    steps.count_readings(page, 40)
    steps.all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    assert counted(entries(server, visit)) == expected(VALUES[:40])
