"""Telling people what changed in their way in: on the pages until they read it, and by mail."""

import logging
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.answers import RefusedError, json_object
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.errors import UsageError
from levelbook.firm import changes, mail, people
from levelbook.firm.people import Person
from levelbook.firm.roles import Who

LOG = logging.getLogger("levelbook.mail")
SMALL = 1000


@dataclass(frozen=True)
class Postbox:
    """Sends word of what changed to those whom it concerns, where mail is set up.

    ``folder`` is where ``mail.toml`` lies, ``address`` where people find the server.
    """

    database: Database
    folder: Path
    address: str

    def tell(self, who: Who, now: datetime) -> BackgroundTask:
        """Return what tells somebody, after the answer was sent, what changed at a moment."""
        return self._later(lambda: self._by_id(who), now)

    def tell_at(self, email: str, now: datetime) -> BackgroundTask:
        """Do the same for whoever has an e-mail address."""
        return self._later(lambda: self._by_email(email), now)

    def _later(self, find: Callable[[], Person | None], now: datetime) -> BackgroundTask:
        return BackgroundTask(run_in_threadpool, self._send, find, stamp(now))

    def _send(self, find: Callable[[], Person | None], at: str) -> None:
        """Send what changed at a moment; what keeps a mail from going is written to the log."""
        try:
            settings = mail.read_settings(self.folder)
            person = find() if settings else None
            if settings is None or person is None:
                return
            with self.database.look(person.firm) as connection:
                firm = people.firm_name(connection, person.firm)
                found = changes.made_at(connection, person.who, at)
            for change in found:
                word = mail.Word(person.email, firm, self.address, change)
                mail.send(settings, mail.compose_word(word, settings.sender, datetime.now(UTC)))
        except UsageError as error:
            LOG.warning(
                "word of a change not sent", extra={"told": {"error": type(error).__name__}}
            )

    def _by_id(self, who: Who) -> Person:
        with self.database.look(who.firm) as connection:
            return people.by_id(connection, who.firm, who.person)

    def _by_email(self, email: str) -> Person | None:
        with self.database.look(EVERY_FIRM) as connection:
            return people.by_email(connection, email)


class OwnChanges:
    """What changed in one's own way in, until it was read."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/api/changes", self.list),
            Route("/api/changes/read", self.read, methods=["POST"]),
        ]

    async def list(self, request: Request) -> Response:
        """Answer with what changed, the newest first."""
        who: Who = request.state.who

        def told() -> list[dict[str, Any]]:
            with self.database.look(who.firm) as connection:
                return [asdict(change) for change in changes.unread(connection, who)]

        return JSONResponse({"changes": await run_in_threadpool(told)})

    async def read(self, request: Request) -> Response:
        """Take down that somebody has read what they were told."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        upto = given.get("upto")
        if not isinstance(upto, int) or isinstance(upto, bool) or not 0 <= upto < 2**53:
            raise RefusedError(400, "upto", "this is no line's number", "send the newest one told")

        def mark() -> None:
            with self.database.use(who.firm) as connection:
                changes.mark_read(connection, who, upto, datetime.now(UTC))

        await run_in_threadpool(mark)
        return JSONResponse({"read": True})
