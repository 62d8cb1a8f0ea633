"""A firm's server for tests and pictures of the pages, with its first owner's invitation."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import uvicorn
from argon2 import PasswordHasher
from starlette.applications import Starlette

from levelbook.app.server import PHOTOS, make_firm_app
from levelbook.app.settings import Settings
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate
from levelbook.firm import invitations
from levelbook.firm.passwords import Passwords

PASSWORD = "seven grey herons walking"
FIRM = "Alder Ridge Levels"


@dataclass(frozen=True)
class FirmServer:
    """Where the pages are, and the first owner's invitation."""

    address: str
    token: str
    database: Database
    firm: str


def quick() -> Passwords:
    """Return passwords that cost next to nothing."""
    return Passwords(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@contextmanager
def serving(make: Callable[[str], Starlette], name: str) -> Iterator[str]:
    """Serve the app that ``make`` gives for its address, at this machine's ``name``."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        address = f"http://{name}:{listening.getsockname()[1]}/"
        config = uvicorn.Config(make(address), log_level="error", timeout_graceful_shutdown=1)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield address
        server.should_exit = True
        thread.join(20)


@contextmanager
def served(folder: Path) -> Iterator[FirmServer]:
    """Serve a new firm over SQLite at this machine's name, which passkeys need."""
    database = Database(file_url(folder / "levelbook.sqlite"))
    migrate(database)
    firm, token = invitations.new_firm(database, FIRM, "ann@alder-ridge.example", datetime.now(UTC))
    blobs = Blobs(database, Folder(folder / PHOTOS))

    def make(address: str) -> Starlette:
        settings = Settings(address.rstrip("/"), folder=folder)
        return make_firm_app(database, blobs, settings, quick())

    with serving(make, "localhost") as address:
        yield FirmServer(address, token, database, firm)
