"""What the tools that take pictures of pages share: sizes, a browser, and how one is kept."""

import io
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

import chromium

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1280, 800)}
COLOURS = 64
FOLDER = Path(__file__).resolve().parent.parent / "docs" / "pictures" / "app"


def keep(page: Page, target: Path) -> None:
    """Write what a page shows as a small picture."""
    image = Image.open(io.BytesIO(page.screenshot()))
    image.convert("RGB").quantize(COLOURS).save(target, optimize=True)


def run(arguments: Sequence[str], take: Callable[[Browser, Path, Sequence[str]], None]) -> int:
    """Let ``take`` write pictures into the folder named first; return the exit code.

    ``take`` gets a browser, the folder and the other arguments.
    """
    folder = Path(arguments[0]) if arguments else FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    path = chromium.find()
    if path is None:
        sys.stderr.write(chromium.MISSING + "\n")
        return 2
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        take(browser, folder, arguments[1:])
        browser.close()
    return 0
