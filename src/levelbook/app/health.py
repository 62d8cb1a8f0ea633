"""Whether the server lives, is ready to work, and what it counted: for whoever operates it."""

import hmac
import os
import shutil
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from levelbook.app.answers import DATABASE_ERRORS, RefusedError, error_document
from levelbook.app.jobs import Jobs
from levelbook.app.logs import measure_requests
from levelbook.app.measures import Gauge, Labels, Measures
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.migrating import HEAD, revision
from levelbook.errors import LevelbookError

TOKEN = "LEVELBOOK_METRICS_TOKEN"
LEAST_FREE = 200_000_000
"""Bytes that must be free where the store lies."""
_LOOPBACK = ("127.0.0.1", "::1")
_PASSED_ON = ("forwarded", "x-forwarded-for", "x-real-ip", "via")
_PLAIN = "text/plain; version=0.0.4; charset=utf-8"

Check = Callable[[], bool]


@dataclass(frozen=True)
class Health:
    """What is looked at: the checks by name, and the measures."""

    checks: Mapping[str, Check]
    measures: Measures

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/health/live", self.live),
            Route("/health/ready", self.ready),
            Route("/metrics", self.metrics),
        ]

    async def live(self, _: Request) -> Response:
        """Answer that the process answers."""
        return JSONResponse({"live": True}, headers={"cache-control": "no-store"})

    async def ready(self, _: Request) -> Response:
        """Answer whether the server can work: 200, or 503 with the checks that failed."""
        found = {
            name: await run_in_threadpool(_holds, check) for name, check in self.checks.items()
        }
        told: dict[str, object] = {"ready": all(found.values()), "checks": found}
        if told["ready"]:
            return JSONResponse(told, headers={"cache-control": "no-store"})
        failed = ", ".join(name for name, good in found.items() if not good)
        told |= error_document(
            "not-ready", failed, "the server cannot work now", "see the operator's page"
        )
        return JSONResponse(told, 503, headers={"cache-control": "no-store", "retry-after": "10"})

    async def metrics(self, request: Request) -> Response:
        """Answer with everything counted, on this machine or to who holds the token."""
        if not (_from_here(request) or _has_token(request)):
            raise RefusedError(
                403, "metrics", "these figures are not for everyone", "send the operator's token"
            )
        text = await run_in_threadpool(self.measures.text)
        return PlainTextResponse(text, media_type=_PLAIN, headers={"cache-control": "no-store"})


def _holds(check: Check) -> bool:
    try:
        return check()
    except (SQLAlchemyError, OSError, LevelbookError):
        return False


def _from_here(request: Request) -> bool:
    """Tell whether a request comes from this machine itself, and not through a proxy on it."""
    here = request.client is not None and request.client.host in _LOOPBACK
    return here and not any(name in request.headers for name in _PASSED_ON)


def _has_token(request: Request) -> bool:
    kind, _, given = request.headers.get("authorization", "").partition(" ")
    wanted = os.environ.get(TOKEN, "")
    good = hmac.compare_digest(given.strip().encode(), wanted.encode())
    return bool(wanted) and kind.lower() == "bearer" and good


def health(database: Database, folder: Path, jobs: Jobs) -> Health:
    """Return the health of a server over a database, with its files in ``folder``."""
    measures = Measures()
    measure_requests(measures)
    measures.counter(DATABASE_ERRORS, "Errors of the database by kind.")
    measure_process(measures, jobs)
    checks = {
        "database": database_answers(database),
        "schema": schema_current(database),
        "disk": room_left(folder),
    }
    return Health(checks, measures)


def database_answers(database: Database) -> Check:
    """Return a check that the database answers."""

    def check() -> bool:
        with database.look(EVERY_FIRM) as connection:
            return connection.execute(sa.select(sa.literal(1))).scalar() == 1

    return check


def schema_current(database: Database) -> Check:
    """Return a check that the database has the schema of this release."""
    return lambda: revision(database) == HEAD


def room_left(folder: Path) -> Check:
    """Return a check that the disk under ``folder`` has room left."""
    return lambda: shutil.disk_usage(folder).free >= LEAST_FREE


def measure_process(measures: Measures, jobs: Jobs) -> None:
    """Name the figures of the process and of its jobs."""
    begun = time.time()

    def states() -> Mapping[Labels, float]:
        return {(("state", state),): number for state, number in jobs.states().items()}

    measures.gauge("levelbook_jobs", "Jobs kept in memory by state.", states)
    measures.gauge("process_start_time_seconds", "When the server began.", _one(lambda: begun))
    measures.gauge("process_resident_memory_bytes", "Memory in use.", _one(resident_bytes))


def resident_bytes() -> float:
    """Return the memory that the process holds; 0 where the system does not tell it so."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
        return float(pages * os.sysconf("SC_PAGE_SIZE"))
    except (OSError, ValueError, IndexError):
        return 0.0


def _one(look: Callable[[], float]) -> Gauge:
    return lambda: {(): look()}
