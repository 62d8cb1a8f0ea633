"""Pictures of the app's pages with the demo house at three sizes, for the docs.

``python tools/picture_pages.py [FOLDER] [PAGE...]``; without one, docs/pictures/app.
"""

import io
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

import chromium
from levelbook.app.server import make_app

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1280, 800)}
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
COLOURS = 64
FOLDER = Path(__file__).resolve().parent.parent / "docs" / "pictures" / "app"


@contextmanager
def served() -> Iterator[str]:
    """Serve the demo house from a store that is thrown away; give its address."""
    with tempfile.TemporaryDirectory() as folder, socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        server = uvicorn.Server(
            uvicorn.Config(make_app(Path(folder), demo=True), log_level="error")
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.05)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}/"
        server.should_exit = True
        thread.join(20)


def picture(browser: Browser, address: str, size: str, pages: list[str], folder: Path) -> None:
    """Take the pages at one size."""
    width, height = SIZES[size]
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
        image = Image.open(io.BytesIO(page.screenshot()))
        image.convert("RGB").quantize(COLOURS).save(folder / f"{name}-{size}.png", optimize=True)
    context.close()


def bring_in(page: Page) -> None:
    """Choose a table of readings, so that the page shows what it asks."""
    table = {"name": "second floor.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    page.get_by_label("Choose a file").set_input_files(files=[table])
    page.locator(".asked").first.wait_for()


def main(arguments: list[str]) -> int:
    """Take all pictures, or those of the pages named."""
    folder = Path(arguments[0]) if arguments else FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    path = chromium.find()
    if path is None:
        sys.stderr.write(chromium.MISSING + "\n")
        return 2
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        for size in SIZES:
            picture(browser, address, size, arguments[1:] or list(PAGES), folder)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
