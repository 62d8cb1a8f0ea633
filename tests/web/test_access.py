"""Everyone can use the pages: axe finds nothing, keys reach everything, text may be doubled."""

import json
import urllib.request

import pytest
import steps
from axe_playwright_python.sync_playwright import Axe
from steps import DESKTOP, PHONE

from levelbook.demo import house

pytestmark = pytest.mark.browser

PAGES = (
    ("plan", "canvas"),
    ("readings", ".keys"),
    ("distress", ".cracks"),
    ("leave", ".checks"),
    ("report", ".criteria"),
    ("details", "input"),
    ("history", ".history li"),
    ("compare", "h1"),
)
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
}


def violations(page):
    """Return what axe finds wrong, in short."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]


@pytest.fixture
def visit(server):
    """Take the demo house in and give its id."""
    with urllib.request.urlopen(f"{server.address}api/import", data=house()) as answer:
        return json.load(answer)["visit"]


@pytest.mark.parametrize("theme", ["light", "dark", "sun"])
def test_axe_finds_nothing(server, device, faults, visit, theme):
    """No rule of WCAG 2.2 A and AA that can be checked by machine is broken on any page."""
    context = device(PHONE if theme == "sun" else DESKTOP)
    page = context.new_page()
    faults(page)
    page.goto(server.address)
    page.evaluate("theme => localStorage.setItem('levelbook-theme', theme)", theme)
    page.reload()
    page.locator(".houses a").first.wait_for()
    found = {"houses": violations(page)}
    page.get_by_role("link", name="New house").click()
    page.get_by_role("button", name="Start").wait_for()
    found["new"] = violations(page)
    for name, ready in PAGES:
        page.goto(f"{server.address}#/{visit}/{name}")
        page.locator(f".page-{name} {ready}").first.wait_for()
        steps.all_saved(page)
        found[name] = violations(page)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_axe_finds_nothing_in_the_tools_of_the_plan(server, device, faults, visit):
    """Every tool of the plan keeps the rules too, the one that moves with something held."""
    page = device(PHONE).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/plan")
    tools = page.get_by_role("group", name="What to do").get_by_role("button")
    tools.first.wait_for()
    steps.all_saved(page)
    found = {}
    for name in tools.all_inner_texts():
        page.get_by_role("button", name=name, exact=True).click()
        if name == "Move":
            page.locator(".plan-map").click(position={"x": 180, "y": 180})
            page.get_by_role("button", name="Let go").wait_for()
        found[name] = violations(page)
    assert len(found) == 11
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_a_house_is_drawn_and_read_by_keys_alone(server, device, faults):
    """From the first page to a saved reading without a pointer, Tab by Tab."""
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(server.address)
    page.get_by_role("link", name="New house").wait_for()

    def reach(locator, most=60):
        for _ in range(most):
            if locator.evaluate("e => e === document.activeElement"):
                return
            page.keyboard.press("Tab")
        pytest.fail(f"Tab does not reach {locator}")

    def use(locator, text=None):
        locator.wait_for()
        reach(locator)
        if text is None:
            page.keyboard.press("Enter")
        else:
            page.keyboard.press("ControlOrMeta+a")
            page.keyboard.type(text)

    use(page.get_by_role("link", name="New house"))
    use(page.get_by_label("Name of the house"), "Keys")
    use(page.get_by_role("button", name="Start"))
    for length, direction in steps.HOUSE:
        use(page.get_by_label("Wall length"), length)
        use(page.get_by_role("button", name=direction, exact=True))
    use(page.get_by_role("button", name="Close with a straight wall"))
    use(page.locator('nav a[href$="/readings"]'))
    use(page.get_by_role("button", name="Tile", exact=True))
    use(page.locator("#reading"), "6")
    page.keyboard.press("Enter")
    steps.count_readings(page, 1)


@pytest.mark.parametrize("name", ["plan", "readings", "distress", "leave", "report", "details"])
def test_text_may_be_twice_as_large(server, device, visit, name):
    """At 200 % (half the width in CSS pixels) nothing sticks out sideways."""
    page = device({"viewport": {"width": 640, "height": 400}}).new_page()
    page.goto(f"{server.address}#/{visit}/{name}")
    page.locator(f".page-{name}").wait_for()
    steps.all_saved(page)
    wide = page.evaluate(
        "[document.documentElement, document.querySelector('main')]"
        ".map((e) => e.scrollWidth - e.clientWidth)"
    )
    assert max(wide) <= 0


@pytest.mark.parametrize("name", ["plan", "readings", "distress", "leave"])
def test_targets_are_large(server, device, visit, name):
    """Every control on a phone can be hit with a thumb: 48 px at least one way, 40 the other."""
    page = device(PHONE).new_page()
    page.goto(f"{server.address}#/{visit}/{name}")
    page.locator(f".page-{name}").wait_for()
    steps.all_saved(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, a, select, input:not(.hidden), summary")]
        .filter((e) => e.offsetParent)
        .map((e) => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
        .filter(([, r]) => r.height < 48 || r.width < 40).map(([html]) => html)"""
    )
    assert small == []
