"""Coming and going on a firm's pages: signing out, a reset, a new role, being shut out, links."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest
import steps
from firm_steps import from_page, invite, join, sign_in, take_in
from playwright.sync_api import Locator, Page, Route, expect
from steps import DESKTOP, PHONE

from firm_server import PASSWORD, FirmServer, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
ANN, BEN = "ann@alder-ridge.example", "ben@alder-ridge.example"
FRESH = "four brown otters resting"
SYNC = "**/api/visits/*/sync"


@dataclass(frozen=True)
class Office:
    """A firm's server where somebody is signed in as its owner, and has released a house."""

    firm: FirmServer
    owner: Page
    visit: str

    def at(self, page: str) -> str:
        """Return the address of a page."""
        return f"{self.firm.address}#/{page}"


@pytest.fixture(scope="module")
def office(browser: "Browser", tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """Give a firm with its owner at the desk."""
    with served(tmp_path_factory.mktemp("office")) as firm:
        context = browser.new_context(reduced_motion="reduce")
        context.set_default_timeout(20_000)
        # A device without a share sheet of its own: what is shared is kept to look at.
        context.add_init_script(
            "window.shared = []; navigator.share = async (what) => { window.shared.push(what); };"
        )
        owner = context.new_page()
        join(owner, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
        visit = take_in(owner)
        for state, address in (("for review", "state"), ("released", "release")):
            body = {"reason": "", "state": state, "digest": ""}
            assert from_page(owner, "POST", f"/api/visits/{visit}/{address}", body) == 201
        yield Office(firm, owner, visit)
        context.close()


@pytest.fixture
def faults() -> Iterator[Callable[[Page], None]]:
    """Give a watcher of pages: a script error or a blocked resource fails the test."""
    yield from steps.watching("Failed to load resource")


@pytest.fixture
def ben(office, device, faults) -> Page:
    """Give the page of a surveyor on a device of his own, as he comes by an invitation or again."""
    page = device(PHONE).new_page()
    faults(page)
    person(office, "Ann Alder").wait_for()
    if office.owner.get_by_label("Role of Ben Reed").count() == 0:
        join(page, invite(office.owner, office.firm, BEN, "surveyor"), "Ben Reed")
    else:
        enter(page, office)
    return page


def enter(page: Page, office: Office, email: str = BEN) -> None:
    """Sign in with the usual password."""
    page.goto(office.firm.address)
    sign_in(page, email)
    page.get_by_role("link", name="New house").wait_for()


def person(office: Office, name: str) -> Locator:
    """Return what the owner's page has about somebody."""
    office.owner.goto(office.at("people"))
    office.owner.reload()
    return office.owner.get_by_role("region", name=name)


def test_signing_out_says_what_waits_and_keeps_it(office, ben):
    """Nothing is lost and nobody else sees it: it is sent when its writer signs in again."""
    steps.new_house(ben, office.firm.address, "A house by Ben")
    steps.all_saved(ben)
    visit = ben.url.split("#/")[1].split("/")[0]
    ben.context.route(SYNC, lambda route: route.abort())
    ben.goto(office.at(f"{visit}/details"))
    for label, text in (("Firm", "Not sent yet"), ("Address", "3 Reed Row")):
        ben.get_by_label(label, exact=True).fill(text)
        ben.keyboard.press("Tab")
    ben.locator(".saved", has_text="2 kept here").wait_for()
    ben.goto(office.at("account"))
    ben.get_by_role("button", name="Sign out", exact=True).click()
    ben.get_by_text("2 entries and photographs wait on this device").wait_for()
    expect(ben.get_by_role("button", name="Sign out and clear")).to_have_count(0)
    ben.get_by_role("button", name="Sign out all the same").click()
    ben.get_by_role("heading", name="Sign in").wait_for()
    assert "3 Reed Row" not in ben.content()
    ben.context.unroute(SYNC)
    enter(ben, office, ANN)
    ben.get_by_role("link", name="A house by Ben").click()
    steps.all_saved(ben)
    ben.goto(office.at(f"{visit}/details"))
    expect(ben.get_by_label("Address", exact=True)).to_have_value("")
    history = f"{office.firm.address}api/visits/{visit}/history"
    assert "3 Reed Row" not in ben.request.get(history).text()
    ben.goto(office.at("account"))
    ben.get_by_role("button", name="Sign out", exact=True).click()
    ben.get_by_role("button", name="Sign out and clear").click()
    ben.get_by_role("heading", name="Sign in").wait_for()
    enter(ben, office)
    with ben.expect_response(SYNC):
        ben.goto(office.at(f"{visit}/details"))
    expect(ben.get_by_label("Address", exact=True)).to_have_value("3 Reed Row")
    steps.all_saved(ben)
    sent = ben.request.get(history).text()
    assert "3 Reed Row" in sent
    assert "Not sent yet" in sent


def test_a_reset_leads_to_a_new_password_and_ends_the_old(office, device, ben):
    """The owner's address sets a password once; old password and open devices are out."""
    about = person(office, "Ben Reed")
    about.get_by_role("button", name="Reset the password of Ben Reed").click()
    about.get_by_role("button", name="Make the address").click()
    address = about.get_by_label("Address by which Ben Reed sets a new password").input_value()
    other = device(DESKTOP).new_page()
    other.goto(address)
    other.get_by_label("New password", exact=True).fill(FRESH)
    other.get_by_role("button", name="Set the password").click()
    other.get_by_role("link", name="New house").wait_for()
    ben.goto(office.at("due"))
    ben.get_by_text("Your session has ended").wait_for()
    ben.get_by_role("button", name="Sign in").click()
    ben.get_by_label("Password", exact=True).fill(PASSWORD)
    ben.get_by_role("button", name="Sign in", exact=True).click()
    ben.get_by_role("alert").wait_for()
    ben.get_by_label("Password", exact=True).fill(FRESH)
    ben.get_by_role("button", name="Sign in", exact=True).click()
    ben.get_by_role("heading", name="What is due").wait_for()
    again = device(DESKTOP).new_page()
    again.goto(address)
    again.get_by_text("An address works once").wait_for()
    body = {"old": FRESH, "new": PASSWORD}
    assert from_page(ben, "POST", "/api/password", body) == 200


def test_a_new_role_shows_on_an_open_page(office, ben):
    """A surveyor's open page offers a reviewer's deeds once there is the role, and no longer."""
    review = office.at(f"{office.visit}/review")
    ben.goto(review)
    ben.get_by_text("A reviewer or an owner makes them").wait_for()
    role = person(office, "Ben Reed").get_by_label("Role of Ben Reed")
    role.select_option("reviewer")
    person(office, "Ben Reed").get_by_label("Role of Ben Reed").wait_for()
    ben.wait_for_timeout(3_100)
    ben.goto(office.at("due"))
    ben.goto(review)
    ben.get_by_text("New address for a client").click()
    role = person(office, "Ben Reed").get_by_label("Role of Ben Reed")
    expect(role).to_have_value("reviewer")
    role.select_option("surveyor")
    office.owner.wait_for_load_state("networkidle")
    ben.get_by_role("button", name="Make the address").click()
    ben.get_by_text("A reviewer or an owner makes them").wait_for()
    expect(ben.get_by_text("New address for a client")).to_have_count(0)


def test_somebody_shut_out_can_do_nothing_more_and_loses_nothing(office, ben):
    """The open page says that the session is over; what is written then waits for being let in."""
    steps.new_house(ben, office.firm.address, "Shut out here")
    steps.all_saved(ben)
    visit = ben.url.split("#/")[1].split("/")[0]
    ben.goto(office.at(f"{visit}/details"))
    about = person(office, "Ben Reed")
    about.get_by_role("button", name="Shut Ben Reed out").click()
    about.get_by_role("button", name="Shut out", exact=True).click()
    about.get_by_text("Shut out since").wait_for()
    ben.get_by_label("Address", exact=True).fill("5 Reed Row")
    ben.keyboard.press("Tab")
    ben.get_by_text("Your session has ended").wait_for()
    ben.locator(".saved", has_text="Signed out · 1 kept here").wait_for()
    ben.get_by_role("button", name="Sign in").click()
    ben.get_by_label("Password", exact=True).fill(PASSWORD)
    ben.get_by_role("button", name="Sign in", exact=True).click()
    ben.get_by_role("alert").wait_for()
    person(office, "Ben Reed").get_by_role("button", name="Let in again").click()
    office.owner.get_by_role("button", name="Shut Ben Reed out").wait_for()
    ben.get_by_role("button", name="Sign in", exact=True).click()
    steps.all_saved(ben)
    history = ben.request.get(f"{office.firm.address}api/visits/{visit}/history").text()
    assert "5 Reed Row" in history


def test_a_page_that_opens_before_the_server_knows_it_tells_no_fault(office, device, faults):
    """What is sent before the session's token is here is sent again, and nothing is told of it."""
    page = device(DESKTOP).new_page()
    faults(page)
    enter(page, office, ANN)
    page.goto(office.at(f"{office.visit}/details"))
    steps.all_saved(page)
    held: list[Route] = []
    waits = [True]
    page.route("**/api/me", lambda each: held.append(each) if waits else each.continue_())
    with page.expect_response(lambda answer: "/sync" in answer.url) as early:
        page.reload()
    assert early.value.status == 403
    waits.clear()
    for each in held:
        each.continue_()
    steps.all_saved(page)
    expect(page.get_by_text("Not sent")).to_have_count(0)


def test_a_clients_address_is_shared_and_ended(office, device, faults):
    """The device's own way of sharing gets the address alone; ended, no file of it opens."""
    page = office.owner
    page.goto(office.at(f"{office.visit}/review"))
    page.get_by_text("New address for a client").click()
    page.get_by_role("button", name="Make the address").click()
    link = page.get_by_label("Address for the client").input_value()
    page.get_by_role("button", name="Share…").first.click()
    assert page.evaluate("window.shared") == [{"url": link}]
    client = device(PHONE).new_page()
    faults(client)
    client.goto(link)
    client.get_by_role("link", name="Explore the plan").click()
    client.locator("#panel").wait_for()
    page.get_by_role("button", name="End address 1").click()
    page.get_by_role("button", name="End it for good").click()
    page.get_by_text("Ended on").wait_for()
    for name in ("", "/plan.html", "/report.pdf", "/plan.svg"):
        assert client.request.get(link + name).status == 404
    assert client.reload().status == 404
    client.get_by_text("There is nothing at this address").wait_for()
