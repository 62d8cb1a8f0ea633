"""What a person does on the pages, step by step."""

import json
import re
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import ConsoleMessage, Page

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESKTOP = {"viewport": {"width": 1280, "height": 800}}
HOUSE = (("40", "right"), ("24", "up"), ("40", "left"))
GARAGE = (("20", "right"), ("20", "up"), ("20", "left"))


def watching(harmless: str) -> "Iterator[Callable[[Page], None]]":
    """Give a watcher of pages; afterwards none may have told an error, but for harmless ones."""
    told: list[str] = []

    def hear(message: "ConsoleMessage") -> None:
        if message.type == "error" and harmless not in message.text:
            told.append(message.text)

    def watch(page: "Page") -> None:
        page.on("pageerror", lambda error: told.append(str(error)))
        page.on("console", hear)

    yield watch
    assert told == []


def new_house(page: "Page", address: str, label: str = "12 Example Lane") -> None:
    """Start a house from the first page."""
    page.goto(address)
    page.get_by_role("link", name="New house").click()
    page.get_by_label("Name of the house").fill(label)
    page.get_by_label("Your name").fill("A. Example")
    page.get_by_role("button", name="Start").click()
    page.get_by_label("Wall length").wait_for()


def outline(
    page: "Page", walls: tuple[tuple[str, str], ...], start: tuple[str, str] = ("0", "0")
) -> None:
    """Type the runs of an outline and close it with a straight wall."""
    if start != ("0", "0"):
        page.get_by_label("Start right of 0").fill(start[0])
        page.get_by_label("Start up from 0").fill(start[1])
    for length, direction in walls:
        page.get_by_label("Wall length").fill(length)
        page.get_by_role("button", name=direction, exact=True).click()
    page.get_by_role("button", name="Close with a straight wall").click()
    page.get_by_text("Walk round the outside").wait_for()


def open_page(page: "Page", name: str) -> None:
    """Go to another page of the house."""
    slug = {"Before you leave": "leave", "Findings": "report", "House": "details"}.get(name, name)
    page.locator(f'nav a[href$="/{slug.lower()}"]').click()


def key_in(page: "Page", keys: str) -> None:
    """Tap keys of the keypad and save."""
    names = {"-": "Change the sign", ".": "Point", "/": "Over, for fractions"}
    pad = page.locator(".keys")
    for key in keys:
        pad.get_by_role("button", name=names.get(key, key), exact=True).click()
    pad.get_by_role("button", name="Save and go on").click()


def count_readings(page: "Page", number: int) -> None:
    """Wait until the page tells of this many readings."""
    page.locator(".live", has_text=re.compile(rf"\b{number} readings?\b")).wait_for()


def all_saved(page: "Page") -> None:
    """Wait until everything is on the server."""
    page.locator(".saved.saved", has_text="All saved").wait_for()


def document(server, page):
    """Return the visit's document as the server has it, whole or not yet."""
    all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    try:
        with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
            return json.load(answer)
    except urllib.error.HTTPError as error:
        return json.load(error)["draft"]
