"""The pages of a firm in a browser: from the first owner's invitation to a client's address."""

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import steps
from axe_playwright_python.sync_playwright import Axe
from firm_steps import from_page, invite, join, sign_in, take_in
from playwright.sync_api import Page, expect
from steps import DESKTOP, PHONE

from firm_server import FirmServer, served
from levelbook.app.pages import STATIC

pytestmark = pytest.mark.browser
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
}
BEN = "ben@alder-ridge.example"


@pytest.fixture
def faults() -> Iterator[Callable[[Page], None]]:
    """Give a watcher of pages: a script error or a blocked resource fails the test.

    An answer that is no success is no fault here: being signed out is one.
    """
    yield from steps.watching("Failed to load resource")


@pytest.fixture
def firm(tmp_path: Path) -> Iterator[FirmServer]:
    """Give a running server with a new firm."""
    if not (STATIC / "index.html").is_file():
        pytest.fail("The pages are not built: run make, which builds them, and try again.")
    with served(tmp_path) as made:
        yield made


def violations(page: Page) -> list[tuple[str, list[str]]]:
    """Return what axe finds wrong, in short."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]


def test_from_invitation_to_a_clients_address(firm, device, faults):
    """An owner joins, invites; a surveyor writes; the owner releases; a client reads, no more."""
    owner = device(DESKTOP).new_page()
    faults(owner)
    join(owner, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
    address = invite(owner, firm, BEN, "surveyor")
    surveyor = device(PHONE).new_page()
    join(surveyor, address, "Ben Reed")
    expect(surveyor.get_by_role("link", name="Log")).to_have_count(0)
    surveyor.goto(f"{firm.address}#/new")
    expect(surveyor.get_by_label("Your name")).to_have_value("Ben Reed")
    visit = take_in(surveyor)
    assert from_page(surveyor, "POST", f"/api/visits/{visit}/release", {"reason": ""}) == 403
    assert from_page(surveyor, "POST", "/api/instruments", {"name": "x"}) == 403
    surveyor.goto(f"{firm.address}#/{visit}/review")
    surveyor.get_by_role("button", name="Ask for review").click()
    surveyor.locator(".standing", has_text="For review").wait_for()
    expect(surveyor.get_by_role("button", name="Release")).to_have_count(0)
    owner.goto(f"{firm.address}#/")
    owner.get_by_text("Narrow down").click()
    owner.get_by_label("State").select_option("for review")
    owner.locator(".houses .state", has_text="For review").click()
    back_and_forth(owner)
    owner.get_by_role("button", name="Release…").click()
    owner.get_by_text("Issue 1 is frozen").wait_for()
    owner.get_by_role("button", name="Release issue 1").click()
    owner.locator(".standing", has_text="Released").wait_for()
    owner.get_by_text("New address for a client").click()
    owner.get_by_role("button", name="Make the address").click()
    link = owner.get_by_label("Address for the client").input_value()
    owner.get_by_label("Client’s e-mail address").fill("client@example.org")
    owner.get_by_role("button", name="Send or write the e-mail").click()
    expect(owner.get_by_label(re.compile("^Text:"))).to_have_value(re.compile(re.escape(link)))
    client = device(PHONE).new_page()
    client.goto(link)
    client.get_by_role("link", name=re.compile("Open the report")).wait_for()
    assert client.request.get(f"{firm.address}api/visits").status == 401
    owner.reload()
    owner.get_by_text("Opened once").wait_for()
    owner.get_by_role("button", name="End address 1").click()
    owner.get_by_role("button", name="End it for good").click()
    owner.get_by_text("Ended on").wait_for()
    assert client.goto(link).status == 404
    client.get_by_text("There is nothing at this address").wait_for()
    write_and_release_again(owner, f"{firm.address}#/{visit}")


def back_and_forth(owner: Page) -> None:
    """Put a house back to draft, which needs its reason, and ask for its review again."""
    owner.get_by_role("button", name="Back to draft…").click()
    owner.get_by_role("button", name="Put it back to draft").click()
    owner.get_by_text("Say in a sentence what is to be done").wait_for()
    owner.get_by_label("What is to be done").fill("Read the garage, too.")
    owner.get_by_role("button", name="Put it back to draft").click()
    owner.locator(".standing", has_text="Draft").wait_for()
    owner.locator(".events", has_text="Read the garage, too.").wait_for()
    owner.get_by_label("Note for the reviewer").fill("The garage is read.")
    owner.get_by_role("button", name="Ask for review").click()


def write_and_release_again(owner: Page, house: str) -> None:
    """Write after a release: the page says so, and a new issue needs its reason."""
    owner.goto(f"{house}/details")
    owner.get_by_label("Firm", exact=True).fill("Alder Ridge")
    owner.keyboard.press("Tab")
    steps.all_saved(owner)
    owner.goto(f"{house}/review")
    owner.locator(".standing", has_text="Changed since release").wait_for()
    owner.get_by_role("button", name="Ask for review of a new issue").click()
    owner.get_by_text("Say in a sentence why it is reviewed again.").wait_for()
    owner.get_by_label("Why a new issue is needed").fill("The firm’s name was missing.")
    owner.get_by_role("button", name="Ask for review of a new issue").click()
    owner.get_by_role("button", name="Release…").click()
    reason = owner.get_by_label("Reason, which clients read")
    expect(reason).to_have_value("The firm’s name was missing.")
    reason.fill(" ")
    owner.get_by_role("button", name="Release issue 2").click()
    owner.get_by_text("Say in a sentence why a new issue is needed").wait_for()
    reason.fill("The name of the firm was missing.")
    owner.get_by_role("button", name="Release issue 2").click()
    owner.get_by_text("replaced by a newer issue").wait_for()


def test_two_people_on_one_device(firm, device, faults):
    """Entries wait for their writer: who signs in next neither sees nor sends them."""
    context = device(DESKTOP)
    page = context.new_page()
    faults(page)
    join(page, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
    address = invite(page, firm, BEN, "surveyor")
    steps.new_house(page, firm.address, "Ann’s house")
    steps.all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    token = next(c["value"] for c in context.cookies() if c["name"] == "levelbook")
    context.clear_cookies(name="levelbook")
    page.goto(f"{firm.address}#/{visit}/details")
    page.get_by_label("Firm", exact=True).fill("Written without a session")
    page.keyboard.press("Tab")
    page.get_by_text("Your session has ended").wait_for()
    page.locator(".saved", has_text="Signed out · 1 kept here").wait_for()
    page.goto(address)
    join(page, address, "Ben Reed")
    page.goto(f"{firm.address}#/")
    page.locator(".houses a").first.wait_for()
    page.goto(f"{firm.address}#/{visit}/details")
    steps.all_saved(page)
    expect(page.get_by_label("Firm", exact=True)).not_to_have_value("Written without a session")
    page.goto(f"{firm.address}#/account")
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.get_by_role("button", name="Sign out and clear").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    assert "Ann" not in page.locator("main").inner_text()
    sign_in(page, "ann@alder-ridge.example")
    page.goto(f"{firm.address}#/{visit}/details")
    steps.all_saved(page)
    expect(page.get_by_label("Firm", exact=True)).to_have_value("Written without a session")
    written = page.request.get(f"{firm.address}api/visits/{visit}/history").text()
    assert "Written without a session" in written
    assert token not in json.dumps(context.cookies())


def test_a_signed_in_device_works_offline(firm, device, faults):
    """Without a network the person's houses open and take entries, which are sent afterwards."""
    context = device(PHONE)
    page = context.new_page()
    faults(page)
    join(page, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
    steps.new_house(page, firm.address, "Ann’s house")
    steps.all_saved(page)
    visit = page.url.split("#/")[1].split("/")[0]
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    context.set_offline(True)
    page.goto(f"{firm.address}#/")
    page.reload()
    page.get_by_text("These houses are on this device").wait_for()
    page.get_by_role("link", name="Ann’s house").click()
    page.goto(f"{firm.address}#/{visit}/details")
    page.get_by_label("Firm", exact=True).fill("Written offline")
    page.keyboard.press("Tab")
    page.locator(".saved", has_text="Offline · 1 kept here").wait_for()
    context.set_offline(False)
    steps.all_saved(page)
    written = page.request.get(f"{firm.address}api/visits/{visit}/history").text()
    assert "Written offline" in written


def test_a_passkey_signs_in(firm, device, faults):
    """A passkey made on the account's page opens it again without a password."""
    context = device(DESKTOP)
    page = context.new_page()
    faults(page)
    session = context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    session.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    join(page, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
    page.goto(f"{firm.address}#/account")
    page.get_by_label("Name of the passkey").fill("My key")
    page.get_by_role("button", name="Add a passkey").click()
    page.get_by_text("My key").wait_for()
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.get_by_role("button", name="Sign out and keep").click()
    page.get_by_role("button", name="Use a passkey").click()
    page.get_by_role("link", name="New house").wait_for()


SMALL = """() => [...document.querySelectorAll("button, main a, nav a, select, summary")]
    .filter((e) => e.offsetParent && !e.closest("p"))
    .map((e) => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
    .filter(([, r]) => r.height < 48 || r.width < 40).map(([html]) => html)"""


def look(page: Page) -> list[object]:
    """Return what is wrong with a page: by axe, too small to hit, or wider than the screen."""
    found: list[object] = [*violations(page), *page.evaluate(SMALL)]
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return found + ([f"{wide} px wider than the screen"] if wide > 0 else [])


def furnish(page: Page, firm: FirmServer) -> str:
    """Invite somebody, add a checked instrument, release the demo house; give its id."""
    invite(page, firm, BEN, "reviewer")
    page.get_by_text("Invited, not here yet").wait_for()
    page.goto(f"{firm.address}#/instruments")
    page.get_by_label("Name", exact=True).fill("Level 1")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_text("Never checked").wait_for()
    page.get_by_text("Write a check down").click()
    page.get_by_label("Off by").fill("0.02")
    page.get_by_role("button", name="Save the check").click()
    page.get_by_text("Next check by").wait_for()
    visit = take_in(page)
    for state, address in (("for review", "state"), ("released", "release")):
        body = {"reason": "", "state": state, "digest": ""}
        assert from_page(page, "POST", f"/api/visits/{visit}/{address}", body) == 201
    return visit


@pytest.mark.parametrize(("kind", "theme"), [(PHONE, "sun"), (DESKTOP, "dark")])
def test_axe_finds_nothing_on_the_firms_pages(firm, device, faults, kind, theme):
    """No rule of WCAG 2.2 A and AA that can be checked by machine is broken; targets are large."""
    page = device(kind).new_page()
    faults(page)
    found = {}
    page.goto(firm.address)
    page.evaluate("to => localStorage.setItem('levelbook-theme', to)", theme)
    page.reload()
    page.get_by_role("button", name="Sign in").wait_for()
    found["sign in"] = look(page)
    page.goto(f"{firm.address}#/invitation/{firm.token}")
    page.get_by_label("Your name").wait_for()
    found["invitation"] = look(page)
    join(page, f"{firm.address}#/invitation/{firm.token}", "Ann Alder")
    visit = furnish(page, firm)
    ready = {
        "due": "h2",
        "instruments": ".card details",
        "people": "main .list li",
        "audit": ".done li",
        "account": ".card .list li",
        f"{visit}/review": ".files a",
        "": ".houses .state",
    }
    for name, mark in ready.items():
        page.goto(f"{firm.address}#/{name}")
        page.locator(mark).first.wait_for()
        for summary in page.locator("main summary").all():
            summary.click()
        found[name] = look(page)
    page.goto(f"{firm.address}#/audit")
    page.get_by_role("button", name="Check the list").click()
    page.get_by_text(re.compile(r"All \d+ lines fit")).wait_for()
    assert {name: wrong for name, wrong in found.items() if wrong} == {}
