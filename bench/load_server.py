"""The server that is measured: a process of its own, over the database that is named."""

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from levelbook.archive.database import Database
from levelbook.archive.migrating import migrate
from levelbook.archive.tables import FIRMS, PEOPLE, SESSIONS
from levelbook.firm import sessions
from levelbook.firm.roles import SURVEYOR, Who
from levelbook.firm.tokens import digest
from load_client import Served

PEOPLE_NUMBER = 50
ROLE = "levels"


def new_database(server: Any) -> str:  # noqa: ANN401 - of tools/temporary_postgres.py
    """Make a database whose owner is no superuser, as the server asks, and return its address."""
    import psycopg

    with psycopg.connect(server.url(), autocommit=True) as connection:
        connection.execute(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS")
        connection.execute(f"CREATE DATABASE {ROLE} OWNER {ROLE}")
    url: str = server.url(ROLE, ROLE)
    return url


def sign_in(url: str) -> tuple[str, ...]:
    """Make a firm of fifty people with a session each; return what their devices send along."""
    database, now = Database(url), datetime.now(UTC)
    migrate(database)
    firm = f"firm-{time.time_ns()}"
    made = []
    with database.use(firm) as connection:
        row = {"id": firm, "name": "Invented Levels", "created": now.isoformat()[:26]}
        connection.execute(sa.insert(FIRMS).values(**row))
        for number in range(PEOPLE_NUMBER):
            who = Who(firm, f"{firm}-{number}", SURVEYOR)
            row = {"id": who.person, "firm": firm, "email": f"{who.person}@levels.example"}
            connection.execute(
                sa.insert(PEOPLE).values(role=SURVEYOR, created=now.isoformat()[:26], **row)
            )
            token = sessions.begin(connection, who, "", now)
            query = sa.select(SESSIONS.c.csrf).where(SESSIONS.c.id == digest(token))
            made.append((token, connection.execute(query).scalar_one()))
    database.close()
    return tuple(
        f"Cookie: levelbook={token}\r\nx-levelbook-csrf: {csrf}\r\nSec-Fetch-Site: same-origin\r\n"
        for token, csrf in made
    )


@contextmanager
def serve(url: str) -> Iterator[Served]:
    """Give a running server of a firm, started as an operator starts it."""
    signed_in = sign_in(url)
    with tempfile.TemporaryDirectory(prefix="levelbook-load-") as folder:
        command = [sys.executable, "-m", "levelbook", "serve", "--database", url, "--port", "0"]
        command += ["--data", folder, "--no-browser"]
        with (Path(folder) / "log").open("wb") as log:
            pipe = subprocess.PIPE
            process = subprocess.Popen(command, stdout=pipe, stderr=log, text=True)
            assert process.stdout
            told = ""
            for line in process.stdout:
                told += line
                if line.startswith("App:"):
                    break
            port = re.search(r"App: http://[^:]+:(\d+)", told)
            if port is None:
                raise SystemExit(f"the server did not start:\n{told}")
            time.sleep(2.0)
            yield Served(int(port[1]), process.pid, signed_in)
            process.terminate()
            process.wait()
