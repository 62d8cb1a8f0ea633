"""Drawing on the plan: snapped floors, inner walls and sections, moving, undoing, re-reading."""

import pytest
import steps
from steps import DESKTOP, document

pytestmark = pytest.mark.browser


def tap(page, *places):
    """Tap the plan at places in pixels."""
    page.locator(".plan-map canvas").first.wait_for()
    for x, y in places:
        page.locator(".plan-map").click(position={"x": x, "y": y})


def test_a_floor_is_drawn_square(server, device, faults):
    """Four careless taps make a rectangle on the grid; a wall and a section join it."""
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    page.get_by_role("button", name="Draw a floor").click()
    tap(page, (150, 500), (400, 508), (395, 250), (158, 243))
    page.get_by_text("4 corners").wait_for()
    page.get_by_role("button", name="Close and keep").click()
    page.get_by_text("Tap the plan corner by corner").wait_for()
    page.get_by_role("button", name="Inner wall").click()
    tap(page, (300, 400), (420, 404))
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("button", name="Section").click()
    tap(page, (250, 500), (350, 300))
    page.get_by_role("button", name="Keep", exact=True).click()
    found = document(server, page)
    (area,) = found["areas"]
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = area["outline"]
    assert (ay, bx, cy, dx) == (by, cx, dy, ax)
    assert all(v == round(v) for corner in area["outline"] for v in corner)
    assert bx - ax > 10
    assert cy - by > 10
    ((start, end),) = found["walls"]
    assert start[1] == end[1]
    assert len(found["sections"][0]["line"]) == 2


def test_undo_strikes_and_moving_keeps(server, device, faults):
    """An undone reading stays in the book, struck; a struck one is read again in its place."""
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Carpet", exact=True).click()
    for value in ("1", "2", "3"):
        steps.key_in(page, value)
    steps.count_readings(page, 3)
    page.get_by_role("button", name="Undo").click()
    steps.count_readings(page, 2)
    page.get_by_text("All readings as written").click()
    page.get_by_role("button", name="Read station 2 again").click()
    page.get_by_text("read again").wait_for()
    steps.key_in(page, "25")
    page.locator(".readings .struck").nth(1).wait_for()
    readings = document(server, page)["readings"]
    told = [(r["station"], r["value"], r.get("struck", False)) for r in readings]
    assert told == [
        ("1", "0.1", False),
        ("2", "0.2", True),
        ("3", "0.3", True),
        ("2", "2.5", False),
    ]
    assert readings[1]["instead"] == readings[3]["id"]


def test_pair_tie_and_not_reached(server, device, faults):
    """A pair on two finishes, a tie from a new setup, and a place that furniture hides."""
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    steps.key_in(page, "1")
    steps.count_readings(page, 1)
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_role("button", name="Carpet", exact=True).click()
    steps.key_in(page, "6")
    steps.count_readings(page, 2)
    page.get_by_role("button", name="New setup, tie").click()
    page.get_by_text("tie: read it again").wait_for()
    steps.key_in(page, "9")
    steps.count_readings(page, 3)
    page.get_by_role("button", name="Not reached").click()
    page.get_by_role("button", name="bed", exact=True).click()
    steps.key_in(page, "2")
    steps.count_readings(page, 4)
    found = document(server, page)
    told = [(r["station"], r["finish"], r["setup"]) for r in found["readings"]]
    assert told == [
        ("1", "tile", "A"),
        ("1", "carpet", "A"),
        ("1", "carpet", "B"),
        ("2", "carpet", "B"),
    ]
    (mark,) = found["marks"]
    assert mark["label"] == "not reached: bed"
    assert mark["at"] != found["stations"][1]["at"]
