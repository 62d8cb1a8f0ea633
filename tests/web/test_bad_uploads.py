"""What nobody should choose or write: refused in words, or shown as the text that it is."""

import io
import json
import struct
import urllib.request
import zlib

import pytest
import steps
from PIL import Image
from steps import DESKTOP

from levelbook.demo import house

pytestmark = pytest.mark.browser
MARKUP = "<img src=x onerror=\"document.title='taken'\">=cmd|' /C calc'!A0"
PAGES = ("plan", "readings", "distress", "leave", "report", "details", "history", "compare")
PAGES += ("export",)


def bomb():
    """Return a PNG of a few bytes that claims 60,000 by 60,000 dots."""

    def chunk(kind, data):
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body


def photo():
    """Return a small JPEG."""
    data = io.BytesIO()
    Image.new("RGB", (40, 30), (90, 90, 90)).save(data, "JPEG")
    return data.getvalue()


def imported(server, data=None):
    """Take a book in and return the visit's id."""
    with urllib.request.urlopen(f"{server.address}api/import", data=data or house()) as answer:
        return json.load(answer)["visit"]


def test_bad_pictures_are_refused_in_words(server, device, faults, tmp_path):
    """A bomb, 200 MB, another type and a damaged file are told apart; nothing is sent."""
    page = device(DESKTOP).new_page()
    faults(page)
    sent = []
    page.on("request", lambda r: sent.append(r.url) if r.method == "PUT" else None)
    visit = imported(server)
    page.goto(f"{server.address}#/{visit}/distress")
    choose = page.get_by_label("Photograph", exact=True)
    large = tmp_path / "large.jpg"
    with large.open("wb") as file:
        file.truncate(200_000_000)
    for file, told in (
        ({"name": "b.png", "mimeType": "image/png", "buffer": bomb()}, "more dots than"),
        (large, "larger than 40 MB"),
        ({"name": "x.jpg", "mimeType": "image/jpeg", "buffer": b"%PDF-1.7"}, "cannot be read"),
        ({"name": "d.jpg", "mimeType": "image/jpeg", "buffer": photo()[:200]}, "cannot be read"),
    ):
        choose.set_input_files(file)
        page.get_by_text(told).wait_for()
    page.goto(f"{server.address}#/{visit}/plan")
    page.get_by_role("button", name="Trace a picture").click()
    page.get_by_label("Choose a picture").set_input_files(large)
    page.get_by_text("larger than 40 MB").wait_for()
    assert sent == []


def test_a_name_is_only_a_name(server, device, faults):
    """A file's name with a path and a script in it is shown and kept as text."""
    page = device(DESKTOP).new_page()
    faults(page)
    visit = imported(server)
    page.goto(f"{server.address}#/{visit}/distress")
    page.locator(".plan-map canvas").first.wait_for()
    page.locator(".plan-map").click(position={"x": 200, "y": 200})
    name = "..\\..\\etc\\<img src=x onerror=alert(1)>.jpg"
    page.get_by_label("Photograph", exact=True).set_input_files(
        {"name": name, "mimeType": "image/jpeg", "buffer": photo()}
    )
    page.get_by_text("<img src=x onerror=alert(1)>.jpg").wait_for()
    page.get_by_role("button", name="Keep this sign").click()
    page.locator(".list img.thumb").wait_for()
    steps.all_saved(page)
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
        last = json.load(answer)["photos"][-1]
    assert last["name"] == "<img src=x onerror=alert(1)>.jpg"
    assert page.title() == "Distress · Levelbook"


def test_bad_books_are_refused_in_words(server, device, tmp_path):
    """A file of another kind, one with faults and one of 200 MB open nothing and say why."""
    page = device(DESKTOP).new_page()
    page.goto(f"{server.address}#/import")
    broken = json.loads(house())
    broken["readings"][3]["station"] = MARKUP[:60]
    large = tmp_path / "large.json"
    with large.open("wb") as file:
        file.truncate(200_000_000)
    for file, told in (
        (large, "larger than"),
        ({"name": "a.json", "mimeType": "application/json", "buffer": b"PK\3\4"}, "JSON"),
        (
            {
                "name": "f.json",
                "mimeType": "application/json",
                "buffer": json.dumps(broken).encode(),
            },
            "readings[3].station",
        ),
    ):
        page.get_by_label("Choose a file").set_input_files(file)
        page.locator(".note.warn", has_text=told).wait_for()
        page.reload()
    assert page.locator(".note img").count() == 0
    assert page.title() == "From a file · Levelbook"


def hostile():
    """Return the demo house with markup in every field that people write in."""
    book = json.loads(house())
    book["property"] |= {"label": MARKUP, "address": MARKUP, "notes": MARKUP}
    for name in ("surveyor", "licence", "firm", "weather", "notes"):
        book["visit"][name] = MARKUP
    for finish in book["finishes"]:
        finish["name"] = MARKUP
    for mark in book.get("marks", []):
        mark["label"] = MARKUP
    for kind in ("stations", "readings", "distress"):
        for thing in book[kind]:
            thing["note"] = MARKUP
    return json.dumps(book).encode()


def test_markup_is_text_on_every_page(server, device, faults):
    """Whatever is written in whichever field runs nothing and makes no element on any page."""
    visit = imported(server, hostile())
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(server.address)
    page.locator(".houses strong", has_text=MARKUP).wait_for()
    for name in PAGES:
        page.goto(f"{server.address}#/{visit}/{name}")
        page.locator("header .house", has_text=MARKUP).wait_for()
        steps.all_saved(page)
        if name == "report":
            page.locator(".criteria").wait_for()
        assert page.locator('img[src="x"], [onerror]').count() == 0, name
        assert page.title().endswith("Levelbook"), name


def test_markup_is_text_in_every_file(server):
    """Drawings hold no element and tables no formula made of what was written."""
    visit = imported(server, hostile())

    def get(path):
        with urllib.request.urlopen(f"{server.address}api/visits/{visit}/{path}") as answer:
            return answer.read().decode("utf-8-sig")

    for kind in ("levels", "deflection", "error"):
        drawn = get(f"plan.svg?kind={kind}&width=400&height=300")
        assert "<img" not in drawn
    assert "&lt;img src=x" in get("plan.svg?kind=levels&width=400&height=300")
    for table in ("readings", "levels"):
        lines = get(f"report.{table}.csv").splitlines()
        cells = [cell.strip('"') for line in lines for cell in line.split(",")]
        assert not [cell for cell in cells if cell.startswith(("=", "@", "+cmd", "\t"))]
    assert "<img src=x" not in get("report.html")
