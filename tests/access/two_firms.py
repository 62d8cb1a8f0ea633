"""Two firms on one server, with people of every role and the same kinds of things in each."""

import io
import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from argon2 import PasswordHasher
from PIL import Image
from starlette.applications import Starlette
from starlette.testclient import TestClient

from levelbook.app.access import CSRF, Rule
from levelbook.app.routes import take_document
from levelbook.app.server import make_firm_app
from levelbook.app.settings import Settings
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database
from levelbook.archive.moments import later, stamp
from levelbook.archive.place import PHOTOS
from levelbook.archive.store import Store
from levelbook.archive.tables import FIRMS, INSTRUMENTS, LINKS, PASSKEYS, PEOPLE, RELEASES, SESSIONS
from levelbook.firm import invitations, sessions
from levelbook.firm.passwords import Passwords
from levelbook.firm.roles import ROLES, Who
from levelbook.firm.tokens import digest, new_token

ADDRESS = "http://testserver"
PASSWORD = "seven grey herons walking"
BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"
NOW = datetime.now(UTC)


def quick() -> Passwords:
    """Return passwords that cost next to nothing; the real cost is held by its own test."""
    return Passwords(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@dataclass
class Firm:
    """One firm: its people by role, and the ids of its things by the words of addresses."""

    id: str
    marker: str
    people: dict[str, str] = field(default_factory=dict)
    ids: dict[str, str] = field(default_factory=dict)

    def email(self, role: str) -> str:
        """Return somebody's e-mail address."""
        return f"{role}@{self.marker.lower()}.example"


@dataclass(frozen=True)
class Caller:
    """Somebody with a session, and what their pages send along."""

    who: Who
    token: str
    csrf: str

    @property
    def headers(self) -> dict[str, str]:
        """Return cookie, token and origin."""
        return {"cookie": f"levelbook={self.token}", CSRF: self.csrf, "origin": ADDRESS}


@dataclass
class World:
    """The server and both firms."""

    database: Database
    app: Starlette
    client: TestClient
    one: Firm
    other: Firm

    def caller(self, firm: Firm, role: str) -> Caller:
        """Sign somebody in, without the password."""
        who = Who(firm.id, firm.people[role], role)
        with self.database.use(firm.id) as connection:
            token = sessions.begin(connection, who, "", datetime.now(UTC))
            query = sa.select(SESSIONS.c.csrf).where(SESSIONS.c.id == digest(token))
            csrf = connection.execute(query).scalar_one()
        return Caller(Who(firm.id, who.person, role, digest(token)), token, csrf)

    def ask(self, method: str, path: str, caller: Caller | None = None, **given: Any) -> Any:
        """Send one request as somebody, or as nobody; no cookie is kept from one to the next."""
        headers = (caller.headers if caller else {}) | given.pop("headers", {})
        self.client.cookies.clear()
        return self.client.request(method, path, headers=headers, follow_redirects=False, **given)


@contextmanager
def made(
    database: Database, folder: Path, settings: Settings | None = None, *, houses: bool = False
) -> Iterator[World]:
    """Give a running server with two firms in it, and with houses if asked for."""
    blobs = Blobs(database, Folder(folder / PHOTOS))
    app = make_firm_app(database, blobs, settings or Settings(ADDRESS), quick())
    one, other = (_firm(database, name) for name in ("Alder", "Birch"))
    for firm in (one, other) if houses else ():
        _houses(database, blobs, firm)
    with TestClient(app, raise_server_exceptions=False) as client:
        yield World(database, app, client, one, other)


def fill(rule: Rule, firm: Firm) -> str:
    """Return the address of a rule with a firm's own ids in it."""
    path = rule.path
    for section, name in PLACES:
        if path.startswith(section):
            path = path.replace("{id}", firm.ids[name])
    for name, value in (firm.ids | _FIXED).items():
        path = path.replace(f"{{{name}}}", value)
    return path


PLACES = (
    ("/api/people/", "person"),
    ("/api/sessions/", "session"),
    ("/api/passkeys/", "passkey"),
    ("/api/releases/", "release"),
    ("/api/links/", "link"),
    ("/api/instruments/", "instrument"),
)
_FIXED = {"kind:path": "json", "format": "geojson", "file": "report.pdf", "n": "1", "path:path": ""}


def picture(colour: str) -> bytes:
    """Return a small photograph."""
    data = io.BytesIO()
    Image.new("RGB", (8, 8), colour).save(data, "PNG")
    return data.getvalue()


def _firm(database: Database, marker: str) -> Firm:
    """Make a firm with people of every role."""
    firm = Firm(secrets.token_hex(8), marker)
    with database.use(firm.id) as connection:
        row = {"id": firm.id, "name": f"{marker} Levels", "created": stamp(NOW)}
        connection.execute(sa.insert(FIRMS).values(**row))
        for role in ROLES:
            firm.people[role] = secrets.token_hex(8)
            kept = quick().hash(PASSWORD)
            about = {"email": firm.email(role), "role": role, "name": f"{marker} {role}"}
            row = {"id": firm.people[role], "firm": firm.id, "password": kept}
            connection.execute(sa.insert(PEOPLE).values(created=stamp(NOW), **row, **about))
    return firm


def _houses(database: Database, blobs: Blobs, firm: Firm) -> None:
    """Put one of each kind of thing into a firm."""
    marker = firm.marker
    document = json.loads(BOOK.read_bytes())
    document["property"]["label"] = f"{marker} house"
    store = Store(database, firm.id)
    firm.ids["visit"] = take_document(store, json.dumps(document).encode())
    firm.ids["later"] = take_document(store, json.dumps(document).encode())
    data = picture("red" if marker == "Alder" else "blue")
    firm.ids["sha256"] = blobs.of(firm.id).put(data, "image/png", stamp(NOW))
    _things(database, firm)


def _things(database: Database, firm: Firm) -> None:
    """Put a release, a link, an instrument, a passkey, a session and an invitation there."""
    ids = firm.ids
    for name in ("release", "instrument", "passkey", "job"):
        ids[name] = secrets.token_hex(16)
    ids["secret"] = new_token()
    ids["link"] = digest(ids["secret"])
    who = Who(firm.id, firm.people["surveyor"], "surveyor")
    ids["person"] = who.person
    about = {"firm": firm.id, "by": who.person}
    issue = {"number": "1", "issue": 1, "digest": "0" * 64, "files": "{}", "at": stamp(NOW)}
    lasts = {"created": stamp(NOW), "expires": later(NOW, 86_400)}
    with database.use(firm.id) as connection:
        row = {"id": ids["release"], "visit": ids["later"]} | about | issue
        connection.execute(sa.insert(RELEASES).values(**row))
        row = {"id": ids["link"], "release": ids["release"]} | about | lasts
        connection.execute(sa.insert(LINKS).values(**row))
        row = {"firm": firm.id, "id": ids["instrument"], "name": f"{firm.marker} level"}
        connection.execute(sa.insert(INSTRUMENTS).values(**row))
        row = {"id": ids["passkey"], "firm": firm.id, "person": who.person, "public_key": ""}
        connection.execute(sa.insert(PASSKEYS).values(created=stamp(NOW), **row))
        ids["session"] = digest(sessions.begin(connection, who, "", NOW))
        owner = Who(firm.id, firm.people["owner"], "owner")
        whom = (f"new@{firm.marker.lower()}.example", "New", "surveyor")
        ids["token"] = invitations.invite(connection, owner, whom, NOW)
