"""One's own machine answers to its own names alone.

A page of another site can have its name point at this machine, and its scripts then count as
this machine's own (DNS rebinding). Such a request still names that site as its host.
"""

from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from levelbook.app.answers import error_document


class OnlyHosts:
    """Refuses requests to any other host than those named."""

    def __init__(self, app: ASGIApp, hosts: Collection[str]) -> None:
        self.app, self.hosts = app, hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "http" and _host(Headers(scope=scope)) not in self.hosts:
            problem, remedy = "this server has another name", "open it by the address it printed"
            told = error_document("refused", "host", problem, remedy)
            await JSONResponse(told, 421)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _host(headers: Headers) -> str:
    """Return the host that a request names, without its port; empty if it names none."""
    try:
        return urlsplit(f"//{headers.get('host', '')}").hostname or ""
    except ValueError:
        return ""
