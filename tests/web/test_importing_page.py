"""Files in and out on the pages: asked about, taken, taken back; every format handed out."""

import io
import json
import re
import urllib.request
import zipfile

import pytest
import steps
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from steps import DESKTOP, PHONE

from levelbook.demo import house

pytestmark = pytest.mark.browser

TABLE = (
    b"station,x (ft),y (ft),reading,finish\n1,1,1,0.5,tile\n2,5,0,-0.3,tile\n3,5,5,no access,oak\n"
    b"4,0,5,0.25,oak\n"
)
SKETCH = "0.5\t0.4\t0.3\n0.2\t\t0.1\n0.0\t-0.1\t-0.2\n"
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
}


@pytest.fixture
def visit(server):
    """Take the demo house in and give its id."""
    with urllib.request.urlopen(f"{server.address}api/import", data=house()) as answer:
        return json.load(answer)["visit"]


def choose(page, name, data, kind="text/csv"):
    """Choose a file on the page."""
    file = {"name": name, "mimeType": kind, "buffer": data}
    page.get_by_label("Choose a file").set_input_files(files=[file])


def pick(page, question, answer):
    """Pick one of a question's answers."""
    page.get_by_role("group", name=question).get_by_label(answer).check()


def axe(page):
    """Return what axe finds wrong, in short."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]


def book(server, visit):
    """Return a visit's document from the server."""
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
        return json.load(answer)


def visit_of(page):
    """Return the visit that the page's address names."""
    return re.search(r"#/([0-9a-f-]{36})/", page.url)[1]


@pytest.mark.parametrize("kind", [PHONE, DESKTOP])
def test_a_table_becomes_a_house(server, device, faults, kind):
    """Only what the table does not tell is asked; what was left is told with its place."""
    page = device(kind).new_page()
    faults(page)
    page.goto(server.address)
    page.get_by_role("link", name="From a file").click()
    choose(page, "invented lane.csv", TABLE)
    page.get_by_role("heading", name="One thing is unclear").wait_for()
    page.get_by_text("row 4").wait_for()
    assert axe(page) == []
    pick(page, "In which unit are the readings?", "inches")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("On which day").fill("2026-03-02")
    pick(page, "How do the readings run?", "a higher floor gives a larger reading")
    page.get_by_role("button", name="Take 0.005").click()
    pick(page, "no outline", "a rectangle round the places")
    page.get_by_role("button", name="Go on").click()
    make = page.get_by_role("button", name="Make a house of this")
    make.wait_for()
    assert axe(page) == []
    make.click()
    page.locator(".page-plan").wait_for()
    steps.all_saved(page)
    made = book(server, visit_of(page))
    assert [reading["value"] for reading in made["readings"]] == ["0.5", "-0.3", "0.25"]
    assert made["property"]["label"] == "invented lane"
    page.locator("header").get_by_role("button", name="Undo").click()
    steps.all_saved(page)
    assert page.locator("header .house").inner_text() == "invented lane"


def test_readings_go_into_a_house_and_back(server, device, faults, visit):
    """Taken in by answers, taken back by a tap: the readings stay, struck, and all else as was."""
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/details")
    page.get_by_role("link", name="Bring in readings").click()
    steps.all_saved(page)
    before = book(server, visit)
    choose(page, "more.csv", b"station,x (ft),y (ft),reading (in)\nextra,3,3,0.4\n")
    page.get_by_role("radio").first.check()
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Take this into the house").click()
    page.get_by_role("button", name="Take back: more.csv").wait_for()
    steps.all_saved(page)
    after = book(server, visit)
    assert len(after["readings"]) == len(before["readings"]) + 1
    page.get_by_role("button", name="Take back: more.csv").click()
    page.get_by_role("button", name="Take back: more.csv").wait_for(state="detached")
    steps.all_saved(page)
    last = book(server, visit)
    *same, struck = last["readings"]
    assert same == before["readings"]
    assert struck["struck"] is True
    assert struck["value"] == "0.4"
    for name in before.keys() - {"readings", "stations", "setups", "finishes"}:
        assert last[name] == before[name]


def test_a_sketch_is_typed(server, device, faults):
    """Numbers as they stand on squared paper: the cells are the places."""
    page = device(PHONE).new_page()
    faults(page)
    page.goto(f"{server.address}#/import")
    page.get_by_role("button", name="Paste or type rows").click()
    page.get_by_label("Rows as copied").fill(SKETCH)
    page.get_by_role("button", name="Look at it").click()
    pick(page, "What do the rows of numbers form?", "a sketch")
    page.get_by_role("button", name="Go on").click()
    pick(page, "In which unit are the squares", "feet")
    page.get_by_label("How wide is one square").fill("5")
    pick(page, "In which unit are the readings?", "inches")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("On which day").fill("2026-03-02")
    pick(page, "How do the readings run?", "a higher floor gives a larger reading")
    page.get_by_label("How far does one reading scatter").fill("0.05")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Make a house of this").click()
    page.locator(".page-plan").wait_for()
    steps.all_saved(page)
    made = book(server, visit_of(page))
    assert len(made["readings"]) == 8
    assert made["stations"][0]["at"] == [2.5, 12.5]


def test_an_answer_can_be_changed(server, device, faults):
    """What was answered is listed, and asked again when it is taken back."""
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/import")
    choose(page, "t.csv", TABLE)
    pick(page, "In which unit are the readings?", "millimetres")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("On which day").wait_for()
    page.get_by_text("Answered so far: 1").click()
    page.get_by_role("button", name="Change the answer: In which unit are the readings?").click()
    page.get_by_role("group", name="In which unit are the readings?").wait_for()


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("a.xlsx", b"PK\x03\x04 cut off", "damaged or cut off"),
        ("b.bin", bytes(range(256)) * 9, "no text"),
        ("c.csv", b"\n\n", "empty"),
        ("d.json", b'{"format": "levelbook/1"}', "missing"),
    ],
)
def test_a_bad_file_is_told_and_another_taken(server, device, name, data, says):
    """In words, with what to do; then the page is ready for another file."""
    page = device(DESKTOP).new_page()
    page.goto(f"{server.address}#/import")
    choose(page, name, data, "application/octet-stream")
    page.get_by_role("alert").get_by_text(says).first.wait_for()
    assert axe(page) == []
    page.get_by_role("button", name="Another file").click()
    choose(page, "t.csv", TABLE)
    page.get_by_role("group", name="In which unit are the readings?").wait_for()


def test_an_outline_begins_a_house(server, device):
    """An outline without readings is put into a house that is begun for it."""
    page = device(DESKTOP).new_page()
    page.goto(f"{server.address}#/import")
    outline = {"type": "Polygon", "coordinates": [[[0, 0], [40, 0], [40, 30], [0, 30], [0, 0]]]}
    choose(page, "plan.geojson", json.dumps(outline).encode(), "application/geo+json")
    page.get_by_label("Name of the house").fill("Outlined")
    page.get_by_role("button", name="Start").click()
    pick(page, "In which unit is the drawing?", "feet")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Take this into the house").click()
    page.get_by_role("link", name="See the plan").click()
    page.locator(".page-plan").wait_for()
    steps.all_saved(page)
    visit = visit_of(page)
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/history") as answer:
        entries = json.load(answer)["entries"]
    (area,) = [entry["fields"] for entry in entries if entry.get("kind") == "area"]
    assert area["outline"] == [[0, 0], [40, 0], [40, 30], [0, 30]]


def test_a_picture_becomes_the_sheet(server, device, faults, visit):
    """A scan is not read: it is put under the plan to be traced over."""
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(picture, "PNG")
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/import")
    choose(page, "scan.png", picture.getvalue(), "image/png")
    page.get_by_role("button", name="Put it under the plan").click()
    page.locator(".page-plan").wait_for()
    steps.all_saved(page)
    (photo,) = [p for p in book(server, visit)["photos"] if p.get("of") == "sheet"]
    assert photo["name"] == "scan.png"


def test_every_file_for_others_is_handed_out(server, device, faults, visit, tmp_path):
    """Each with its size, under a name of its own; the package opens."""
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/export")
    page.locator(".exports .size", has_text="B").nth(9).wait_for()
    page.wait_for_function(
        "[...document.querySelectorAll('.exports .size')].every((e) => /B$/.test(e.innerText))"
    )
    assert axe(page) == []
    names = set()
    links = page.locator(".exports a")
    for i in range(links.count()):
        with page.expect_download() as waiting:
            links.nth(i).click()
        target = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(target)
        names.add(target.name)
        assert target.stat().st_size > 500
    assert len(names) == links.count() == 10
    package = next(name for name in names if name.endswith("-package.zip"))
    assert zipfile.ZipFile(tmp_path / package).testzip() is None


def test_the_picture_is_as_chosen(server, device, faults, visit):
    """Drawing and resolution go into the address of the file."""
    page = device(PHONE).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/export")
    page.get_by_label("PNG: dots to the inch").select_option("300")
    page.get_by_label("SVG and PNG show").select_option("error")
    link = page.get_by_role("link", name="Download: Picture (PNG)")
    assert link.get_attribute("href").endswith("/export/png?drawing=error&dpi=300")
    assert axe(page) == []


def test_a_table_is_brought_in_by_keys_alone(server, device, faults):
    """Pasted, answered and taken without a pointer."""
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/import")
    page.get_by_role("button", name="Paste or type rows").wait_for()

    def reach(locator, most=60):
        for _ in range(most):
            if locator.evaluate("e => e === document.activeElement"):
                return
            page.keyboard.press("Tab")
        pytest.fail(f"Tab does not reach {locator}")

    reach(page.get_by_role("button", name="Paste or type rows"))
    page.keyboard.press("Enter")
    reach(page.get_by_label("Rows as copied"))
    page.keyboard.insert_text(TABLE.decode())
    reach(page.get_by_role("button", name="Look at it"))
    page.keyboard.press("Enter")
    unit = page.get_by_role("group", name="In which unit are the readings?").get_by_role("radio")
    unit.first.wait_for()
    reach(unit.first)
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.get_by_label("On which day").wait_for()


@pytest.mark.parametrize("name", ["import", "export"])
def test_text_may_be_twice_as_large_here(server, device, visit, name):
    """At 200 % nothing sticks out sideways, and every control can be hit with a thumb."""
    page = device({"viewport": {"width": 320, "height": 640}, "has_touch": True}).new_page()
    page.goto(f"{server.address}#/{visit}/{name}")
    page.locator(f".page-{name} h1").wait_for()
    steps.all_saved(page)
    if name == "import":
        choose(page, "t.csv", TABLE)
        page.locator(".asked").first.wait_for()
    wide = page.evaluate(
        "[document.documentElement, document.querySelector('main')]"
        ".map((e) => e.scrollWidth - e.clientWidth)"
    )
    assert max(wide) <= 0
    small = page.evaluate(
        """() => [...document.querySelectorAll(
          "main button, main a.button, main select, summary, label.option")]
        .filter((e) => e.offsetParent)
        .map((e) => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
        .filter(([, r]) => r.height < 48 || r.width < 40).map(([html]) => html)"""
    )
    assert small == []
