"""The client's page: what it shows, what it never shows, and that it is the same for good."""

import html
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import houses
import pytest
import sqlalchemy as sa
from houses import FIRM, LEAD, NOW
from starlette.testclient import TestClient

from levelbook.app.server import make_firm_app
from levelbook.app.settings import Settings
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database
from levelbook.archive.opening import open_bytes
from levelbook.archive.tables import LINKS
from levelbook.archive.verify import verify
from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.firm import issues, links
from levelbook.firm import releases as releasing
from levelbook.firm.files import Made, Told, make_files
from levelbook.firm.issues import Release
from levelbook.firm.releases import release
from levelbook.firm.reviews import FOR_REVIEW, move
from levelbook.firm.tokens import digest

AT = "2026-05-20T16:00:00.000000Z"
ADDRESS = "9 Reed Row, Marl Creek"
NASTY = "<script>alert(1)</script>\"'>$here ${body} {0} 7 Saltgrass"
FILES = ("report.pdf", "plan.html", "plan.svg", "plan-phone.svg")


@dataclass
class Clients:
    """A server with released visits of one house, and who comes to it from outside."""

    database: Database
    blobs: Blobs
    client: TestClient

    def release(
        self, reason: str = "", visit: str = "", at: datetime = NOW, **about: Any
    ) -> Release:
        """Release a new visit, or a new issue of one."""
        visit = visit or houses.take_in(self.database, at=at, **about)
        move(self.database, LEAD, visit, FOR_REVIEW, reason, AT)
        return release(houses.office(self.database, shelf=self.blobs), LEAD, visit, reason, at)

    def link(self, found: Release, *, earlier: bool = False, days: int = 90) -> str:
        """Return the path of a new link."""
        now = datetime.now(UTC)
        made = links.new_link(self.database, LEAD, found.id, days, earlier=earlier, now=now)
        return f"/r/{made[0]}"


@pytest.fixture
def clients(firms: Database, tmp_path: Path) -> Iterator[Clients]:
    """Give a firm's server."""
    blobs = Blobs(firms, Folder(tmp_path / "photos"))
    app = make_firm_app(firms, blobs, Settings("https://levels.example.org"))
    with TestClient(app, raise_server_exceptions=False) as client:
        yield Clients(firms, blobs.of(FIRM), client)


@pytest.fixture(scope="module")
def once() -> Made:
    """Give the files of one release."""
    told = Told("2026-0001, issue 1", AT, "Low Plains Survey", ("A note.",))
    return make_files(read_book(json.dumps(houses.document())), told, houses.KEY, {})


@pytest.fixture
def swift(monkeypatch: pytest.MonkeyPatch, once: Made) -> None:
    """Let every release have the files of one, but for what tells them apart."""

    def made(book: Book, told: Told, *_: object) -> Made:
        about = json.loads(once.files["page.json"]) | {"address": book.property.address or ""}
        own = {"page.json": json.dumps(about).encode(), "report.pdf": f"%PDF {told}".encode()}
        return Made({**once.files, **own}, once.assessment)

    monkeypatch.setattr(releasing, "make_files", made)


def links_in(page: str) -> set[str]:
    """Return every address that a page names."""
    return {html.unescape(a) for a in re.findall(r'(?:href|src|srcset|action)="([^"]*)"', page)}


def test_the_page_tells_a_client_everything(clients: Clients) -> None:
    """House, date, issue, explanation, plan, report, fingerprint, cautions; nothing hidden."""
    found = clients.release(label=NASTY, address=ADDRESS, date="2026-05-14")
    path = clients.link(found)
    answer = clients.client.get(path)
    assert answer.status_code == 200
    page = html.unescape(answer.text)
    about = json.loads(clients.blobs.get(found.files["page.json"]) or b"")
    for told in (ADDRESS, "May 14, 2026", found.name, "Low Plains Survey", *about["summary"]):
        assert told in page
    assert about["limits"]
    assert all(each in page for each in (*about["meaning"], *about["advice"], *about["limits"]))
    mark = found.digest
    assert " ".join(mark[i : i + 4] for i in range(0, 24, 4)) in page
    assert "not an engineering opinion" in page
    order = (about["title"], about["meaning"][0], about["summary"][0], *about["meaning"][1:])
    told = [page.index(words) for words in (*order, about["advice"][0])]
    assert told == sorted(told)
    assert page.count(about["meaning"][0]) == 1
    assert NASTY in page
    assert "<script" not in answer.text
    assert links_in(answer.text) == {
        "/client.css", "#report", *(f"{path}/{name}" for name in FILES),
    }  # fmt: skip
    for name in FILES:
        file = clients.client.get(f"{path}/{name}")
        assert file.status_code == 200
        assert file.content == clients.blobs.get(found.files[name])
    assert verify(open_bytes(clients.client.get(f"{path}/report.pdf").content)).digest == mark


def test_headers_keep_it_private_and_without_inline_code(clients: Clients, swift: None) -> None:
    """Not kept, not indexed, not told on, not framed; no inline style or script is allowed."""
    path = clients.link(clients.release())
    for name in ("", *(f"/{file}" for file in FILES)):
        headers = clients.client.get(path + name).headers
        assert headers["cache-control"] == "no-store"
        assert "noindex" in headers["x-robots-tag"]
        assert headers["referrer-policy"] == "no-referrer"
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert ("sandbox" in policy) == (name.endswith((".html", ".svg")))
    page = clients.client.get(path).text
    assert not re.search(r"<style|\sstyle=|<script|\son\w+=", page)
    assert clients.client.get("/client.css").headers["content-type"].startswith("text/css")


def test_what_opens_nothing_is_answered_alike(clients: Clients, swift: None) -> None:
    """Wrong, expired, revoked and odd secrets: the same page to the byte, for every file."""
    found = clients.release()
    revoked, old = clients.link(found), clients.link(found, days=1)
    open_one = clients.link(found)
    database, now = clients.database, datetime.now(UTC)
    (link,) = (
        k for k in links.links_of(database, FIRM, found.id) if links.is_secret_of(k, revoked[3:])
    )
    links.revoke(database, LEAD, link.id, now)
    _expire(clients, old[3:])
    answers = [
        clients.client.get(path + name)
        for path in (revoked, old, "/r/" + "x" * 43, "/r/x", "/r/%F0%9F%8F%A0", "/r/a'--")
        for name in ("", "/report.pdf", "/plan.html", "/plan.svg", "/earlier/2026-0001.pdf")
    ]
    answers.append(clients.client.get(f"{open_one}/earlier/2026-0001.pdf"))
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    hide = ("x-request-id", "content-length")
    seen = {tuple((k, v) for k, v in a.headers.items() if k not in hide) for a in answers}
    assert len(seen) == 1
    assert clients.client.get(open_one).status_code == 200


def _expire(clients: Clients, secret: str) -> None:
    """Let a link's time be over."""
    with clients.database.use(FIRM) as connection:
        here = sa.update(LINKS).where(LINKS.c.id == digest(secret))
        done = connection.execute(here.values(expires="2026-01-01T00:00:00.000000Z"))
        assert done.rowcount == 1


def test_a_link_shows_its_own_issue_for_good(clients: Clients) -> None:
    """After a new issue every file is as it was; the page only adds that there is a newer one."""
    first = clients.release()
    path = clients.link(first)
    before = {name: clients.client.get(f"{path}/{name}").content for name in FILES}
    page = clients.client.get(path).text
    assert "There is a newer issue" not in page
    name = houses.document()["readings"][0]["id"]
    houses.write(clients.database, first.visit, "reading", name, {"value": "0.7"})
    assert clients.client.get(path).text == page
    why = "Reading r1 was <typed> wrong."
    second = clients.release(why, first.visit, NOW + timedelta(days=2))
    after = clients.client.get(path).text
    assert "There is a newer issue" in after
    assert (
        f"Issue 2 of May 22, 2026 replaces the report on this page. Reason: {why}"
        in html.unescape(after)
    )
    assert {name: clients.client.get(f"{path}/{name}").content for name in FILES} == before
    start, end = after.index('<section class="notice"'), after.index("</section>") + 10
    assert after[:start] + after[end:] == page
    newer = clients.client.get(clients.link(second)).text
    assert second.name in newer
    assert html.escape(why) in newer


def test_earlier_visits_show_only_where_they_are_allowed(clients: Clients, swift: None) -> None:
    """With leave, reports of earlier visits to the address; never another house's, nor a later."""
    old = clients.release(date="2025-05-01", address=ADDRESS)
    clients.release(date="2025-04-01", address="10 Reed Row, Marl Creek")
    found = clients.release(date="2026-05-14", address=ADDRESS)
    without, leave = clients.link(found), clients.link(found, earlier=True)
    address = f"/earlier/{old.number}.pdf"
    assert address not in clients.client.get(without).text
    assert clients.client.get(without + address).status_code == 404
    page = clients.client.get(leave).text
    assert {a for a in links_in(page) if "earlier" in a} == {leave + address}
    pdf = clients.client.get(leave + address)
    assert pdf.content == clients.blobs.get(old.files["report.pdf"])
    other = issues.releases(clients.database, FIRM, found.visit)[0].number
    for number in (other, "2026-0002", "2025-0009", "2025-0001%20"):
        assert clients.client.get(f"{leave}/earlier/{number}.pdf").status_code == 404


def test_views_are_counted_by_page_and_not_by_picture(clients: Clients, swift: None) -> None:
    """What a page brings along counts no further view."""
    found = clients.release()
    path = clients.link(found)
    for name in ("", "/plan.svg", "/report.pdf", "", "/plan.html"):
        clients.client.get(path + name)
    (link,) = links.links_of(clients.database, FIRM, found.id)
    assert link.views == 2


def test_guessing_is_stopped_for_a_while(
    clients: Clients, swift: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After so many wrong addresses nothing is looked at from there, not even a right one."""
    monkeypatch.setattr("levelbook.firm.limits.PER_ADDRESS", 5)
    path = clients.link(clients.release())
    for _ in range(20):
        assert clients.client.get(path).status_code == 200
    told = [clients.client.get(f"/r/{'y' * 42}{k}").status_code for k in range(7)]
    assert told == [404] * 5 + [429] * 2
    busy = clients.client.get(path)
    assert busy.status_code == 429
    assert int(busy.headers["retry-after"]) > 0
    assert "Too many tries" in busy.text
    assert "unsafe" not in busy.headers["content-security-policy"]
