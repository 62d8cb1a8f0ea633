"""The list of a firm's houses in a browser: more than one page of it, searched and narrowed."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
import sqlalchemy as sa
from firm_steps import join
from icalendar import Calendar
from playwright.sync_api import Page, expect
from steps import DESKTOP, PHONE

from firm_server import FirmServer, served
from levelbook.archive.remind import year_after
from levelbook.archive.tables import VISITS
from levelbook.archive.words import index_visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
HOUSES = 65


@dataclass(frozen=True)
class Office:
    """A firm's server with many houses, and a device on which its owner is signed in."""

    firm: FirmServer
    signed_in: Any

    def device(self, kind: dict[str, object]) -> dict[str, object]:
        """Return a kind of device as one on which the owner is signed in."""
        return {**kind, "storage_state": self.signed_in}


def put(firm: FirmServer, rows: Iterable[dict[str, object]]) -> None:
    """Put visits into the list."""
    with firm.database.use(firm.firm) as connection:
        for row in rows:
            noted = {"assessed": row["updated"]}
            connection.execute(sa.insert(VISITS).values(firm=firm.firm, **noted, **row))
            index_visit(connection, firm.firm, str(row["id"]))


def houses() -> Iterator[dict[str, object]]:
    """Yield houses as the visits of two years left them."""
    findings = ("nothing unusual", "keep watching", "ask an engineer")
    for k in range(HOUSES):
        yield {
            "id": f"visit-{k:05d}",
            "label": f"House {k:02d}",
            "address": f"{k} Cane Close, Marl Creek",
            "date": f"202{5 + k % 2}-{1 + k % 12:02d}-1{k % 9}",
            "purpose": "baseline",
            "stations": 1 + k,
            "updated": f"2026-05-01T10:{k // 60:02d}:{k % 60:02d}.000000Z",
            "inspector": ("Béa Reed", "Ben Reedy", "Cleo Marl")[k % 3],
            "instrument": "A-104",
            "state": "for review" if k % 10 == 0 else "draft",
            "finding": findings[k % 3],
        }


@pytest.fixture(scope="module")
def office(browser: "Browser", tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """Give a firm with many houses."""
    with served(tmp_path_factory.mktemp("office")) as firm:
        put(firm, houses())
        context = browser.new_context()
        page = context.new_page()
        join(page, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
        kept = context.storage_state()
        context.close()
        yield Office(firm, kept)


def names(page: Page) -> list[str]:
    """Return the houses of the list as it stands."""
    return page.locator(".houses a strong").all_inner_texts()


def told(page: Page, words: str) -> None:
    """Wait until the list tells this of itself."""
    page.locator("main [role=status]", has_text=words).wait_for()


def test_more_houses_come_a_page_at_a_time(office, device, faults):
    """Each house comes once, the last written first; the first of the new ones gets the focus."""
    page = device(office.device(PHONE)).new_page()
    faults(page)
    page.goto(office.firm.address)
    told(page, "The last 30 houses")
    more = page.get_by_role("button", name="More houses")
    more.evaluate("button => { button.click(); button.click(); }")
    told(page, "The last 60 houses")
    expect(page.get_by_role("link", name="House 34")).to_be_focused()
    more.click()
    told(page, f"{HOUSES} houses")
    expect(more).to_have_count(0)
    expect(page.get_by_role("link", name="House 04")).to_be_focused()
    assert names(page) == [f"House {k:02d}" for k in reversed(range(HOUSES))]


def test_houses_are_searched_and_narrowed_as_people_write(office, device, faults):
    """Words by their beginnings, days as people write them, names from those in use."""
    page = device(office.device(DESKTOP)).new_page()
    faults(page)
    page.goto(office.firm.address)
    told(page, "The last 30 houses")
    search = page.get_by_label("Search")
    search.fill("cane nov 2025")
    told(page, "Visits of November 2025: 5 houses")
    search.fill("11/17/2025")
    told(page, "Visits of November 17, 2025: one house")
    search.fill("11/19/2025")
    told(page, "Visits of November 19, 2025: none")
    page.get_by_text("a date may be written as 2026-11, 11/25/2026 or Nov 2026").wait_for()
    search.fill("engineer 17")
    told(page, "One house")
    search.fill("")
    page.get_by_role("button", name="For review").click()
    told(page, "7 houses")
    expect(page.get_by_role("button", name="For review")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Show all again").click()
    page.get_by_text("Narrow down").click()
    inspector = page.get_by_label("Inspector")
    expect(page.locator('option[value="Cleo Marl"]')).to_have_count(1)
    offered = page.locator("datalist", has=page.locator('option[value="Cleo Marl"]'))
    assert offered.locator("option").evaluate_all("all => all.map((one) => one.value)") == [
        "Béa Reed", "Ben Reedy", "Cleo Marl",
    ]  # fmt: skip
    inspector.fill("ree be")
    told(page, "The last 30 houses")
    inspector.fill("bea")
    told(page, "22 houses")
    page.get_by_label("Finding").select_option("nothing unusual")
    told(page, "22 houses")
    page.get_by_label("Visited from").fill("2026-01-01")
    told(page, "11 houses")
    page.get_by_role("link", name="New house").click()
    page.go_back()
    told(page, "11 houses")
    expect(page.get_by_label("Inspector")).to_have_value("bea")


def test_what_is_due_goes_into_a_calendar(office, device, faults, tmp_path):
    """The file that the page gives has a whole day for each house due, four weeks ahead."""
    today = datetime.now(UTC).date()
    first = {f"Due {k}": today - timedelta(365 - 20 * k) for k in range(3)}
    rows = (
        {"id": f"due-{k}-visit", "label": label, "date": day.isoformat(), "updated": "2020"}
        for k, (label, day) in enumerate(first.items())
    )
    put(office.firm, rows)
    page = device({**office.device(DESKTOP), "accept_downloads": True}).new_page()
    faults(page)
    page.goto(f"{office.firm.address}#/due")
    page.get_by_label("Within").select_option("120")
    page.get_by_role("link", name="Due 2").wait_for()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Take into a calendar").click()
    assert coming.value.suggested_filename == "levelbook-due.ics"
    coming.value.save_as(tmp_path / "due.ics")
    found = Calendar.from_ical((tmp_path / "due.ics").read_bytes())
    days = {str(e["summary"]): e.decoded("dtstart") for e in found.walk("VEVENT")}
    for label, day in first.items():
        end = year_after(day)
        assert end is not None
        assert days.pop(f"Floor levels again: {label}") == end - timedelta(weeks=4)
    shown = set(page.locator(".houses a strong").all_inner_texts()) - set(first)
    assert {f"Floor levels again: {label}" for label in shown} == set(days)
