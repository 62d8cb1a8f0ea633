"""How quickly the pages show what a reading changes, and what they weigh.

A house of 150 stations, one of them read with a slip that nobody has answered yet, in a real
Chromium against the server on this machine: from the tap on Save to the number on the plan's
page, and to the renewed floor, with the share of every stage on the way.
``PYTHONPATH=tools python bench/in_browser.py``.
"""

import gzip
import json
import math
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

import chromium
from levelbook.app.pages import STATIC

STATIONS, READINGS, PORT = 150, 25, 8399
ADDRESS = f"http://127.0.0.1:{PORT}/"
HERE = Path(__file__).resolve().parent
CALLS = """performance.getEntriesByType("resource")
  .filter((e) => e.name.includes("/api/")).slice(-2).map((e) =>
    ({startTime: e.startTime, duration: e.duration, responseEnd: e.responseEnd}))"""
WATCH = """() => { window.marks = {};
  const seen = (name) => { if (!(name in marks)) marks[name] = performance.now(); };
  const live = document.querySelector(".live");
  let before = live.textContent;
  new MutationObserver(() => {
    const text = document.querySelector(".live").textContent;
    if (text !== before) seen("shown");
    if (text !== before && !text.includes("older") && !("renewed" in marks)) {
      seen("renewed");
      requestAnimationFrame(() => setTimeout(() => seen("drawn")));
    }
  }).observe(document.querySelector(".sheet"),
    {subtree: true, childList: true, characterData: true});
  document.querySelector(".k-save").addEventListener("click", () => {
    before = document.querySelector(".live").textContent; marks = {start: performance.now()};
  }, true); }"""


def floor(x: float, y: float) -> float:
    """Return the height of the floor: so nearly level that 0.3 in may be read anywhere."""
    return 0.3 + 0.15 * math.sin(x / 11) * math.cos(y / 13)


def book() -> bytes:
    """Return a house of 150 stations on one tile floor, the reading at the last a slip."""
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
            "value": f"{floor(s['at'][0], s['at'][1]) + ((k * 7) % 13 - 6) / 120:.1f}",
        }
        for k, s in enumerate(stations)
    ]
    readings[-1]["value"] = "4.0"
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
        for key in ("Point", str(k % 3 + 2)):
            page.locator(".keys").get_by_role("button", name=key, exact=True).click()
        page.get_by_role("button", name="Save and go on").click()
        page.wait_for_function("() => marks.drawn")
        marks = page.evaluate("marks")
        sent, asked = page.evaluate(CALLS)
        taken.append(
            {
                "shown": marks["shown"] - marks["start"],
                "written down": sent["startTime"] - marks["start"],
                "sent": sent["duration"],
                "asked": asked["startTime"] - sent["responseEnd"],
                "answered": asked["duration"],
                "drawn": marks["drawn"] - asked["responseEnd"],
                "renewed": marks["renewed"] - marks["start"],
                "renewed and drawn": marks["drawn"] - marks["start"],
            }
        )
        page.evaluate("performance.clearResourceTimings()")
        page.wait_for_timeout(150)
    return taken


@contextmanager
def server(told: dict[str, list[float]]) -> Iterator[None]:
    """Serve an empty store as a process of its own; its times are in ``told`` afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, str(HERE / "timed_server.py"), folder, str(PORT)]
        pipe = subprocess.PIPE
        with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as process:
            while not answers():
                time.sleep(0.05)
            yield
            told |= json.loads(process.communicate()[0])


def answers() -> bool:
    """Whether the server is there."""
    try:
        urllib.request.urlopen(ADDRESS).close()
    except OSError:
        return False
    return True


def line(name: str, times: list[float], width: int = 20) -> str:
    """Return the median and the 95th percentile of some times as a line."""
    ordered = sorted(times)
    high = ordered[int(0.95 * (len(ordered) - 1))]
    return f"{name:{width}}{statistics.median(times):6.0f} ms, 95 % {high:.0f} ms\n"


def main() -> None:
    """Measure and print."""
    scripts = sorted((STATIC / "assets").glob("*.js"))
    weight = sum(len(gzip.compress(s.read_bytes(), 9)) for s in scripts)
    sys.stdout.write(f"script, gzipped: {weight / 1000:.0f} kB in {len(scripts)} files\n")
    told: dict[str, list[float]] = {}
    with sync_playwright() as playwright, server(told):
        with urllib.request.urlopen(f"{ADDRESS}api/import", data=book()) as answer:
            visit = json.load(answer)["visit"]
        browser = playwright.chromium.launch(executable_path=chromium.find(), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 844}, bypass_csp=True)
        page.goto(f"{ADDRESS}#/{visit}/readings")
        page.get_by_role("button", name="Tile", exact=True).click()
        page.locator(".live", has_text="highest to lowest").wait_for()
        page.wait_for_timeout(1500)
        taken = measure(page)
        browser.close()
    for stage in taken[0]:
        sys.stdout.write(line(stage, [each[stage] for each in taken]))
    sys.stdout.write("of the answers, on the server\n")
    for stage, times in told.items():
        sys.stdout.write(line(f"  {stage}", times[-READINGS:]))


if __name__ == "__main__":
    main()
