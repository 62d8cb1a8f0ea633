"""The server put together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.routing import Route

from levelbook.app.answers import on_document, on_fault, on_http, on_refused
from levelbook.app.desk import Desk
from levelbook.app.jobs import Jobs
from levelbook.app.pages import Guard, page
from levelbook.app.photos import Photos
from levelbook.app.routes import Visits, routes
from levelbook.archive.store import open_store
from levelbook.demo import house
from levelbook.errors import DocumentError, UsageError

STORE, PHOTOS = "levelbook.sqlite", "photos"


def make_app(folder: Path, *, demo: bool = False) -> Starlette:
    """Return the app over the store in ``folder``; closing it closes the store.

    With ``demo``, an empty store gets the invented demo house.
    """
    store, jobs, photos = open_store(folder / STORE), Jobs(), Photos(folder / PHOTOS)
    desk = Desk(store, photos)
    if demo and not store.visits(limit=1):
        Visits(desk).take_document(house())

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        yield
        jobs.close()
        store.close()

    return Starlette(
        routes=[*routes(desk, jobs), Route("/", page), Route("/{path:path}", page)],
        lifespan=life,
        middleware=[Middleware(Guard), Middleware(GZipMiddleware, minimum_size=1000)],
        exception_handlers={
            DocumentError: on_document,
            UsageError: on_refused,
            HTTPException: on_http,
            Exception: on_fault,
        },
    )
