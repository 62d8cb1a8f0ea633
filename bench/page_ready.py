"""How soon the pages are ready on a slow network with nothing kept, and what they weigh.

A real Chromium whose network is slowed by its own developer protocol. The profile is that of
Lighthouse (its source, ``core/config/constants.js``, ``mobileSlow4G``; from memory): a round
trip of 150 ms, 1.6 Mbit/s down, 0.75 Mbit/s up; and, harsher, the same network as Lighthouse
applies it request by request: 562.5 ms of latency to each, 1.44 Mbit/s down, 0.675 up. Ready
means that the page's own controls are on the screen and can be used: for the houses the link
to a new one, for the plan its drawn floor.
``PYTHONPATH=tools python bench/page_ready.py``.
"""

import gzip
import json
import sys
import urllib.request
from dataclasses import dataclass

from playwright.sync_api import Browser, sync_playwright

import chromium
from in_browser import ADDRESS, book, line, server
from levelbook.app.pages import STATIC

TIMES = 7
PHONE = {"width": 390, "height": 844}
LOOK = """(selector) => new Promise((done) => {
  const look = () => {
    const found = document.querySelector(selector);
    if (found && found.getClientRects().length)
      requestAnimationFrame(() => done(performance.now()));
    else requestAnimationFrame(look);
  };
  look();
})"""


@dataclass(frozen=True)
class Network:
    """A network as the browser's developer protocol takes it: ms, and bytes a second."""

    name: str
    latency: float
    down: float
    up: float

    def conditions(self) -> dict[str, object]:
        """Return the parameters of ``Network.emulateNetworkConditions``."""
        return {
            "offline": False,
            "latency": self.latency,
            "downloadThroughput": self.down,
            "uploadThroughput": self.up,
        }


NETWORKS = (
    Network("slow 4G, 150 ms round trip, 1.6 Mbit/s", 150, 1.6e6 / 8, 0.75e6 / 8),
    Network("562.5 ms to each request, 1.44 Mbit/s", 562.5, 1.44e6 / 8, 0.675e6 / 8),
)


def ready(browser: Browser, network: Network, path: str, selector: str) -> float:
    """Return the ms from asking for the page to its being ready, with nothing kept."""
    context = browser.new_context(viewport=PHONE, has_touch=True, bypass_csp=True)
    page = context.new_page()
    protocol = context.new_cdp_session(page)
    protocol.send("Network.enable")
    protocol.send("Network.setCacheDisabled", {"cacheDisabled": True})
    protocol.send("Network.emulateNetworkConditions", network.conditions())
    page.goto(ADDRESS + path, wait_until="commit")
    taken = float(page.evaluate(LOOK, selector))
    context.close()
    return taken


def main() -> None:
    """Measure and print."""
    scripts = sorted((STATIC / "assets").glob("*.js"))
    weights = {s.name.split("-")[0]: len(gzip.compress(s.read_bytes(), 9)) for s in scripts}
    told = ", ".join(f"{name} {size / 1000:.1f}" for name, size in weights.items())
    total = sum(weights.values()) / 1000
    sys.stdout.write(f"script, gzipped: {total:.0f} kB of 350 ({told})\n")
    with sync_playwright() as playwright, server({}):
        with urllib.request.urlopen(f"{ADDRESS}api/import", data=book()) as answer:
            visit = json.load(answer)["visit"]
        pages = {
            "houses": ("", 'a[href="#/new"]'),
            "plan, 150 stations": (f"#/{visit}/plan", ".plan-map canvas"),
            "readings, 150 stations": (f"#/{visit}/readings", ".keys button"),
        }
        browser = playwright.chromium.launch(executable_path=chromium.find(), args=["--no-sandbox"])
        for network in NETWORKS:
            sys.stdout.write(f"{network.name}\n")
            for name, (path, selector) in pages.items():
                taken = [ready(browser, network, path, selector) for _ in range(TIMES)]
                sys.stdout.write("  " + line(name, taken, 24))
        browser.close()


if __name__ == "__main__":
    main()
