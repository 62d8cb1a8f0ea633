"""How large and how slow a request may be: one table for every address.

A body is refused while it arrives, whoever reads it; a sender who stops is not waited for.
"""

import asyncio
import re
import time

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from levelbook.app.answers import MEGABYTE, RefusedError, on_refused

USUAL = 64_000
"""Bytes of a body where the table names no other size."""
SIZES = (
    ("POST", re.compile(r"/api/visits/[^/]*/sync"), 12 * MEGABYTE),
    ("POST", re.compile(r"/api/import"), 10 * MEGABYTE),
    ("POST", re.compile(r"/api/import/(preview|take)"), 40 * MEGABYTE),
    ("PUT", re.compile(r"/api/photos/[^/]*"), 8 * MEGABYTE),
)
LONGEST_ADDRESS = 8_000
"""Bytes of path and query."""
MOST_HEADERS = 32_000
"""Bytes of all headers together."""
PAUSE, WHOLE = 20.0, 120.0
"""Seconds between two pieces of a body, and for all of it."""


def most_bytes(method: str, path: str) -> int:
    """Return how many bytes a request may carry."""
    found = (size for m, pattern, size in SIZES if m == method and pattern.fullmatch(path))
    return next(found, USUAL)


class Sizes:
    """Refuses requests that are too large (413, 414, 431) or that stop on their way (408)."""

    def __init__(self, app: ASGIApp, pause: float = PAUSE, whole: float = WHOLE) -> None:
        self.app, self.pause, self.whole = app, pause, whole

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        most = most_bytes(scope["method"], scope["path"])
        refused = _refused(scope, most)
        if refused is not None:
            answer = await on_refused(Request(scope), refused)
            answer.headers["connection"] = "close"
            await answer(scope, receive, send)
            return
        await self.app(scope, self._watched(receive, most), send)

    def _watched(self, receive: Receive, most: int) -> Receive:
        """Return ``receive`` with a count of bytes and time."""
        taken, whole = 0, False
        until = time.monotonic() + self.whole

        async def watched() -> Message:
            nonlocal taken, whole
            if whole:
                return await receive()
            patience = min(self.pause, until - time.monotonic())
            try:
                async with asyncio.timeout(max(patience, 0.0)):
                    message = await receive()
            except TimeoutError:
                raise RefusedError(
                    408, "upload", "the rest of this did not arrive", "send it again"
                ) from None
            taken += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if taken > most:
                raise _too_large(most)
            return message

        return watched


def _refused(scope: Scope, most: int) -> RefusedError | None:
    """Return why a request is refused by what its head tells."""
    if len(scope.get("raw_path") or scope["path"]) + len(scope["query_string"]) > LONGEST_ADDRESS:
        return RefusedError(414, "address", "this address is too long", "ask for less at a time")
    if sum(len(name) + len(value) for name, value in scope["headers"]) > MOST_HEADERS:
        return RefusedError(431, "headers", "these headers are too long", "clear this site's data")
    told = [value for name, value in scope["headers"] if name == b"content-length"]
    if len(told) > 1 or not all(value.isdigit() for value in told):
        return RefusedError(400, "content-length", "this is no length", "send it again")
    return _too_large(most) if told and int(told[0]) > most else None


def _too_large(most: int) -> RefusedError:
    shown = f"{most // MEGABYTE} MB" if most >= MEGABYTE else f"{most // 1000} kB"
    return RefusedError(413, "upload", f"this is larger than {shown}", "send a smaller file")
