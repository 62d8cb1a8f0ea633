"""What people of a firm do on its pages, step by step."""

from playwright.sync_api import Page

from firm_server import PASSWORD, FirmServer
from levelbook.demo import house


def join(page: Page, address: str, name: str) -> None:
    """Open an invitation and set a name and a password."""
    page.goto(address)
    page.get_by_label("Your name").fill(name)
    page.get_by_label("New password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="New house").wait_for()


def invite(page: Page, firm: FirmServer, email: str, role: str) -> str:
    """Invite somebody as an owner and return the address that the page tells."""
    page.goto(f"{firm.address}#/people")
    page.get_by_label("E-mail address").fill(email)
    page.get_by_label("Role", exact=True).select_option(role)
    page.get_by_role("button", name="Invite").click()
    return page.get_by_label("Address to send to them").input_value()


def sign_in(page: Page, email: str) -> None:
    """Fill in the page for signing in."""
    page.get_by_label("E-mail address").fill(email)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def from_page(page: Page, method: str, path: str, body: object) -> int:
    """Send a request with the page's own token and return the status."""
    return page.evaluate(
        """async ([method, path, body]) => {
            const me = await (await fetch("/api/me")).json();
            const headers = {"content-type": "application/json", "x-levelbook-csrf": me.csrf};
            return (await fetch(path, {method, headers, body: JSON.stringify(body)})).status;
        }""",
        [method, path, body],
    )


def take_in(page: Page) -> str:
    """Bring the demo house in as whoever is signed in and give its id."""
    return page.evaluate(
        """async (body) => {
            const me = await (await fetch("/api/me")).json();
            const headers = {"x-levelbook-csrf": me.csrf};
            const answer = await fetch("/api/import", {method: "POST", headers, body});
            return (await answer.json()).visit;
        }""",
        house().decode(),
    )
