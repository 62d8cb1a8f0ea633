"""Pictures of a firm's pages with an invented firm at three sizes, for the docs.

``python tools/picture_firm.py [FOLDER]``; without one, docs/pictures/app.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, Page

import picturing
from firm_server import PASSWORD, FirmServer, served
from levelbook.demo import house

SEND = """async ([method, path, body, raw]) => {
    const me = await (await fetch("/api/me")).json();
    const headers = {"content-type": "application/json", "x-levelbook-csrf": me.csrf};
    const sent = raw ? body : JSON.stringify(body);
    return await (await fetch(path, {method, headers, body: sent})).json();
}"""
PEOPLE = (
    ("ben@alder-ridge.example", "Ben Reed", "surveyor"),
    ("cleo@alder-ridge.example", "Cleo Marl", "reviewer"),
)
READY = {
    "firm-review": ("#/{visit}/review", "Released on"),
    "firm-due": ("#/due", "Instruments to check"),
    "firm-instruments": ("#/instruments", "Next check by"),
    "firm-people": ("#/people", "Invited, not here"),
    "firm-audit": ("#/audit", "invited"),
    "firm-account": ("#/account", "this device"),
    "firm-houses": ("#/", "For review"),
}


def join(page: Page, firm: FirmServer) -> None:
    """Take the first owner's invitation up."""
    page.goto(f"{firm.address}#/invitation/{firm.token}")
    page.get_by_label("Your name").fill("Ann Alder")
    page.get_by_label("New password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="New house").wait_for()


def furnish(page: Page) -> str:
    """Put houses, instruments and people there; give the id of a released house."""

    def send(path: str, body: object, *, raw: bool = False) -> dict[str, str]:
        told: dict[str, str] = page.evaluate(SEND, ["POST", path, body, raw])
        return told

    for email, name, role in PEOPLE:
        send("/api/invitations", {"email": email, "name": name, "role": role})
    checked = send("/api/instruments", {"name": "Level 1", "serial": "A-104", "check_days": 365})
    send("/api/instruments", {"name": "Level 2", "serial": "A-105", "check_days": 365})
    check = {"date": "2026-05-04", "deviation": 0.02, "unit": "in", "note": "step of 2.00 in"}
    send(f"/api/instruments/{checked['id']}/checks", check)
    visits = [send("/api/import", house().decode(), raw=True)["visit"] for _ in range(3)]
    for visit in visits[1:]:
        send(f"/api/visits/{visit}/state", {"state": "for review", "reason": ""})
    send(f"/api/visits/{visits[2]}/release", {"reason": "", "digest": ""})
    return visits[2]


def pictures(browser: Browser, firm: FirmServer, folder: Path) -> None:
    """Take the pages at every size."""
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()

    def each(name: str) -> None:
        for size, (width, height) in picturing.SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_load_state("networkidle")
            page.wait_for_timeout(500)
            picturing.keep(page, folder / f"{name}-{size}.png")

    page.goto(firm.address)
    page.get_by_role("button", name="Sign in").wait_for()
    each("firm-sign-in")
    page.goto(f"{firm.address}#/invitation/{firm.token}")
    page.get_by_label("Your name").wait_for()
    each("firm-invitation")
    join(page, firm)
    visit = furnish(page)
    for name, (address, text) in READY.items():
        page.goto(firm.address + address.format(visit=visit))
        page.get_by_text(text).locator("visible=true").first.wait_for()
        if name == "firm-review":
            page.get_by_text("New address for a client").click()
            page.get_by_role("button", name="Make the address").click()
            page.get_by_label("Address for the client").wait_for()
        each(name)
    context.close()


def main(arguments: Sequence[str]) -> int:
    """Take all pictures."""

    def take(browser: Browser, folder: Path, _: Sequence[str]) -> None:
        with tempfile.TemporaryDirectory() as kept, served(Path(kept)) as firm:
            pictures(browser, firm, folder)

    return picturing.run(arguments, take)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
