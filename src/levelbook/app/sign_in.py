"""The addresses by which people come in, leave, and look after their own account."""

from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any, TypeVar

import anyio
from anyio import CapacityLimiter
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.access import cookie_name
from levelbook.app.answers import RefusedError, error_document, json_object
from levelbook.app.fields import email, secret, text
from levelbook.app.own_changes import Postbox
from levelbook.app.settings import Settings
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.firm import invitations, limits, passkeys, people, sessions
from levelbook.firm.accounts import Accounts, Entered, Place, WrongError
from levelbook.firm.limits import DEVICE
from levelbook.firm.passkeys import Keys
from levelbook.firm.passwords import Passwords
from levelbook.firm.roles import HERE, OWNER, Known, Who
from levelbook.firm.tokens import digest, is_token

T = TypeVar("T")
SMALL = 64_000
"""Bytes of a request here; a passkey's answer is the largest."""
LONG_PASSWORD = 1000
"""Characters that are looked at; what is too long for a new password is told in words."""
AT_ONCE = 4
"""Passwords checked at once, so that many sign-ins cannot take all memory: 64 MiB each."""


async def me_here(_: Request) -> Response:
    """Answer who sits at one's own machine, where there are no accounts."""
    person = {"id": HERE.person, "name": "", "email": "", "role": HERE.role}
    firm = {"id": HERE.firm, "name": ""}
    return JSONResponse({"person": person, "firm": firm, "csrf": "", "mode": "own"})


class SignIn:
    """Signing in and out, invitations, passkeys, devices; proving again who one is."""

    def __init__(
        self,
        database: Database,
        settings: Settings,
        postbox: Postbox,
        passwords: Passwords | None = None,
    ) -> None:
        self.database, self.settings, self.postbox = database, settings, postbox
        keys = Keys(settings.address)
        self.accounts = Accounts(database, passwords or Passwords(), keys)
        self._limiter = CapacityLimiter(AT_ONCE)
        self.cookie = cookie_name(secure=settings.secure)

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/api/me", self.me),
            Route("/api/sign-in", self.sign_in, methods=["POST"]),
            Route("/api/sign-out", self.sign_out, methods=["POST"]),
            Route("/api/sign-in/passkey/options", self.ask_key, methods=["POST"]),
            Route("/api/sign-in/passkey", self.sign_in_by_key, methods=["POST"]),
            Route("/api/passkeys/options", self.ask_new_key, methods=["POST"]),
            Route("/api/passkeys", self.add_key, methods=["POST"]),
            Route("/api/passkeys", self.keys),
            Route("/api/passkeys/{id}", self.remove_key, methods=["DELETE"]),
            Route("/api/invitations/{token}", self.invitation),
            Route("/api/invitations/{token}", self.accept, methods=["POST"]),
            Route("/api/sessions", self.devices),
            Route("/api/sessions/{id}", self.end_device, methods=["DELETE"]),
            Route("/api/password", self.password, methods=["POST"]),
            Route("/api/prove", self.prove, methods=["POST"]),
        ]

    def find(self, token: str) -> Known | None:
        """Return who a cookie's token stands for."""
        return sessions.find(self.database, token, _now()) if token else None

    async def me(self, request: Request) -> Response:
        """Answer who is signed in, and the token that changes must carry."""
        who: Who = request.state.who

        def told() -> dict[str, Any]:
            with self.database.look(who.firm) as connection:
                person = people.by_id(connection, who.firm, who.person)
                firm = {"id": who.firm, "name": people.firm_name(connection, who.firm)}
            about = {name: getattr(person, name) for name in ("id", "name", "email", "role")}
            return {"person": about, "firm": firm, "csrf": request.state.csrf, "mode": "firm"}

        return JSONResponse(await run_in_threadpool(told))

    async def sign_in(self, request: Request) -> Response:
        """Take an e-mail address and a password, and begin a session."""
        given = await json_object(request, SMALL)
        address, password = email(given), secret(given, "password", LONG_PASSWORD)
        place, now = self._place(request, given), _now()
        try:
            entered = await self._slow(lambda: self.accounts.sign_in(address, password, place, now))
        except WrongError as error:
            told = error_document("refused", error.place, error.problem, error.remedy)
            return JSONResponse(told, 401, background=self._later(error.who, now))
        return await self._entered(request, entered, now)

    async def sign_out(self, request: Request) -> Response:
        """End this session."""
        who: Who = request.state.who
        await run_in_threadpool(lambda: self.accounts.sign_out(who, who.session, _now()))
        answer = JSONResponse({"signed_out": True})
        self._set(answer, self.cookie, "", 0)
        return answer

    async def ask_key(self, request: Request) -> Response:
        """Answer what a browser needs to sign in with a passkey."""
        client, now = self._place(request, {}).client, _now()

        def ask() -> dict[str, Any]:
            key = digest("ask", limits.address_key(client))
            with self.database.use(EVERY_FIRM) as connection:
                limits.take_address(connection, key, now, limits.PER_ADDRESS_ASKED)
            with self.database.use(EVERY_FIRM) as connection:
                return self.accounts.keys.ask(connection, now)

        return JSONResponse(await run_in_threadpool(ask))

    async def sign_in_by_key(self, request: Request) -> Response:
        """Take a passkey's answer and begin a session."""
        given = await json_object(request, SMALL)
        place, now = self._place(request, given), _now()
        answer = given.get("credential")
        told: dict[str, Any] = answer if isinstance(answer, dict) else {}
        entered = await run_in_threadpool(lambda: self.accounts.sign_in_by_key(told, place, now))
        return await self._entered(request, entered, now)

    async def ask_new_key(self, request: Request) -> Response:
        """Answer what a browser needs to make a passkey."""
        who: Who = request.state.who

        def ask() -> dict[str, Any]:
            with self.database.use(who.firm) as connection:
                person = people.by_id(connection, who.firm, who.person)
                return self.accounts.keys.ask_new(connection, person, _now())

        return JSONResponse(await run_in_threadpool(ask))

    async def add_key(self, request: Request) -> Response:
        """Keep a new passkey."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        name, answer = text(given, "name", 100, needed=False), given.get("credential")
        told: dict[str, Any] = answer if isinstance(answer, dict) else {}

        now = _now()

        def add() -> dict[str, Any]:
            with self.database.use(who.firm) as connection:
                return asdict(self.accounts.keys.add(connection, who, told, name, now))

        made = {"passkey": await run_in_threadpool(add)}
        return JSONResponse(made, 201, background=self.postbox.tell(who, now))

    async def keys(self, request: Request) -> Response:
        """Answer with one's own passkeys."""
        who: Who = request.state.who

        def told() -> list[dict[str, Any]]:
            with self.database.look(who.firm) as connection:
                return [asdict(key) for key in passkeys.listed(connection, who.firm, who.person)]

        return JSONResponse({"passkeys": await run_in_threadpool(told)})

    async def remove_key(self, request: Request) -> Response:
        """Remove one of one's own passkeys."""
        who: Who = request.state.who
        now = _now()

        def remove() -> None:
            with self.database.use(who.firm) as connection:
                passkeys.remove(connection, who, request.path_params["id"], now)

        await run_in_threadpool(remove)
        return JSONResponse({"removed": True}, background=self.postbox.tell(who, now))

    async def invitation(self, request: Request) -> Response:
        """Answer what an invitation is for."""

        def told() -> dict[str, Any]:
            with self.database.look(EVERY_FIRM) as connection:
                found = invitations.find(connection, request.path_params["token"], _now())
                firm = people.firm_name(connection, found.firm)
            told = asdict(found) | {"firm": {"name": firm}}
            return {"invitation": told}

        return JSONResponse(await run_in_threadpool(told))

    async def accept(self, request: Request) -> Response:
        """Take a name and a password, and let the invited person in; they then sign in."""
        given = await json_object(request, SMALL)
        name = text(given, "name", 200, needed=False)
        password = secret(given, "password", LONG_PASSWORD)
        token, now = request.path_params["token"], _now()
        passwords = self.accounts.passwords
        address = await self._slow(
            lambda: invitations.accept(self.database, passwords, token, (name, password), now)
        )
        return JSONResponse({"email": address}, 201, background=self.postbox.tell_at(address, now))

    async def devices(self, request: Request) -> Response:
        """Answer where somebody is signed in: oneself, or for an owner anyone in the firm."""
        who: Who = request.state.who
        person = request.query_params.get("person", who.person)
        if person != who.person and who.role != OWNER:
            raise RefusedError(403, "person", "these are not your devices", "ask an owner")

        def told() -> list[dict[str, Any]]:
            with self.database.look(who.firm) as connection:
                people.by_id(connection, who.firm, person)
                found = sessions.listed(connection, who.firm, person, _now())
            return [asdict(item) | {"current": item.id == who.session} for item in found]

        return JSONResponse({"sessions": await run_in_threadpool(told)})

    async def end_device(self, request: Request) -> Response:
        """Sign a device out; in place of an id, ``all`` signs out every device but this one.

        With ``person``, an owner does it for somebody of the firm.
        """
        who: Who = request.state.who
        session, accounts = request.path_params["id"], self.accounts
        person = request.query_params.get("person", who.person)
        if session == "all":
            await run_in_threadpool(lambda: accounts.sign_out_all(who, person, _now()))
        else:
            await run_in_threadpool(lambda: accounts.sign_out(who, session, _now()))
        return JSONResponse({"signed_out": True})

    async def password(self, request: Request) -> Response:
        """Set a new password in place of the old one."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        old, new = secret(given, "old", LONG_PASSWORD), secret(given, "new", LONG_PASSWORD)
        now = _now()
        await self._slow(lambda: self.accounts.change_password(who, old, new, now))
        return JSONResponse({"changed": True}, background=self.postbox.tell(who, now))

    async def prove(self, request: Request) -> Response:
        """Take password or passkey again, for what asks for it."""
        who: Who = request.state.who
        given = await json_object(request, SMALL)
        now, answer = _now(), given.get("credential")
        if isinstance(answer, dict):
            client = self._place(request, {}).client
            key: dict[str, Any] = answer
            await run_in_threadpool(lambda: self.accounts.prove_by_key(who, key, client, now))
        else:
            password = secret(given, "password", LONG_PASSWORD)
            await self._slow(lambda: self.accounts.prove(who, password, now))
        return JSONResponse({"proved": True})

    async def _slow(self, work: Callable[[], T]) -> T:
        """Do what hashes a password, a few at a time."""
        return await anyio.to_thread.run_sync(work, limiter=self._limiter)

    def _place(self, request: Request, given: dict[str, Any]) -> Place:
        """Return where a request comes from."""
        told = text(given, "device", 200, needed=False)
        cookie = request.cookies.get(f"{self.cookie}-device", "")
        client = request.client.host if request.client else ""
        return Place(client, told, cookie if is_token(cookie) else "")

    async def _entered(self, request: Request, entered: Entered, now: datetime) -> Response:
        """Answer a sign-in with new cookies, and end the session that the browser had before."""
        before: Who | None = request.state.who
        if before is not None:
            await run_in_threadpool(lambda: self.accounts.sign_out(before, before.session, now))
        answer = JSONResponse({"signed_in": True, "at": stamp(now)})
        self._set(answer, self.cookie, entered.session, sessions.ABSOLUTE)
        self._set(answer, f"{self.cookie}-device", entered.device, DEVICE)
        return answer

    def _set(self, answer: Response, name: str, value: str, seconds: int) -> None:
        secure = self.settings.secure
        answer.set_cookie(
            name, value, max_age=seconds, path="/", secure=secure, httponly=True, samesite="lax"
        )

    def _later(self, who: Who | None, now: datetime) -> BackgroundTask:
        """Return what writes a failure down after the answer was sent."""
        return BackgroundTask(run_in_threadpool, self.accounts.note_failure, who, now)


def _now() -> datetime:
    return datetime.now(UTC)
