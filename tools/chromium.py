"""Find a Chromium for the browser tests, or get one.

Order: the path in ``LEVELBOOK_CHROMIUM``; a browser on PATH; the one Playwright keeps; else
Playwright's download; else Debian's package when this is Debian and we are root.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

VARIABLE = "LEVELBOOK_CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
MISSING = (
    "No Chromium was found and none could be fetched: install one (on Debian: "
    f"apt-get install chromium) or name its path in {VARIABLE}."
)


def _playwright_own() -> str | None:
    """Return the browser that Playwright has downloaded before, if any."""
    from playwright.sync_api import sync_playwright  # heavy, and only needed here

    with sync_playwright() as playwright:
        path = playwright.chromium.executable_path
    return path if Path(path).exists() else None


def find() -> str | None:
    """Return the path of a browser that is already here, or ``None``."""
    named = os.environ.get(VARIABLE)
    if named:
        return shutil.which(named)
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    return on_path or _playwright_own()


def _fetchers() -> list[list[list[str]]]:
    """Return the ways to get a browser, each a list of commands."""
    ways = [[[sys.executable, "-m", "playwright", "install", "chromium"]]]
    if Path("/etc/debian_version").exists() and hasattr(os, "geteuid") and os.geteuid() == 0:
        ways.append([["apt-get", "update", "-qq"], ["apt-get", "install", "-y", "-qq", "chromium"]])
    return ways


def fetch() -> str | None:
    """Try each way to get a browser; return its path, or ``None`` where all failed."""
    for way in _fetchers():
        try:
            for command in way:
                subprocess.run(command, check=True, timeout=300, stdin=subprocess.DEVNULL)
        except (OSError, subprocess.SubprocessError):
            continue
        path = find()
        if path:
            return path
    return None
