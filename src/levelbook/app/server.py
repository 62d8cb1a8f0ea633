"""The server put together: at one's own machine, or for a firm."""

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.exceptions import ExceptionMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect
from starlette.routing import Route

from levelbook.app.access import Access, Finder, own_machine
from levelbook.app.answers import (
    on_database,
    on_document,
    on_fault,
    on_gone,
    on_http,
    on_refused,
    on_system,
)
from levelbook.app.client_pages import ClientPages
from levelbook.app.desk import Desk
from levelbook.app.exchange_routes import exchange_routes
from levelbook.app.firm_routes import Backroom, firm_routes
from levelbook.app.health import health
from levelbook.app.jobs import Jobs
from levelbook.app.logs import Watch
from levelbook.app.noting import Noting
from levelbook.app.openapi import openapi
from levelbook.app.own_changes import OwnChanges, Postbox
from levelbook.app.pages import Guard, page
from levelbook.app.people import Audit, People
from levelbook.app.photos import Photos
from levelbook.app.proxy import Proxied
from levelbook.app.routes import routes, take_document
from levelbook.app.settings import Settings
from levelbook.app.sign_in import SignIn, me_here
from levelbook.app.sizes import Sizes
from levelbook.app.slow import Pieces
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.database import Database
from levelbook.archive.place import PHOTOS, STORE, ensure_firm
from levelbook.archive.store import Store, open_store
from levelbook.archive.tables import LOCAL
from levelbook.demo import house
from levelbook.errors import DocumentError, UsageError
from levelbook.firm.passwords import Passwords
from levelbook.firm.quotas import Quotas
from levelbook.firm.search import Query, find_visits

HANDLERS = {
    DocumentError: on_document,
    UsageError: on_refused,
    HTTPException: on_http,
    SQLAlchemyError: on_database,
    OSError: on_system,
    ClientDisconnect: on_gone,
}


def make_app(folder: Path, *, demo: bool = False) -> Starlette:
    """Return the app over the store in ``folder``; closing it closes the store.

    There are no accounts: everything belongs to the firm of one's own machine. With
    ``demo``, an empty store gets the invented demo house.
    """
    store, jobs = open_store(folder / STORE), Jobs()
    ensure_firm(store.database, LOCAL)
    blobs = Blobs(store.database, Folder(folder / PHOTOS))
    blobs.adopt()
    desk = Desk(store, Photos(blobs))
    if demo and not find_visits(store.database, store.firm, Query(), 1).rows:
        take_document(store, house())
    found = [*shared(desk, jobs), *firm_routes(Backroom(desk, folder)), Route("/api/me", me_here)]
    return assemble(found, own_machine, (desk, jobs), secure=False)


def make_firm_app(
    database: Database, blobs: Blobs, settings: Settings, passwords: Passwords | None = None
) -> Starlette:
    """Return the app of a firm's server, with accounts; closing it closes the database."""
    photos = Photos(blobs, Quotas(database, settings.quota))
    desk, jobs = Desk(Store(database), photos), Jobs()
    folder = settings.folder or photos.folder.parent
    postbox = Postbox(database, folder, settings.address)
    accounts = SignIn(database, settings, postbox, passwords)
    room = Backroom(desk, folder, settings.address)
    found = [*shared(desk, jobs), *firm_routes(room), *accounts.routes()]
    found += [*People(database, postbox).routes(), *OwnChanges(database).routes()]
    app = assemble(found, accounts.find, (desk, jobs), secure=settings.secure)
    if settings.behind_proxy:
        app.add_middleware(Proxied)
    return app


def shared(desk: Desk, jobs: Jobs) -> list[Route]:
    """Return the routes that are the same with accounts and without."""
    audit = Audit(desk.store.database)
    clients = ClientPages(desk).routes()
    return [*routes(desk, jobs), *exchange_routes(desk), *audit.routes(), *clients]


def assemble(
    found: Sequence[Route], find: Finder, ends: tuple[Desk, Jobs], *, secure: bool
) -> Starlette:
    """Return an app of routes and the pages, each request held to its rule."""
    desk, jobs = ends
    noting = Noting(desk.store.database)
    looked = health(desk.store.database, desk.photos.folder, jobs)
    told = [*looked.routes(), Route("/api/openapi.json", openapi)]
    every = [*found, *told, Route("/", page), Route("/{path:path}", page)]

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        if isinstance(desk.photos.blobs.shelf, Folder):
            desk.photos.blobs.shelf.sweep()
        noting.start()
        yield
        noting.close()
        jobs.close()
        desk.store.close()

    app = Starlette(
        routes=every,
        lifespan=life,
        middleware=[
            Middleware(Pieces),
            Middleware(Watch, looked.measures, every),
            Middleware(Guard),
            Middleware(Sizes),
            Middleware(GZipMiddleware, minimum_size=1000),
            Middleware(ExceptionMiddleware, HANDLERS),
            Middleware(Access, every, find, secure=secure),
        ],
        exception_handlers={**HANDLERS, Exception: on_fault},
    )
    app.state.measures = looked.measures
    app.router.redirect_slashes = False
    return app
