"""Connections that take too long: cut off, so that slow ones cannot use up the server.

A request's head must arrive in :data:`HEAD` seconds, an answer must move on within
:data:`STALLED`; how slowly a body may come is for :mod:`levelbook.app.sizes`. An answer is
handed to the connection piece by piece, so that a slow client is seen to take it, and little
of it waits in memory meanwhile.
"""

import asyncio
from typing import Any

import h11
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD, STALLED, IDLE = 10.0, 60.0, 30
"""Seconds for a request's head, for an answer that does not move, and between two requests."""
CONNECTIONS = 1000
"""Connections at once; one more is told 503."""
HEAD_BYTES = 48_000
PIECE = 65_536
"""Bytes of an answer that are handed on at once; the next wait until most of them were taken."""


class Pieces:
    """Hands the body of an answer on in pieces."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""

        async def in_pieces(message: Message) -> None:
            body = memoryview(message.get("body", b""))
            if message["type"] != "http.response.body" or len(body) <= PIECE:
                await send(message)
                return
            last = (len(body) - 1) // PIECE * PIECE
            for start in range(0, last, PIECE):
                part = bytes(body[start : start + PIECE])
                await send({"type": message["type"], "body": part, "more_body": True})
            await send({**message, "body": bytes(body[last:])})

        await self.app(scope, receive, in_pieces)


class Patient(H11Protocol):
    """One connection, with an end to its patience."""

    head, stalled = HEAD, STALLED
    _late: asyncio.TimerHandle | None = None
    _stuck: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin, and wait for the first request."""
        super().connection_made(transport)
        self._late = self.loop.call_later(self.head, transport.abort)

    def data_received(self, data: bytes) -> None:
        """Take bytes in; from the first of a request's head its time runs."""
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._in_time()
        elif self._late is None:
            self._late = self.loop.call_later(self.head, self.transport.abort)

    def pause_writing(self) -> None:
        """Wait for the client to take what it was sent."""
        super().pause_writing()
        self._stuck = self.loop.call_later(self.stalled, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on."""
        super().resume_writing()
        self._unstuck()

    def connection_lost(self, exc: Exception | None) -> None:
        """End."""
        self._in_time()
        self._unstuck()
        super().connection_lost(exc)

    def _in_time(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _unstuck(self) -> None:
        if self._stuck is not None:
            self._stuck.cancel()
            self._stuck = None


def limits() -> dict[str, Any]:
    """Return the settings of the server that hold its connections to their limits."""
    return {
        "http": Patient,
        "ws": "none",
        "limit_concurrency": CONNECTIONS,
        "timeout_keep_alive": IDLE,
        "h11_max_incomplete_event_size": HEAD_BYTES,
    }
