"""The client's page in a browser: no script, no fault, large targets, nothing off the side."""

import socket
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import houses
import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from houses import FIRM, LEAD, NOW

from levelbook.app.server import make_firm_app
from levelbook.app.settings import Settings
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate
from levelbook.firm import links
from levelbook.firm.releases import release
from levelbook.firm.reviews import FOR_REVIEW, move

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
AT = "2026-05-20T16:00:00.000000Z"
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1280, 900)}


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Give the address of a page with everything on it: an earlier visit, and a newer issue."""
    folder = tmp_path_factory.mktemp("client")
    database = Database(file_url(folder / "levelbook.sqlite"))
    migrate(database)
    houses.add_firms(database)
    blobs = Blobs(database, Folder(folder / "photos"))
    office = houses.office(database, shelf=blobs.of(FIRM))
    address, label = "9 Reed Row, Marl Creek", "A house with a rather long name, Reed Row 9"

    def released(visit: str, why: str) -> str:
        move(database, LEAD, visit, FOR_REVIEW, why, AT)
        return release(office, LEAD, visit, why, NOW).id

    first = houses.take_in(database, date="2025-05-01", address=address, label=label)
    visit = houses.take_in(database, date="2026-05-14", address=address, label=label)
    released(first, "")
    found = released(visit, "")
    released(visit, "A reading was typed wrong.")
    now = datetime.now(UTC)
    secret, _ = links.new_link(database, LEAD, found, 90, earlier=True, now=now)
    app = make_firm_app(database, blobs, Settings("http://127.0.0.1"))
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}/r/{secret}"
        server.should_exit = True
        thread.join(20)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_can_be_read_and_tapped(
    browser: "Browser", address: str, size: str, scheme: str
) -> None:
    """Nothing scrolls sideways, targets are 44 px high, contrast and names are in order."""
    width, height = SIZES[size]
    view = {"width": width, "height": height}
    context = browser.new_context(viewport=view, color_scheme=scheme)
    page, told = context.new_page(), []
    page.on("console", lambda message: told.append(message.text))
    page.on("requestfailed", lambda request: told.append(request.url))
    page.goto(address)
    page.wait_for_load_state("networkidle")
    assert told == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    loaded = page.evaluate("[...document.images].every(i => i.complete && i.naturalWidth > 0)")
    assert loaded
    for link in page.locator("main a:visible").all():
        box = link.bounding_box()
        assert box is not None
        assert box["height"] >= 44
    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    context.close()


def test_it_needs_no_script_and_leads_to_the_plan(browser: "Browser", address: str) -> None:
    """Without script everything is there; with it the plan to explore answers a tap."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    assert page.get_by_text("There is a newer issue").is_visible()
    assert page.get_by_text("Earlier visits to this house").is_visible()
    context.close()
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page, told = context.new_page(), []
    page.on("pageerror", lambda error: told.append(str(error)))
    page.goto(address)
    page.get_by_role("link", name="Explore the plan").click()
    page.wait_for_url("**/plan.html")
    page.locator("g.station:visible").first.click()
    assert page.locator("#panel h2").is_visible()
    assert told == []
    context.close()


def test_it_prints_with_everything_but_the_buttons(browser: "Browser", address: str) -> None:
    """On paper the buttons are gone, and words, plan and fingerprint stay."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(address)
    page.emulate_media(media="print")
    assert not page.locator(".actions").is_visible()
    assert page.locator("figure img").is_visible()
    assert page.get_by_text("Fingerprint of the record").is_visible()
    context.close()


def test_an_address_that_opens_nothing_says_so(
    browser: "Browser", address: str, tmp_path: Path
) -> None:
    """The page for every wrong address is plain, and passes the same checks."""
    page = browser.new_context().new_page()
    page.goto(address[:-1] + ("A" if address[-1] != "A" else "B"))
    assert page.get_by_role("heading", name="There is nothing at this address").is_visible()
    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    page.context.close()
