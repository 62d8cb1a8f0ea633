"""Pictures of the app's pages with the demo house at three sizes, for the docs.

``python tools/picture_pages.py [FOLDER] [PAGE...]``; without one, docs/pictures/app.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, Page

import picturing
from firm_server import serving
from levelbook.app.server import make_app

PAGES = (
    *("houses", "new", "plan", "readings", "leave", "distress", "report", "details", "history"),
    *("file", "import", "export"),
)
ADDRESSES = {"houses": "#/", "new": "#/new", "file": "#/import"}
TABLE = """station,x (ft),y (ft),reading,finish,remark
A1,2,2,0.5,tile,
A2,12,2,1 3/8,tile,by the door
A3,22,2,-0.25,oak,
A4,22,12,no access,oak,wardrobe
A5,12,12,0.30,oak,
"""


def picture(browser: Browser, address: str, size: str, pages: Sequence[str], folder: Path) -> None:
    """Take the pages at one size."""
    width, height = picturing.SIZES[size]
    viewport = {"width": width, "height": height}
    context = browser.new_context(
        viewport=viewport, reduced_motion="reduce", has_touch=width < 1000
    )
    page = context.new_page()
    page.goto(address)
    page.locator(".houses a").first.wait_for()
    visit = (page.locator(".houses a").first.get_attribute("href") or "").split("/")[1]
    for name in pages:
        page.goto(address + ADDRESSES.get(name, f"#/{visit}/{name}"))
        page.wait_for_load_state("networkidle")
        if name not in ADDRESSES:
            page.locator(".saved.saved").wait_for()
        if name in ("plan", "readings", "distress"):
            page.locator(".plan-doubt").wait_for()
        if name == "report":
            page.locator(".criteria").wait_for()
        if name == "import":
            bring_in(page)
        if name == "export":
            page.locator(".exports .size", has_text="B").nth(9).wait_for()
        page.wait_for_timeout(900)
        picturing.keep(page, folder / f"{name}-{size}.png")
    context.close()


def bring_in(page: Page) -> None:
    """Choose a table of readings, so that the page shows what it asks."""
    table = {"name": "second floor.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    page.get_by_label("Choose a file").set_input_files(files=[table])
    page.locator(".asked").first.wait_for()


def main(arguments: Sequence[str]) -> int:
    """Take all pictures, or those of the pages named."""

    def take(browser: Browser, folder: Path, pages: Sequence[str]) -> None:
        with tempfile.TemporaryDirectory() as kept:
            app = make_app(Path(kept), demo=True)
            with serving(lambda _: app, "127.0.0.1") as address:
                for size in picturing.SIZES:
                    picture(browser, address, size, pages or PAGES, folder)

    return picturing.run(arguments, take)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
