"""A newer version of the app takes over, and nothing that was written is lost."""

import shutil
from pathlib import Path

import pytest
import steps
from steps import PHONE

from levelbook.app import pages

pytestmark = pytest.mark.browser
MARK = 'document.documentElement.dataset.version = "newer";'


def newer(folder: Path) -> Path:
    """Return a copy of the bundle as a later build: a script of another name and content."""
    copy = folder / "newer"
    shutil.copytree(pages.STATIC, copy)
    start = (copy / "index.html").read_text("utf-8")
    (script,) = [s for s in (copy / "assets").glob("index-*.js") if s.name in start]
    script.write_text(f"{MARK}\n{script.read_text('utf-8')}", "utf-8")
    script.rename(script.with_name("index-newer000.js"))
    for name in ("index.html", "sw.js", *(f"assets/{s.name}" for s in copy.glob("assets/*.js"))):
        text = (copy / name).read_text("utf-8").replace(script.name, "index-newer000.js")
        if name == "sw.js":
            text = text.replace('"index.html",revision:"', '"index.html",revision:"newer')
        (copy / name).write_text(text, "utf-8")
    return copy


def test_a_newer_version_takes_over(server, device, faults, tmp_path, monkeypatch):
    """Entries that wait on the device outlive the change, and the new version sends them."""
    context = device(PHONE)
    page = context.new_page()
    page.goto(server.address)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.wait_for_function("() => navigator.serviceWorker.controller")
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    steps.all_saved(page)
    page.route("**/sync", lambda route: route.abort())
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    for value in ("1", "2", "3"):
        steps.key_in(page, value)
    steps.count_readings(page, 3)
    page.get_by_text("kept here").wait_for()
    assert page.evaluate("document.documentElement.dataset.version") is None

    monkeypatch.setattr(pages, "STATIC", newer(tmp_path))
    page.evaluate("navigator.serviceWorker.getRegistration().then((r) => r.update())")
    page.get_by_text("A newer version is ready. What you wrote stays.").wait_for()
    steps.key_in(page, "4")
    steps.count_readings(page, 4)
    with page.expect_navigation():
        page.get_by_role("button", name="Change to it").click()
    page.wait_for_function("() => document.documentElement.dataset.version === 'newer'")
    steps.count_readings(page, 4)
    page.get_by_text("kept here").wait_for()
    context.set_offline(offline=True)
    page.reload()
    page.wait_for_function("() => document.documentElement.dataset.version === 'newer'")
    steps.count_readings(page, 4)
    context.set_offline(offline=False)
    page.unroute("**/sync")
    page.evaluate("dispatchEvent(new Event('online'))")
    steps.all_saved(page)
    faults(page)
    steps.key_in(page, "5")
    steps.count_readings(page, 5)
