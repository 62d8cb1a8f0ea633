"""The server's log: one JSON object a line, and nothing of a house, a person or a secret in it.

A request is told by the template of its route, never by its address; another program's message
by its wording before anything is put into it; an error by its kind and the lines of code it
passed, never by its text, which may quote what a user wrote.
"""

import json
import logging
import time
import traceback
import uuid
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import TextIO

from starlette.routing import BaseRoute, Match
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from levelbook.app.measures import Measures

LOG = logging.getLogger("levelbook.requests")
REQUESTS, SECONDS = "levelbook_requests_total", "levelbook_request_seconds"
ENTRIES = "levelbook_entries_taken_total"
NO_ROUTE = "none"
_DEEPEST = 12
_METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


class JsonLines(logging.Formatter):
    """Formats records as JSON: time, level, source, what is told of them."""

    def format(self, record: logging.LogRecord) -> str:
        """Return one line; arguments of a message are left out."""
        when = datetime.fromtimestamp(record.created, UTC)
        told: dict[str, object] = {
            "time": when.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "source": record.name,
            "event": str(record.msg)[:200],
        }
        told |= getattr(record, "told", {})
        if record.exc_info and record.exc_info[1] is not None:
            told["error"] = fault_lines(record.exc_info[1])
        return json.dumps(told, ensure_ascii=True)


def fault_lines(error: BaseException) -> list[str]:
    """Return kind and lines of code of an error and its causes, without their texts."""
    lines: list[str] = []
    seen: BaseException | None = error
    while seen is not None and len(lines) < 4 * _DEEPEST:
        lines.append(f"{type(seen).__module__}.{type(seen).__qualname__}")
        frames = traceback.extract_tb(seen.__traceback__)[-_DEEPEST:]
        lines += [f"  {_short(frame.filename)}:{frame.lineno} {frame.name}" for frame in frames]
        seen = seen.__cause__ or seen.__context__
    return lines


def _short(filename: str) -> str:
    """Return the last two parts of a file's path."""
    return "/".join(filename.replace("\\", "/").split("/")[-2:])


def set_up(stream: TextIO, *, quiet: bool = False) -> None:
    """Send the log of the program and of its server to a stream, one JSON object a line.

    Where ``quiet``, only what fails is told.
    """
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    usual = logging.ERROR if quiet else logging.INFO
    for name, level in (("levelbook", usual), ("uvicorn", max(usual, logging.WARNING))):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [handler], False
        logger.setLevel(level)


def measure_requests(measures: Measures) -> None:
    """Name what :class:`Watch` counts."""
    measures.counter(REQUESTS, "Requests by route, method and status.")
    measures.times(SECONDS, "Seconds from request to the end of its answer, by route.")
    measures.counter(ENTRIES, "Entries of visits taken in, repeats included.")


class Watch:
    """Counts, times and logs every request; the answer carries the request's id.

    A handler that takes entries in puts their number in ``request.state.entries``.
    """

    def __init__(self, app: ASGIApp, measures: Measures, routes: Iterable[BaseRoute]) -> None:
        self.app, self.measures, self.routes = app, measures, routes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun, status = time.perf_counter(), 0
        state = scope.setdefault("state", {})
        state["request_id"] = uuid.uuid4().hex

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [
                    *message.get("headers", ()),
                    (b"x-request-id", state["request_id"].encode()),
                ]
            await send(message)

        try:
            await self.app(scope, receive, watched)
        finally:
            self._tell(scope, status or 500, time.perf_counter() - begun)

    def _tell(self, scope: Scope, status: int, seconds: float) -> None:
        state = scope["state"]
        route, method = self._template(scope), scope["method"]
        method = method if method in _METHODS else "other"
        self.measures.count(REQUESTS, route=route, method=method, status=str(status))
        self.measures.time(SECONDS, seconds, route=route)
        if entries := state.get("entries", 0):
            self.measures.count(ENTRIES, entries)
        told = {
            "method": method,
            "route": route,
            "status": status,
            "ms": round(seconds * 1000, 1),
            "request": state["request_id"],
            "firm": getattr(state.get("who"), "firm", None),
        }
        level = logging.ERROR if status >= 500 else logging.INFO
        LOG.log(level, "request", extra={"told": told})

    def _template(self, scope: Scope) -> str:
        """Return the route's template: of the one that answered, or that would have."""
        route = scope.get("route")
        if route is None:
            route = next((r for r in self.routes if r.matches(scope)[0] != Match.NONE), None)
        return str(getattr(route, "path", NO_ROUTE))
