"""The addresses of a firm's work, asked one after the other as a lead inspector would."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import houses
import pytest
from smtp_sink import sink
from starlette.testclient import TestClient

from levelbook.app.noting import Noting
from levelbook.app.server import make_app
from levelbook.archive.store import open_store
from levelbook.firm import noting

BOOK = houses.BOOK.read_bytes()


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """Give one's own machine, where everyone is the owner."""
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as made:
        yield made


@pytest.fixture
def visit(client: TestClient) -> str:
    """Take the small house in and give its visit."""
    found: str = client.post("/api/import", content=BOOK).json()["visit"]
    return found


def post(client: TestClient, path: str, **given: object) -> dict:
    """Send something and return the answer, which must be good."""
    answer = client.post(path, json=given)
    assert answer.status_code in (200, 201), answer.text
    return answer.json()


def test_from_draft_to_the_clients_page(client: TestClient, visit: str, tmp_path: Path) -> None:
    """Review, release, link, page, mail, revoke; each step tells what the next needs."""
    before = client.get(f"/api/visits/{visit}/reviews").json()
    assert (before["state"], before["may"], before["releases"]) == ("draft", ["for review"], [])
    post(client, f"/api/visits/{visit}/state", state="for review", reason="Walked twice.\nDone.")
    seen = client.get(f"/api/visits/{visit}/reviews").json()
    assert set(seen["may"]) == {"draft", "released"}
    assert seen["events"][0]["reason"] == "Walked twice.\nDone."
    made = post(client, f"/api/visits/{visit}/release", reason="", digest=seen["digest"])["release"]
    assert made["name"].endswith("-0001, issue 1")
    (row,) = client.get("/api/visits?state=released").json()["visits"]
    assert (row["id"], bool(row["finding"])) == (visit, True)
    pdf = client.get(f"/api/releases/{made['id']}/report.pdf")
    assert pdf.content.startswith(b"%PDF-")
    page = client.get(f"/api/releases/{made['id']}/plan.html")
    assert "sandbox" in page.headers["content-security-policy"]
    link = post(client, f"/api/releases/{made['id']}/links", days=30, earlier=False)
    assert client.get(link["address"]).status_code == 200
    (told,) = client.get(f"/api/releases/{made['id']}/links").json()["links"]
    assert (told["views"], told["open"]) == (1, True)
    assert link["address"].rpartition("/")[2] not in str(told)
    mail = post(
        client, f"/api/links/{link['id']}/mail", to="b@example.com", address=link["address"]
    )
    assert mail["sent"] is False
    assert link["address"] in mail["body"]
    wrong = {"to": "b@example.com", "address": link["address"][:-1] + "_"}
    assert client.post(f"/api/links/{link['id']}/mail", json=wrong).status_code == 400
    with sink() as server:
        text = (
            f'host = "127.0.0.1"\nport = {server.port}\nsender = "o@example.com"\nstarttls = false'
        )
        (tmp_path / "mail.toml").write_text(text, "utf-8")
        path = f"/api/links/{link['id']}/mail"
        assert post(client, path, to="b@example.com", address=link["address"])["sent"] is True
    assert link["address"] in message_from_bytes(server.mails[0], policy=default).get_content()
    gone = client.post(path, json={"to": "b@example.com", "address": link["address"]})
    assert (gone.status_code, gone.json()["error"]["place"]) == (502, "mail")
    assert client.delete(f"/api/links/{link['id']}").status_code == 200
    assert client.get(link["address"]).status_code == 404
    keys = tmp_path / "keys" / "local.key"
    assert keys.stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "keys").stat().st_mode & 0o077 == 0
    actions = [line["action"] for line in client.get("/api/audit").json()["entries"]]
    assert actions[:3] == ["link revoked", "link mailed", "link made"]
    assert actions[3:] == ["visit released", "visit for review"]


def test_steps_out_of_order_are_told(client: TestClient, visit: str) -> None:
    """Releasing a draft, an unknown visit, a broken request: each has its own answer."""
    early = client.post(f"/api/visits/{visit}/release", json={})
    assert (early.status_code, early.json()["error"]["code"]) == (409, "conflict")
    assert client.get("/api/visits/no-such-visit/reviews").status_code == 404
    assert client.get("/api/releases/none/report.pdf").status_code == 404
    state = f"/api/visits/{visit}/state"
    for given in ({}, {"state": 5}, {"state": "released"}, {"state": "draft", "reason": ["x"]}):
        assert client.post(state, json=given).status_code in (400, 409)
    assert client.post(state, json={"state": "for review", "reason": "a\0b"}).status_code == 400
    days = {"days": True}, {"days": "x"}, {"days": 0}
    assert {client.post("/api/releases/x/links", json=d).status_code for d in days} == {400}


@pytest.mark.parametrize(
    "query",
    ["limit=0", "limit=501", "limit=x", "state=gone", "from=yesterday", "to=2026-5", "after=zz",
     "search=%00", "inspector=%0A", "from=２０２６"],
)  # fmt: skip
def test_a_list_that_cannot_be_asked_for_is_refused(client: TestClient, query: str) -> None:
    """Each wrong part of a query is told, and none reaches the database."""
    answer = client.get(f"/api/visits?{query}")
    assert (answer.status_code, answer.json()["error"]["code"]) == (400, "refused")


def test_the_list_is_paged_by_its_own_key(client: TestClient) -> None:
    """Following ``next`` gives every visit once, the last written first."""
    made = [client.post("/api/import", content=BOOK).json()["visit"] for _ in range(5)]
    found, after = [], ""
    while after is not None:
        page = client.get("/api/visits", params={"limit": 2, "after": after}).json()
        found += [row["id"] for row in page["visits"]]
        after = page["next"]
    assert found == made[::-1]


def test_the_register_and_what_is_due(client: TestClient) -> None:
    """An instrument is added, checked, retired; until then it is told as due."""
    made = post(client, "/api/instruments", name="Level 1", serial="LV-1", check_days=30)["id"]
    (due,) = client.get("/api/reminders").json()["instruments"]
    assert (due["name"], due["due"]) == ("Level 1", None)
    day = (datetime.now(UTC) - timedelta(days=10)).date()
    path = f"/api/instruments/{made}"
    post(client, f"{path}/checks", date=day.isoformat(), deviation=-0.01, unit="in", note="Stair.")
    (told,) = client.get("/api/instruments").json()["instruments"]
    assert told["due"] == (day + timedelta(days=30)).isoformat()
    assert (told["overdue"], told["checks"][0]["deviation"]) == (False, -0.01)
    assert client.get("/api/reminders?days=5").json()["instruments"] == []
    calendar = client.get("/api/reminders.ics")
    assert calendar.headers["content-type"].startswith("text/calendar")
    assert b"Check of instrument Level 1 due" in calendar.content
    post(client, path, check_days=5)
    assert client.get("/api/instruments").json()["instruments"][0]["overdue"] is True
    post(client, path, retired=day.isoformat())
    assert client.get("/api/reminders").json()["instruments"] == []
    for given in ({"deviation": "x"}, {"deviation": 1e300}, {"deviation": True}, {}):
        wrong = {"date": day.isoformat(), "unit": "in"} | given
        assert client.post(f"{path}/checks", json=wrong).status_code == 400


def test_the_list_learns_what_visits_amount_to(tmp_path: Path, monkeypatch) -> None:
    """The background work notes each visit once; one that fails is left until it changes."""
    store = open_store(tmp_path / "levelbook.sqlite")
    good, bad = (houses.take_in(store.database, store.firm) for _ in range(2))
    work, late = Noting(store.database), datetime(2027, 1, 1, tzinfo=UTC)
    real = noting.note

    def note(database, firm, visit):
        if visit == bad:
            raise ZeroDivisionError
        return real(database, firm, visit)

    monkeypatch.setattr("levelbook.app.noting.note", note)
    monkeypatch.setattr("levelbook.app.noting.REST", 0.0)
    assert work.round(datetime(2026, 1, 1, tzinfo=UTC)) == 0
    assert work.round(late) == 2
    assert work.round(late) == 0
    work.close()
    with TestClient(make_app(tmp_path)) as client:
        told = {row["id"]: row["finding"] for row in client.get("/api/visits").json()["visits"]}
    assert told[good]
    assert told[bad] == ""
    store.close()
