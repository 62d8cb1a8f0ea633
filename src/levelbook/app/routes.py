"""The addresses under ``/api`` and what each does."""

import json
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from typing import Any, get_args

from anyio import CapacityLimiter, to_thread
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.answers import MEGABYTE, RefusedError, body, fault_document, json_object
from levelbook.app.desk import Desk
from levelbook.app.fields import text
from levelbook.app.headers import POLICY, file_policy
from levelbook.app.jobs import Jobs
from levelbook.archive.clock import Clock
from levelbook.archive.database import Database
from levelbook.archive.document import to_entries
from levelbook.archive.entries import read_entries, write_entry
from levelbook.archive.store import Store, Taken
from levelbook.archive.tables import LOCAL
from levelbook.book import read_book, schema, write_book
from levelbook.drawing.source import Kind
from levelbook.errors import NoVisitError
from levelbook.findings import builtin_sets
from levelbook.firm import people
from levelbook.firm.roles import Who

SYNC_LIMIT, IMPORT_LIMIT = 12 * MEGABYTE, 10 * MEGABYTE
AT_ONCE = 8
"""Answers of the pages, and whole results and reports, that are worked out at once."""
SERVER, IMPORT = "server00", "import"
_TYPES = {
    "pdf": (".pdf", "application/pdf"),
    "html": (".html", "text/html; charset=utf-8"),
    "json": (".json", "application/json"),
    "readings.csv": ("-readings.csv", "text/csv; charset=utf-8"),
    "levels.csv": ("-levels.csv", "text/csv; charset=utf-8"),
}


def routes(desk: Desk, jobs: Jobs) -> list[Route]:
    """Return the routes of the API over a desk."""
    visits, results = Visits(desk), Results(desk, jobs)
    return [
        Route("/api/visits/{visit}/sync", visits.sync, methods=["POST"]),
        Route("/api/visits/{visit}/book", visits.book),
        Route("/api/visits/{visit}/history", visits.history),
        Route("/api/import", visits.take, methods=["POST"]),
        Route("/api/visits/{visit}/live", results.live),
        Route("/api/visits/{visit}/assess", results.assess),
        Route("/api/visits/{visit}/plan.svg", results.plan),
        Route("/api/visits/{visit}/report", results.start, methods=["POST"]),
        Route("/api/jobs/{job}", results.job),
        Route("/api/visits/{visit}/report.{kind:path}", results.report),
        Route("/api/visits/{visit}/compare/{later}", results.compare),
        Route("/api/photos/{sha256}", visits.keep_photo, methods=["PUT"]),
        Route("/api/photos/{sha256}", visits.photo),
        Route("/api/criteria", results.criteria),
        Route("/api/schema", results.schema),
    ]


async def work(make: Callable[[], Any], limit: CapacityLimiter | None = None) -> JSONResponse:
    """Answer with what a slower function returns, made beside the event loop.

    With ``limit``, only so many of them are made at once, and who waits holds no thread.
    """
    return JSONResponse(await to_thread.run_sync(make, limiter=limit))


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _number(request: Request, name: str, usual: float, most: float) -> float:
    """Return a number of the query, between 0 and ``most``."""
    text = request.query_params.get(name)
    try:
        value = usual if text is None else float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= most:
        raise RefusedError(400, name, f"this is not a number from 0 to {most:g}", "leave it out")
    return value


class Visits:
    """Entries in, documents out."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def of(self, request: Request) -> Desk:
        """Return the desk of the firm of whoever asks."""
        return self.desk.of(request.state.who)

    async def sync(self, request: Request) -> Response:
        """Take the entries sent and answer with those that the device lacks."""
        visit = _visit(request)
        sent = await json_object(request, SYNC_LIMIT)
        since = sent.get("since", 0)
        if not isinstance(since, int) or isinstance(since, bool) or not 0 <= since < 2**53:
            raise RefusedError(400, "since", "this is not a number of an entry", "send 0")
        mark = text(sent, "mark", 40, needed=False)
        entries = read_entries(sent.get("entries", []), visit, time.time_ns() // 1_000_000)
        request.state.entries = len(entries)
        take = partial(self.of(request).store.sync, visit, since, entries, _now(), mark)
        return JSONResponse(_told(await run_in_threadpool(take)))

    async def book(self, request: Request) -> Response:
        """Answer with the level-book document, or with its faults and the draft."""
        draft = await run_in_threadpool(lambda: self.of(request).draft(_visit(request)))
        if draft.book is not None:
            return Response(write_book(draft.book), media_type="application/json")
        faults = [fault_document(fault) for fault in draft.faults]
        told = {"error": faults[0], "faults": faults, "draft": draft.document}
        return JSONResponse(told, 422)

    async def history(self, request: Request) -> Response:
        """Answer with all entries of a visit, by their clocks."""
        visit = _visit(request)
        await run_in_threadpool(lambda: self.of(request).draft(visit))
        entries = await run_in_threadpool(lambda: self.of(request).store.entries(visit))
        ordered = sorted(entries, key=lambda e: e.clock)
        return JSONResponse({"entries": [write_entry(entry) for entry in ordered]})

    async def take(self, request: Request) -> Response:
        """Make a visit of a level-book document."""
        data = await body(request, IMPORT_LIMIT)
        store, who = self.of(request).store, request.state.who
        return await work(
            lambda: {"visit": take_document(store, data, author_of(store.database, who))}
        )

    async def keep_photo(self, request: Request) -> Response:
        """Take a photograph in."""
        return await self.of(request).photos.put(request)

    async def photo(self, request: Request) -> Response:
        """Answer with a photograph."""
        return await self.of(request).photos.show(request)


def author_of(database: Database, who: Who) -> str:
    """Return by which name somebody brings a whole book in; there are none without accounts."""
    if who.firm == LOCAL:
        return IMPORT
    with database.look(who.firm) as connection:
        person = people.by_id(connection, who.firm, who.person)
    return person.name or person.email


def take_document(store: Store, data: bytes, author: str = IMPORT) -> str:
    """Make a visit of a document's bytes and return its id; ``author`` brings it in.

    Raises
    ------
    DocumentError
        With all faults of the document.
    """
    document = json.loads(write_book(read_book(data)))
    visit, now = str(uuid.uuid4()), time.time_ns() // 1_000_000
    new = (lambda: str(uuid.uuid4()), now, _now())
    entries = tuple(to_entries(document, visit, author, Clock(0, 0, SERVER), new))
    store.sync(visit, 0, entries, _now())
    return visit


def _told(taken: Taken) -> dict[str, Any]:
    """Return the answer to a sending."""
    told = {"seq": taken.seq, "mark": taken.mark, "life": taken.life, "again": taken.again}
    back = [write_entry(entry) for entry in taken.entries]
    return told | {"entries": back, "accepted": list(taken.accepted)}


class Results:
    """What the readings amount to: a few at once, so that readings never wait for reports."""

    def __init__(self, desk: Desk, jobs: Jobs) -> None:
        self.desk, self.jobs = desk, jobs
        self._live, self._whole = CapacityLimiter(AT_ONCE), CapacityLimiter(AT_ONCE)

    def of(self, request: Request) -> Desk:
        """Return the desk of the firm of whoever asks."""
        return self.desk.of(request.state.who)

    async def live(self, request: Request) -> Response:
        """Answer with what a page renews after a reading."""
        return await work(lambda: self.of(request).live(_visit(request)), self._live)

    async def assess(self, request: Request) -> Response:
        """Answer with the result document."""
        make = partial(self.of(request).results, _visit(request), _criteria(request))
        return await work(make, self._whole)

    async def plan(self, request: Request) -> Response:
        """Answer with a drawing."""
        asked = request.query_params.get("kind", "levels")
        kind: Kind | None = next((k for k in get_args(Kind) if k == asked), None)
        if kind is None:
            raise RefusedError(400, "kind", "there is no such drawing", "ask for levels")
        width, height = _number(request, "width", 180, 2000), _number(request, "height", 180, 2000)
        if min(width, height) < 60:
            raise RefusedError(400, "width", "this is too small to draw on", "ask for 60 or more")
        draw = partial(self.of(request).drawing, _visit(request), kind, width, height)
        drawn = await to_thread.run_sync(draw, limiter=self._whole)
        return Response(drawn, media_type="image/svg+xml")

    async def start(self, request: Request) -> Response:
        """Start making a report and answer with the job."""
        visit, criteria = _visit(request), _criteria(request)
        await run_in_threadpool(lambda: self.of(request).book(visit))
        steps = (
            ("levels and shape", lambda: self.of(request).assessment(visit, criteria)),
            ("pages", lambda: self.of(request).report(visit, criteria)),
        )
        return JSONResponse({"job": self.jobs.start(self.of(request).store.firm, steps).id}, 202)

    async def job(self, request: Request) -> Response:
        """Answer with the state of a job."""
        job = self.jobs.get(request.state.who.firm, request.path_params["job"])
        if job is None:
            raise RefusedError(404, "job", "there is no such job", "start the report again")
        return JSONResponse({n: getattr(job, n) for n in type(job).__slots__})

    async def report(self, request: Request) -> Response:
        """Answer with a file of the report."""
        visit, criteria = _visit(request), _criteria(request)
        ending, media = _TYPES.get(request.path_params["kind"], ("", ""))
        if not ending:
            raise RefusedError(404, "report", "a report has no such file", "ask for report.pdf")
        make = partial(self.of(request).report, visit, criteria)
        parts = await to_thread.run_sync(make, limiter=self._whole)
        headers = {"content-disposition": f'inline; filename="report{ending}"'}
        if ending == ".html":
            headers[POLICY] = file_policy(parts[ending])
        return Response(parts[ending], media_type=media, headers=headers)

    async def compare(self, request: Request) -> Response:
        """Answer with what two visits to one house say about movement."""
        earlier, later = _visit(request), visit_id(request.path_params["later"])
        return await work(partial(self.of(request).comparison, earlier, later), self._whole)

    async def criteria(self, _: Request) -> Response:
        """Answer with the sets of criteria."""
        sets = [{"id": each.id, "title": each.title} for each in builtin_sets()]
        return JSONResponse({"sets": sets})

    async def schema(self, _: Request) -> Response:
        """Answer with the JSON Schema of the document."""
        return JSONResponse(schema())


def _visit(request: Request) -> str:
    """Return the visit's id of a request's address, if it is of the form ids have."""
    return visit_id(request.path_params["visit"])


def visit_id(visit: str) -> str:
    """Return a visit's id, if it is of the form ids have.

    Raises
    ------
    NoVisitError
        If it is not.
    """
    if not (8 <= len(visit) <= 64 and visit.replace("-", "").replace("_", "").isalnum()):
        raise NoVisitError(visit)
    return visit


def _criteria(request: Request) -> tuple[str, ...]:
    return tuple(dict.fromkeys(request.query_params.getlist("criteria")))[:20]
