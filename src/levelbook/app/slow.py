"""Connections that take too long: cut off, so that slow ones cannot use up the server.

A request's head must arrive in :data:`HEAD` seconds, an answer must move on within
:data:`STALLED`; how slowly a body may come is for :mod:`levelbook.app.sizes`.
"""

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD, STALLED, IDLE = 10.0, 60.0, 30
"""Seconds for a request's head, for an answer that does not move, and between two requests."""
CONNECTIONS = 1000
"""Connections at once; one more is told 503."""
HEAD_BYTES = 48_000


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
