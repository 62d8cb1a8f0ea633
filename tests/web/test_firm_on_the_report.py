"""The firm's name and logo: chosen once, drawn anew as dots, and on the report."""

import json
import urllib.request

import pytest
import steps
from steps import DESKTOP

from levelbook.demo import house

pytestmark = pytest.mark.browser
HOSTILE = (
    b"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 300 100' width='300' height='100'>"
    b"<script>document.title=1</script><rect width='300' height='100' fill='#135'/></svg>"
)


def book(server, page):
    """Return the document of the visit on the page."""
    steps.all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
        return json.load(answer)


def test_a_logo_is_chosen_and_remembered(server, device, faults):
    """A logo with a script in it becomes a plain picture; the next house begins with it."""
    with urllib.request.urlopen(f"{server.address}api/import", data=house()) as answer:
        visit = json.load(answer)["visit"]
    page = device(DESKTOP).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/details")
    page.get_by_label("Firm", exact=True).fill("Marl <i>& Sons</i>")
    page.keyboard.press("Tab")
    page.get_by_label("Choose a logo").set_input_files(
        {"name": "logo.svg", "mimeType": "image/svg+xml", "buffer": HOSTILE}
    )
    page.get_by_alt_text("Logo of Marl <i>& Sons</i>").wait_for()
    found = book(server, page)
    (logo,) = [p for p in found["photos"] if p.get("of") == "logo"]
    with urllib.request.urlopen(f"{server.address}api/photos/{logo['sha256']}") as answer:
        data = answer.read()
    assert data.startswith(b"\x89PNG")
    assert b"script" not in data
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/report.html") as answer:
        report = answer.read().decode()
    assert 'alt="Logo of Marl &lt;i&gt;&amp; Sons&lt;/i&gt;"' in report
    page.get_by_label("Choose a logo").or_(page.get_by_label("Another logo")).set_input_files(
        {"name": "logo.png", "mimeType": "image/png", "buffer": b"GIF89a no"}
    )
    page.get_by_text("This logo cannot be read here").wait_for()
    steps.new_house(page, server.address)
    steps.open_page(page, "House")
    page.get_by_alt_text("Logo of Marl <i>& Sons</i>").wait_for()
    page.get_by_role("button", name="Remove the logo").click()
    page.get_by_alt_text("Logo of").wait_for(state="detached")
