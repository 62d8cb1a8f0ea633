"""The pages themselves: the built bundle, its addresses, and the headers that guard them."""

from pathlib import Path

from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from levelbook.app.headers import guard_headers

STATIC = Path(__file__).parent / "static"
LONGEST = 200
"""Letters of a name within the bundle; the system refuses very long ones with an error."""


class Guard:
    """Adds the security headers to every answer; what an answer sets itself stands."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers_of = guard_headers(scope)

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in headers_of.items():
                    headers.setdefault(name, value)
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
    if not asked or len(asked) > LONGEST or not (asked.isascii() and asked.isprintable()):
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
