"""The pages themselves: the built bundle, its addresses, and the headers that guard them."""

from pathlib import Path

from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

STATIC = Path(__file__).parent / "static"

_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; font-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'; worker-src 'self'; manifest-src 'self'"
)
_REPORT = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; "
    "font-src data:; base-uri 'none'; form-action 'none'; sandbox allow-scripts"
)
_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=(self)",
}


class Guard:
    """Adds the security headers to every answer.

    A report is a file of its own with its script inside; it is handed out in a sandbox.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        report = scope["path"].endswith("/report.html")

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["content-security-policy"] = _REPORT if report else _POLICY
                for name, value in _HEADERS.items():
                    headers[name] = value
                if scope["path"].startswith("/api/"):
                    headers.setdefault("cache-control", "no-store")
            await send(message)

        await self.app(scope, receive, guarded)


async def page(request: Request) -> Response:
    """Return a file of the bundle, or its start page for an address within the app."""
    asked = request.path_params.get("path", "")
    if asked.startswith("api/"):
        raise HTTPException(404)
    file = _file(asked)
    if file is not None:
        return FileResponse(file, headers=_caching(asked))
    start = STATIC / "index.html"
    if start.is_file():
        return FileResponse(start, headers={"cache-control": "no-cache"})
    return HTMLResponse(_NOT_BUILT, 503)


def _file(asked: str) -> Path | None:
    """Return the file of the bundle that is asked for, if there is one."""
    if not asked or not asked.isprintable():
        return None
    file = (STATIC / asked).resolve()
    return file if file.is_relative_to(STATIC.resolve()) and file.is_file() else None


def _caching(name: str) -> dict[str, str]:
    """Return for how long a file may be kept: for good where its name holds its digest."""
    for_good = name.startswith("assets/")
    return {"cache-control": "public, max-age=31536000, immutable" if for_good else "no-cache"}


_NOT_BUILT = """<!doctype html><html lang="en"><title>Levelbook</title>
<h1>The pages are not built</h1>
<p>This copy of the program was installed without its pages. Install it again from its source
with <code>pip install .</code>, which builds them.</p>"""
