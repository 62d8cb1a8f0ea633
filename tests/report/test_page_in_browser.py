"""The page in a real browser: the plan answers, nothing scrolls sideways, no errors."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from levelbook.findings.model import Assessment
from levelbook.report import Report
from levelbook.report.figures import Figures

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

pytestmark = pytest.mark.browser


@pytest.fixture
def file(demo_report: Report, tmp_path: Path) -> str:
    """Return the address of the demo's page on disk."""
    path = tmp_path / "report.html"
    path.write_bytes(demo_report.parts[".html"])
    return path.as_uri()


def station(page: "Page", name: str) -> "Locator":
    """Return a station of the plan that is shown."""
    return page.locator(f'g.station[data-id="{name}"]:visible')


def test_a_tap_tells_the_station(browser: "Browser", file: str, demo: Assessment) -> None:
    """On a phone, a tap on a station shows its level, its reading and the corrections."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, offline=True
    )
    page = context.new_page()
    page.goto(file)
    panel = page.locator("#panel")
    assert "No station is chosen" in panel.inner_text()
    station(page, "21").tap()
    told = panel.inner_text()
    figures = Figures(demo.book.units, 2)
    reading = next(r for r in demo.book.readings if r.station == "21")
    assert "Station 21" in told
    assert figures.level(demo.levels.stations["21"].level) in told
    assert reading.value in told
    assert reading.id in told
    panel.get_by_role("button", name="Close").tap()
    assert "No station is chosen" in panel.inner_text()
    context.close()


def test_a_tap_beside_a_station_takes_the_nearest(browser: "Browser", file: str) -> None:
    """Fingers are wider than marks; the level is told with its uncertainty."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.goto(file)
    box = station(page, "21").locator("circle, path").first.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + box["width"] / 2 + 9, box["y"] + box["height"] / 2 + 3)
    told = page.locator("#panel").inner_text()
    assert re.search(r"Station 21\b", told)
    assert re.search(r"[+−]?\d\.\d\d ± 0\.\d\d in \(95 %\)", told)
    context.close()


def test_two_fingers_and_buttons_bring_the_plan_closer(browser: "Browser", file: str) -> None:
    """The plan grows inside its frame, about where the fingers are, and can be moved there."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto(file)
    paper = page.locator("#live .paper")

    def size() -> float:
        return station(page, "21").evaluate("e => e.getScreenCTM().a")

    before, frame = size(), paper.bounding_box()
    assert frame is not None
    pinch(page, frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2)
    assert size() == pytest.approx(3 * before, rel=0.05)
    assert paper.bounding_box() == frame
    assert paper.evaluate("e => e.scrollLeft > 0 && e.scrollTop > 0")
    page.get_by_role("button", name="Closer").tap()
    assert size() == pytest.approx(4.8 * before, rel=0.05)
    station(page, "21").evaluate("e => e.scrollIntoView({block: 'center', inline: 'center'})")
    station(page, "21").tap()
    assert "Station 21" in page.locator("#panel").inner_text()
    page.get_by_role("button", name="Whole plan").tap()
    assert size() == pytest.approx(before, rel=0.02)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    context.close()


def pinch(page: "Page", x: float, y: float) -> None:
    """Draw two fingers apart about a place, to three times their distance."""
    session = page.context.new_cdp_session(page)
    for kind, half in (("touchStart", 20), ("touchMove", 25), ("touchMove", 75), ("touchEnd", 0)):
        points = [{"x": x - half, "y": y}, {"x": x + half, "y": y}] if half else []
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_the_keyboard_reaches_the_small_plan_too(page: "Page", file: str) -> None:
    """Where the page is enlarged so far that the phone's plan shows, its stations are reached."""
    page.set_viewport_size({"width": 400, "height": 700})
    page.goto(file)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    start = page.evaluate("document.activeElement.dataset.id")
    assert start
    for key in ("ArrowDown", "ArrowRight", "ArrowUp", "ArrowLeft"):
        page.keyboard.press(key)
        assert page.evaluate("document.activeElement.getClientRects().length") > 0
    assert page.evaluate("document.activeElement.dataset.id")


def test_the_keyboard_does_the_same(page: "Page", file: str) -> None:
    """Tab comes to the plan once, arrows go from station to station, Enter chooses."""
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(file)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Tab")
    start = page.evaluate("document.activeElement.dataset.id")
    assert start
    page.keyboard.press("ArrowDown")
    after = page.evaluate("document.activeElement.dataset.id")
    assert after != start
    page.keyboard.press("Enter")
    assert f"Station {after}" in page.locator("#panel").inner_text()
    assert station(page, after).get_attribute("aria-pressed") == "true"
    page.keyboard.press("Escape")
    assert station(page, after).get_attribute("aria-pressed") == "false"
    assert page.evaluate("document.activeElement.dataset.id") == after


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
def test_nothing_scrolls_sideways_and_nothing_fails(page: "Page", file: str, width: int) -> None:
    """At every width the page itself does not scroll sideways, and no error is reported."""
    faults: list[str] = []
    page.on("console", lambda message: faults.append(message.text))
    page.on("pageerror", lambda error: faults.append(str(error)))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(file)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not faults
    assert [a for a in asked if not a.startswith("data:")] == [file]


def test_plan_type_can_be_read_on_a_phone(page: "Page", file: str) -> None:
    """The levels on the phone's plan are at least 9 px high, letters included."""
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(file)
    sizes = page.locator("g.station:visible text").evaluate_all(
        "all => all.map(t => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a)"
    )
    assert len(sizes) > 20
    assert min(sizes) >= 8.5


def test_it_prints(page: "Page", file: str) -> None:
    """For print, what only a screen needs is left out, and tables are not cut by a scroll bar."""
    page.goto(file)
    page.emulate_media(media="print")
    assert not page.locator("#panel").is_visible()
    assert not page.locator("nav").is_visible()
    assert page.locator(".scroll").first.evaluate("e => getComputedStyle(e).overflowX") == "visible"
