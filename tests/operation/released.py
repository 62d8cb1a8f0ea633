"""Visits that are released while things break, and what must hold of them for good."""

import hashlib
import http.client
import json
import random
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from devices import ask, entry
from lives import Life

from levelbook.archive.blobs import Blobs
from levelbook.archive.database import Database
from levelbook.archive.store import Store
from levelbook.archive.tables import LOCAL
from levelbook.firm import issues

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"
Answer = tuple[int, dict[str, Any]]


@dataclass(frozen=True)
class Released:
    """A visit as it was released: its entries then, and its issue."""

    visit: str
    entries: frozenset[str]
    issue: issues.Release

    def check(self, database: Database, blobs: Blobs) -> None:
        """Hold what was released to being there as it was, every file of it whole."""
        assert issues.releases(database, LOCAL, self.visit) == (self.issue,)
        assert self.entries <= {one.id for one in Store(database).entries(self.visit)}
        for sha256 in self.issue.files.values():
            assert hashlib.sha256(blobs.get(sha256) or b"").hexdigest() == sha256


def take_in(life: Life) -> str:
    """Take the small house in, ask for its review, and return its visit."""
    visit: str = ask(life.port, "POST", "/api/import", BOOK.read_bytes())[1]["visit"]
    body = json.dumps({"state": "for review", "reason": "ready"}).encode()
    assert ask(life.port, "POST", f"/api/visits/{visit}/state", body)[0] == 201
    return visit


def release(life: Life, visit: str, reason: str = "") -> Answer:
    """Release a visit; status 0 where the server is gone."""
    body = json.dumps({"reason": reason}).encode()
    try:
        return ask(life.port, "POST", f"/api/visits/{visit}/release", body)
    except (OSError, http.client.HTTPException):
        return 0, {}


def released(life: Life, url: str) -> Released:
    """Release a visit and return it."""
    visit = take_in(life)
    status, told = release(life, visit)
    assert status == 201, told
    database = Database(url)
    found = issues.find(database, LOCAL, told["release"]["id"])
    every = frozenset(one.id for one in Store(database).entries(visit))
    database.close()
    return Released(visit, every, found)


def release_twice(life: Life, visit: str) -> tuple[list[threading.Thread], list[Answer]]:
    """Begin to release a visit twice at once; what is answered comes into the list."""
    answers: list[Answer] = []

    def once() -> None:
        answers.append(release(life, visit))

    threads = [threading.Thread(target=once) for _ in range(2)]
    for thread in threads:
        thread.start()
    return threads, answers


def check_one(life: Life, visit: str, answers: list[Answer], *, broken: bool) -> None:
    """Hold a visit to one release at most, which whoever was told of it finds.

    Where there is none, since everything broke, the next try makes it.
    """
    statuses = sorted(status for status, _ in answers)
    assert statuses == [201, 409] or (broken and set(statuses) <= {0, 201, 409, 503, 507})
    assert statuses.count(201) <= 1
    every = listed(life, visit)
    assert len(every) == 1 or (broken and 201 not in statuses and not every)
    if not every:
        assert release(life, visit)[0] == 201


def listed(life: Life, visit: str) -> list[dict[str, Any]]:
    """Return the issues of a visit."""
    status, told = ask(life.port, "GET", f"/api/visits/{visit}/reviews")
    assert status == 200, told
    every: list[dict[str, Any]] = told["releases"]
    return every


def write_on(life: Life, visit: str) -> None:
    """Strike a reading of a released visit, and release the next issue."""
    late = entry(visit, "r8", random.Random(visit)) | {"fields": {"struck": True}}
    body = json.dumps({"since": 0, "entries": [late]}).encode()
    assert ask(life.port, "POST", f"/api/visits/{visit}/sync", body)[0] == 200
    body = json.dumps({"state": "for review", "reason": "a slip"}).encode()
    assert ask(life.port, "POST", f"/api/visits/{visit}/state", body)[0] == 201
    assert release(life, visit, "a slip of the pen")[0] == 201


def files(life: Life, issue: dict[str, Any]) -> dict[str, str]:
    """Fetch the files of an issue; each must be what its hash says."""
    hashes = {}
    for name, sha256 in issue["files"].items():
        status, told = ask(life.port, "GET", f"/api/releases/{issue['id']}/{name}")
        assert status == 200
        if "raw" in told:
            assert hashlib.sha256(told["raw"]).hexdigest() == sha256
        hashes[name] = sha256
    return hashes


def wait_until_well(life: Life, until: float) -> None:
    """Wait until a server's database answers again."""
    while ask(life.port, "GET", "/health/ready")[0] != 200:
        assert time.monotonic() < until
        time.sleep(0.02)
