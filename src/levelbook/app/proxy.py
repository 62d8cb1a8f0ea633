"""What a proxy in front of the server tells about the client.

Only where the server was told that there is one: otherwise anybody could name an address of
their choice. One proxy is meant, and every request comes through it; of a list, the last entry
is what that proxy itself saw, all before it is what the client claimed.
"""

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send


class Proxied:
    """Puts the client's address for the proxy's, and https for the way between them."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "http":
            told = Headers(scope=scope).getlist("x-forwarded-for")
            client = _without_port(",".join(told).rpartition(",")[2].strip())
            scope["scheme"] = "https"
            if client:
                scope["client"] = (client, 0)
        await self.app(scope, receive, send)


def _without_port(told: str) -> str:
    """Return an address without the port that some proxies put behind it.

    A port is another one with each connection: with it nobody would be met again.
    """
    if told.startswith("["):
        return told[1:].partition("]")[0]
    return told.partition(":")[0] if told.count(":") == 1 else told
