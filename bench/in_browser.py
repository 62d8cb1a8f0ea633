"""How quickly the pages show what a reading changes, and what they weigh.

A house of 150 stations in a real Chromium against the server on this machine: from the tap on
Save to the number on the plan's page, and to the renewed floor.
``PYTHONPATH=tools python bench/in_browser.py``.
"""

import gzip
import json
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

import uvicorn
from playwright.sync_api import Page, sync_playwright

import chromium
from levelbook.app.pages import STATIC
from levelbook.app.server import make_app

STATIONS, READINGS, PORT = 150, 25, 8399
ADDRESS = f"http://127.0.0.1:{PORT}/"
WATCH = """() => { window.marks = {};
  const seen = (name) => { if (!(name in marks)) marks[name] = performance.now(); };
  const live = document.querySelector(".live");
  let before = live.textContent;
  new MutationObserver(() => {
    const text = document.querySelector(".live").textContent;
    if (text !== before) seen("shown");
    if (text !== before && !text.includes("older")) seen("renewed");
  }).observe(document.querySelector(".sheet"),
    {subtree: true, childList: true, characterData: true});
  document.querySelector(".k-save").addEventListener("click", () => {
    before = document.querySelector(".live").textContent; marks = {start: performance.now()};
  }, true); }"""


def book() -> bytes:
    """Return a house of 150 stations on one tile floor."""
    stations = [
        {"id": str(k + 1), "at": [0.5 + 5 * (k % 15), 0.5 + 6 * (k // 15)], "area": "house"}
        for k in range(STATIONS)
    ]
    readings = [
        {
            "id": f"r{k + 1}",
            "setup": "A",
            "station": s["id"],
            "finish": "tile",
            "value": f"{((k * 7) % 13) / 40 + s['at'][0] / 60:.1f}",
        }
        for k, s in enumerate(stations)
    ]
    document = {
        "format": "levelbook/1",
        "units": {"level": "in", "plan": "ft"},
        "property": {"label": "Bench house (invented)"},
        "visit": {"date": "2026-03-02"},
        "instruments": [
            {
                "id": "L1",
                "kind": "hydrostatic",
                "higher_reads": "more",
                "resolution": 0.1,
                "sd": 0.05,
            }
        ],
        "areas": [
            {"id": "house", "kind": "living", "outline": [[0, 0], [100, 0], [100, 60], [0, 60]]}
        ],
        "finishes": [{"id": "tile", "name": "Tile"}],
        "setups": [{"id": "A", "instrument": "L1"}],
        "stations": stations,
        "readings": readings,
        "reference": {"station": "1"},
    }
    return json.dumps(document).encode()


def measure(page: Page) -> list[dict[str, float]]:
    """Take readings by the keypad; return what each took in ms, by stage."""
    page.evaluate(WATCH)
    taken = []
    for k in range(READINGS):
        page.locator(".keys").get_by_role("button", name=str(k % 9 + 1), exact=True).click()
        page.get_by_role("button", name="Save and go on").click()
        page.wait_for_function("() => marks.renewed")
        marks = page.evaluate("marks")
        calls = page.evaluate(
            "performance.getEntriesByType('resource').filter((e) => e.name.includes('/api/'))"
            ".slice(-2).map((e) => e.duration)"
        )
        taken.append(
            {
                "shown": marks["shown"] - marks["start"],
                "sent": calls[0],
                "worked out": calls[1],
                "renewed": marks["renewed"] - marks["start"],
            }
        )
        page.evaluate("performance.clearResourceTimings()")
        page.wait_for_timeout(150)
    return taken


def main() -> None:
    """Measure and print."""
    scripts = sorted((STATIC / "assets").glob("*.js"))
    weight = sum(len(gzip.compress(s.read_bytes(), 9)) for s in scripts)
    sys.stdout.write(f"script, gzipped: {weight / 1000:.0f} kB in {len(scripts)} files\n")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        config = uvicorn.Config(make_app(Path(folder)), port=PORT, log_level="error")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.05)
        with urllib.request.urlopen(f"{ADDRESS}api/import", data=book()) as answer:
            visit = json.load(answer)["visit"]
        browser = playwright.chromium.launch(executable_path=chromium.find(), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 844}, bypass_csp=True)
        page.goto(f"{ADDRESS}#/{visit}/readings")
        page.get_by_role("button", name="Tile", exact=True).click()
        page.locator(".live", has_text="highest to lowest").wait_for()
        page.wait_for_timeout(1500)
        taken = measure(page)
        for stage in taken[0]:
            times = sorted(each[stage] for each in taken)
            high = times[int(0.95 * (len(times) - 1))]
            line = f"{stage}: median {statistics.median(times):.0f} ms, 95 % {high:.0f} ms\n"
            sys.stdout.write(line)
        browser.close()
        server.should_exit = True
        thread.join(10)


if __name__ == "__main__":
    main()
