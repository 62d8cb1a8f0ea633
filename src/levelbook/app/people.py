"""The addresses by which an owner looks after people, and the list of what was done."""

import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.answers import RefusedError, json_object
from levelbook.app.fields import choice, email, text
from levelbook.app.own_changes import Postbox
from levelbook.archive.database import Database
from levelbook.firm import audit, invitations, people
from levelbook.firm.roles import OWNER, Who

SMALL = 20_000
_FOR_ALL = ("id", "name", "role")
_FOR_OWNERS = ("email", "created", "disabled")


class People:
    """People, invitations and resets."""

    def __init__(self, database: Database, postbox: Postbox) -> None:
        self.database, self.postbox = database, postbox

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/api/people", self.list),
            Route("/api/people/{id}", self.change, methods=["POST"]),
            Route("/api/people/{id}/reset", self.reset, methods=["POST"]),
            Route("/api/invitations", self.invite, methods=["POST"]),
        ]

    async def list(self, request: Request) -> Response:
        """Answer with the firm's people; an owner also learns addresses and who is invited."""
        who: Who = request.state.who
        owner = who.role == OWNER
        shown = (*_FOR_ALL, *_FOR_OWNERS) if owner else _FOR_ALL

        def told() -> dict[str, Any]:
            with self.database.look(who.firm) as connection:
                found = people.listed(connection, who.firm)
                open_ones = invitations.waiting(connection, who.firm, _now()) if owner else []
            names = ("email", "name", "role", "created", "expires")
            return {
                "people": [{name: getattr(p, name) for name in shown} for p in found],
                "invitations": [{name: getattr(i, name) for name in names} for i in open_ones],
            }

        return JSONResponse(await run_in_threadpool(told))

    async def change(self, request: Request) -> Response:
        """Give somebody another role, shut them out, or let them in again."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        person: str = request.path_params["id"]
        role, disabled = text(given, "role", 20, needed=False), choice(given, "disabled")

        def change() -> dict[str, Any]:
            with self.database.use(who.firm) as connection:
                people.by_id(connection, who.firm, person)
                if role:
                    people.set_role(connection, who, person, role, _now())
                if disabled is not None:
                    people.set_disabled(connection, who, person, _now(), disabled=disabled)
                found = people.by_id(connection, who.firm, person)
            return {name: getattr(found, name) for name in (*_FOR_ALL, *_FOR_OWNERS)}

        return JSONResponse({"person": await run_in_threadpool(change)})

    async def reset(self, request: Request) -> Response:
        """Answer with a token by which somebody sets a new password, once and within a day."""
        who: Who = request.state.who
        person, now = request.path_params["id"], _now()

        def start() -> str:
            with self.database.use(who.firm) as connection:
                return invitations.start_reset(connection, who, person, now)

        token, whom = await run_in_threadpool(start), Who(who.firm, person, "")
        return JSONResponse({"token": token}, 201, background=self.postbox.tell(whom, now))

    async def invite(self, request: Request) -> Response:
        """Invite somebody, and answer with the token for the address that they open."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        name, role = text(given, "name", 200, needed=False), text(given, "role", 20)
        whom = (email(given), name, role)

        def invite() -> str:
            with self.database.use(who.firm) as connection:
                return invitations.invite(connection, who, whom, _now())

        return JSONResponse({"token": await run_in_threadpool(invite)}, 201)


class Audit:
    """The list of everything of consequence."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [Route("/api/audit", self.list), Route("/api/audit/check", self.check)]

    async def list(self, request: Request) -> Response:
        """Answer with lines, the newest first, and where to go on."""
        who: Who = request.state.who
        limit, after = _count(request, "limit", 50, 500), _count(request, "after", 0, 2**53)

        def told() -> dict[str, Any]:
            with self.database.look(who.firm) as connection:
                found = audit.lines(connection, who.firm, max(limit, 1), after)
            more = found[-1].seq if len(found) == max(limit, 1) else None
            entries = [asdict(line) | {"detail": json.loads(line.detail)} for line in found]
            return {"entries": entries, "next": more}

        return JSONResponse(await run_in_threadpool(told))

    async def check(self, request: Request) -> Response:
        """Answer whether the chain of the list holds, and its last link."""
        who: Who = request.state.who

        def told() -> dict[str, Any]:
            with self.database.look(who.firm) as connection:
                found = audit.check(connection, who.firm)
            return {"lines": found.lines, "chain": found.chain, "broken": found.broken}

        return JSONResponse(await run_in_threadpool(told))


def _count(request: Request, name: str, usual: int, most: int) -> int:
    """Return a whole number of the query, from 0 to ``most``."""
    told = request.query_params.get(name, str(usual))
    if not (told.isascii() and told.isdecimal() and len(told) < 18 and int(told) <= most):
        raise RefusedError(400, name, f"this is not a number from 0 to {most}", "leave it out")
    return int(told)


def _now() -> datetime:
    return datetime.now(UTC)
