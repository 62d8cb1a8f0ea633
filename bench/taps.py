"""How many taps and keys a reading takes, here and in a plain form, and how long that is.

The demo house's readings are written down twice by a script that acts as a person does, in a
real Chromium: on the readings page of a phone by the keypad, walking on as proposed, with a
tap for each change of the finish; and in a plain form that asks for each reading's station,
place, finish and value, typed at a desk with Tab between the fields. The page counts what
arrives. Times are the keystroke-level model's (Card, Moran and Newell 1980, Communications of
the ACM 23, 396; from memory): 0.28 s to a key, 1.1 s to point at a target, 1.35 s to think
before each reading; a tap of the keypad counts as a key, one elsewhere as pointing.
``PYTHONPATH=tools:bench python bench/taps.py``.
"""

import json
import sys
import urllib.request

from playwright.sync_api import Browser, Page, sync_playwright

import chromium
from in_browser import ADDRESS, server
from levelbook.demo import house

KEY, POINT, THINK = 0.28, 1.1, 1.35
ASKED = 4.0
COUNT = """() => { window.counted = {keys: 0, pad: 0, taps: 0};
  addEventListener("keydown", (e) => { if (e.key !== "Shift") counted.keys += 1; }, true);
  addEventListener("click", (e) => { if (e.isTrusted && e.target.closest("button, select, input"))
    counted[e.target.closest(".keys") ? "pad" : "taps"] += 1; }, true); }"""
FORM = """<form onsubmit="this.reset(); this.station.focus(); return false">
  <input name="station"><input name="x"><input name="y"><input name="finish">
  <input name="value"><button>Add</button></form>"""
NAMES = {"-": "Change the sign", ".": "Point", "/": "Over, for fractions"}
Taken = list[tuple[str, str, float, float, str]]


def readings() -> Taken:
    """Return the readings of the demo house: station, finish, place and value, in order."""
    book = json.loads(house())
    places = {station["id"]: station["at"] for station in book["stations"]}
    names = {finish["id"]: finish["name"] for finish in book["finishes"]}
    return [
        (r["station"], names[r["finish"]], *places[r["station"]], str(r["value"]))
        for r in book["readings"]
    ]


def tenths(value: str) -> str:
    """Return the keys that write a decimal in tenths: 6 is 0.6, and a sign comes first."""
    sign, bare = ("-", value[1:]) if value.startswith("-") else ("", value)
    whole, _, part = bare.partition(".")
    return sign + (f"{int(whole + part)}" if len(part) == 1 else bare)


def on_the_page(browser: Browser, taken: Taken) -> dict[str, int]:
    """Write the readings down by the keypad and return what was counted."""
    page = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True, bypass_csp=True)
    page.goto(f"{ADDRESS}#/new")
    page.get_by_label("Name of the house").fill("Counted")
    page.get_by_role("button", name="Start").click()
    for length, way in (("120", "right"), ("80", "up"), ("120", "left")):
        page.get_by_label("Wall length").fill(length)
        page.get_by_role("button", name=way, exact=True).click()
    page.get_by_role("button", name="Close with a straight wall").click()
    page.locator('nav a[href$="/readings"]').click()
    page.evaluate(COUNT)
    finish = ""
    for k, (_, name, _, _, value) in enumerate(taken):
        if name != finish:
            choose(page, name)
            finish = name
        for key in tenths(value):
            label = NAMES.get(key, key)
            page.locator(".keys").get_by_role("button", name=label, exact=True).click()
        page.get_by_role("button", name="Save and go on").click()
        page.locator(".live", has_text=f"{k + 1} readings").wait_for()
    return dict(page.evaluate("counted"))


def choose(page: Page, name: str) -> None:
    """Tap a finish, or type it where it is not there yet."""
    chip = page.get_by_role("group", name="Underfoot").get_by_role("button", name=name, exact=True)
    if chip.count():
        chip.click()
        return
    page.get_by_role("button", name="Other…").click()
    page.get_by_label("Another finish").click()
    page.keyboard.type(name)
    page.keyboard.press("Enter")


def in_a_form(browser: Browser, taken: Taken) -> dict[str, int]:
    """Type the readings into the form, field by field; return what was counted."""
    page = browser.new_page()
    page.set_content(FORM)
    page.evaluate(COUNT)
    page.locator("[name=station]").click()
    for station, finish, x, y, value in taken:
        for k, text in enumerate((station, f"{x:g}", f"{y:g}", finish, value)):
            if k:
                page.keyboard.press("Tab")
            page.keyboard.type(text)
        page.keyboard.press("Enter")
    return dict(page.evaluate("counted"))


def told(name: str, counted: dict[str, int], number: int) -> str:
    """Return what was counted, by reading, with its time."""
    each = {kind: count / number for kind, count in counted.items()}
    seconds = (each["keys"] + each["pad"]) * KEY + each["taps"] * POINT + THINK
    return (
        f"{name:22}{sum(each.values()):6.2f} taps and keys a reading "
        f"({counted['pad']} on the keypad, {counted['taps']} other taps, {counted['keys']} keys "
        f"for {number} readings), {seconds:.1f} s by the model\n"
    )


def main() -> int:
    """Count and print; fail where a reading takes more than is asked."""
    taken = readings()
    with sync_playwright() as playwright, server({}), urllib.request.urlopen(ADDRESS):
        browser = playwright.chromium.launch(executable_path=chromium.find(), args=["--no-sandbox"])
        page, form = on_the_page(browser, taken), in_a_form(browser, taken)
        browser.close()
    sys.stdout.write(told("readings page", page, len(taken)))
    sys.stdout.write(told("plain form", form, len(taken)))
    return int(sum(page.values()) / len(taken) > ASKED)


if __name__ == "__main__":
    sys.exit(main())
