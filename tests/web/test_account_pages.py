"""A person's own account in a browser: new passwords, what changed, and proving who one is."""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from steps import DESKTOP, PHONE, new_house

from firm_server import PASSWORD, FirmServer, quick, served
from levelbook.app.pages import STATIC
from levelbook.archive.moments import later
from levelbook.archive.tables import SESSIONS
from levelbook.firm import invitations
from levelbook.firm.roles import OWNER, Who

pytestmark = pytest.mark.browser
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
}
NEW = "a lantern under nine apples"


@pytest.fixture(scope="module")
def firm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FirmServer]:
    """Give a running server, one for all tests here: each has people of its own."""
    if not (STATIC / "index.html").is_file():
        pytest.fail("The pages are not built: run make, which builds them, and try again.")
    folder: Path = tmp_path_factory.mktemp("account")
    with served(folder) as made:
        yield made


@pytest.fixture
def faults() -> Iterator[Callable[[Page], None]]:
    """Give a watcher of pages: a script error fails the test; a refusal is none."""
    told: list[str] = []

    def watch(page: Page) -> None:
        page.on("pageerror", lambda error: told.append(str(error)))

    yield watch
    assert told == []


def invited(firm: FirmServer, email: str) -> str:
    """Invite somebody as another owner and return the token."""
    who = Who(firm.firm, invitations.OPERATOR, OWNER)
    with firm.database.use(firm.firm) as connection:
        return invitations.invite(connection, who, (email, "", OWNER), datetime.now(UTC))


def joined(firm: FirmServer, email: str) -> str:
    """Let somebody join with the usual password; return the e-mail address."""
    given = ("Ann Alder", PASSWORD)
    token = invited(firm, email)
    return invitations.accept(firm.database, quick(), token, given, datetime.now(UTC))


def wrong(page: Page) -> list[object]:
    """Return what axe finds, and by how much the page is wider than the screen."""
    found = Axe().run(page, options=RULES).response["violations"]
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return [v["id"] for v in found] + ([wide] if wide > 0 else [])


def sign_in(page: Page, email: str, password: str, name: str = "Anns tablet") -> None:
    """Sign in on a device of this name."""
    page.get_by_label("E-mail address").fill(email)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_label("Name of this device").fill(name)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="New house").wait_for()


def left_open(firm: FirmServer) -> None:
    """Let every session be as if it had begun an hour ago."""
    begun = later(datetime.now(UTC), -3600)
    with firm.database.use(firm.firm) as connection:
        connection.execute(sa.update(SESSIONS).values(created=begun))


def in_theme(page: Page, firm: FirmServer, theme: str) -> None:
    """Open the first page in a theme."""
    page.goto(firm.address)
    page.evaluate("to => localStorage.setItem('levelbook-theme', to)", theme)
    page.reload()


def test_a_new_password_is_judged_while_it_is_typed(firm, device, faults) -> None:
    """Its strength in a word; pasted, shown when asked; a common one refused with the remedy."""
    context = device(PHONE)
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = context.new_page()
    faults(page)
    page.goto(f"{firm.address}#/invitation/{invited(firm, 'cleo@alder-ridge.example')}")
    page.get_by_label("Your name").fill("Ann Alder")
    box, told = page.get_by_label("New password", exact=True), page.locator(".strength")
    for text, word in (
        ("heron", "Too short"), ("abcabcabcabcabc", "Weak"), ("password1234", "Weak"),
        ("ann of alder ridge", "a part of your name"), ("heron marble", "Fair"), (NEW, "Strong"),
    ):  # fmt: skip
        box.fill(text)
        expect(told).to_contain_text(word)
    assert wrong(page) == []
    expect(box).to_have_attribute("autocomplete", "new-password")
    expect(page.locator("form [name=username]")).to_have_value("cleo@alder-ridge.example")
    page.evaluate("text => navigator.clipboard.writeText(text)", PASSWORD)
    box.fill("")
    box.focus()
    page.keyboard.press("Control+V")
    expect(box).to_have_value(PASSWORD)
    show = page.get_by_role("button", name="Show: New password")
    expect(box).to_have_attribute("type", "password")
    show.click()
    expect(box).to_have_attribute("type", "text")
    expect(show).to_have_attribute("aria-pressed", "true")
    show.click()
    expect(box).to_have_attribute("type", "password")
    box.fill("michael19851985")
    page.get_by_role("button", name="Join").click()
    page.get_by_role("alert").filter(has_text="of several words").wait_for()
    box.fill(PASSWORD)
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="New house").wait_for()


@pytest.mark.parametrize(("kind", "theme"), [(PHONE, "sun"), (DESKTOP, "dark")])
def test_word_of_a_change_stands_until_it_is_read(firm, device, faults, kind, theme) -> None:
    """A password changed elsewhere is told on the next pages, in a house as well, once."""
    email, other = joined(firm, f"{theme}@alder-ridge.example"), device(DESKTOP).new_page()
    other.goto(firm.address)
    sign_in(other, email, PASSWORD)
    other.goto(f"{firm.address}#/account")
    until = other.get_by_role("textbox", name="Password until now")
    expect(until).to_have_attribute("autocomplete", "current-password")
    until.fill(PASSWORD)
    other.get_by_role("textbox", name="New password").fill(NEW)
    other.get_by_role("button", name="Change it").click()
    other.get_by_text("Changed. Every other device is signed out.").wait_for()
    expect(other.locator(".word")).to_have_count(0)
    page = device(kind).new_page()
    faults(page)
    in_theme(page, firm, theme)
    sign_in(page, email, NEW, "phone in the van")
    word = page.get_by_role("region", name="Changes to how you sign in")
    expect(word).to_contain_text("Your password was changed on")
    expect(word).to_contain_text("on the device Anns tablet")
    assert wrong(page) == []
    new_house(page, firm.address, "A house")
    expect(word).to_contain_text("tell an owner of your firm")
    assert wrong(page) == []
    read = page.get_by_role("button", name="I have read this")
    read.focus()
    page.keyboard.press("Enter")
    expect(word).to_have_count(0)
    page.reload()
    page.get_by_role("link", name="All houses").wait_for()
    expect(word).to_have_count(0)


@pytest.mark.parametrize(("kind", "theme"), [(PHONE, "light"), (DESKTOP, "dark")])
def test_what_is_serious_asks_who_one_is(firm, device, faults, kind, theme) -> None:
    """On a device left open a dialog asks for the password; then what was asked for is done."""
    page = device(kind).new_page()
    faults(page)
    in_theme(page, firm, theme)
    sign_in(page, joined(firm, f"{theme}-owner@alder-ridge.example"), PASSWORD)
    left_open(firm)
    page.goto(f"{firm.address}#/people")
    page.get_by_label("E-mail address").fill(f"{theme}-new@alder-ridge.example")
    page.get_by_role("button", name="Invite").click()
    asking = page.get_by_role("dialog", name="Is it you?")
    password = asking.get_by_label("Your password", exact=True)
    expect(password).to_be_focused()
    expect(password).to_have_attribute("autocomplete", "current-password")
    assert wrong(page) == []
    small = [b.bounding_box() for b in asking.get_by_role("button").all()]
    assert all(box is not None and box["height"] >= 44 for box in small)
    page.keyboard.press("Escape")
    expect(asking).to_have_count(0)
    page.get_by_role("alert").filter(has_text="password or passkey again").wait_for()
    page.get_by_role("button", name="Invite").click()
    password.fill("eight grey herons walking")
    page.keyboard.press("Enter")
    asking.get_by_role("alert").filter(has_text="not right").wait_for()
    password.fill(PASSWORD)
    page.keyboard.press("Enter")
    address = page.get_by_label("Address to send to them")
    start = re.escape(f"{firm.address}#/invitation/")
    expect(address).to_have_value(re.compile(start + r"[\w-]{43}"))
    expect(asking).to_have_count(0)
