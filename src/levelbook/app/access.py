"""Who may use which address: one table, and the gate that holds every request to it.

What is not in the table is refused to everyone. A request that changes something must come
from the app's own pages: its ``Origin`` or ``Sec-Fetch-Site`` must say so, and with a session
it must carry that session's token in ``x-levelbook-csrf``, which another site cannot read
(synchronizer token and origin check of the OWASP CSRF Prevention Cheat Sheet). What is most
serious also asks that password or passkey were given not long ago, so that a device left open
does not open a firm.
"""

import hmac
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute, Match
from starlette.types import ASGIApp, Receive, Scope, Send

from levelbook.app.answers import error_document
from levelbook.app.late import looked_again
from levelbook.app.pace import Pace
from levelbook.firm.roles import ANYONE, EVERYONE, HERE, OWNERS, RELEASERS, Known, Who

__all__ = ["CSRF", "RULES", "Access", "Known", "Rule", "Who", "cookie_name", "own_machine"]

CSRF = "x-levelbook-csrf"
_READS = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True, slots=True)
class Rule:
    """Who may use an address in which ways; ``csrf``: only from the app's own pages.

    ``proof``: only where password or passkey were given within the last quarter of an hour.
    """

    path: str
    methods: tuple[str, ...]
    roles: frozenset[str]
    csrf: bool
    proof: bool = False


Finder = Callable[[str], Known | None]
"""Finds out who comes with a cookie's value, which is empty where there is no cookie."""


def _get(path: str, roles: frozenset[str] = EVERYONE) -> Rule:
    return Rule(path, ("GET",), roles, csrf=False)


def _do(path: str, roles: frozenset[str] = EVERYONE, method: str = "POST") -> Rule:
    return Rule(path, (method,), roles, csrf=True)


def _serious(path: str, roles: frozenset[str] = EVERYONE, method: str = "POST") -> Rule:
    return Rule(path, (method,), roles, csrf=True, proof=True)


RULES: tuple[Rule, ...] = (
    # visits and what they amount to
    _get("/api/visits"),
    _do("/api/visits/{visit}/sync"),
    _get("/api/visits/{visit}/book"),
    _get("/api/visits/{visit}/history"),
    _do("/api/import"),
    _do("/api/import/preview"),
    _do("/api/import/take"),
    _get("/api/visits/{visit}/exports/{format}"),
    _get("/api/visits/{visit}/export/{format}"),
    _get("/api/visits/{visit}/live"),
    _get("/api/visits/{visit}/assess"),
    _get("/api/visits/{visit}/plan.svg"),
    _do("/api/visits/{visit}/report"),
    _get("/api/jobs/{job}"),
    _get("/api/visits/{visit}/report.{kind:path}"),
    _get("/api/visits/{visit}/compare/{later}"),
    _do("/api/photos/{sha256}", method="PUT"),
    _get("/api/photos/{sha256}"),
    _get("/api/criteria"),
    _get("/api/schema"),
    # people
    _get("/api/me"),
    _do("/api/sign-in", ANYONE),
    _do("/api/sign-out"),
    _do("/api/sign-in/passkey/options", ANYONE),
    _do("/api/sign-in/passkey", ANYONE),
    _serious("/api/passkeys/options"),
    _serious("/api/passkeys"),
    _get("/api/passkeys"),
    _serious("/api/passkeys/{id}", method="DELETE"),
    _serious("/api/invitations", OWNERS),
    _get("/api/invitations/{token}", ANYONE),
    _do("/api/invitations/{token}", ANYONE),
    _get("/api/people"),
    _serious("/api/people/{id}", OWNERS),
    _serious("/api/people/{id}/reset", OWNERS),
    _get("/api/sessions"),
    _do("/api/sessions/{id}", method="DELETE"),
    _do("/api/password"),
    _do("/api/prove"),
    _get("/api/changes"),
    _do("/api/changes/read"),
    _get("/api/audit", OWNERS),
    _get("/api/audit/check", OWNERS),
    # review, release, links
    _get("/api/inspectors"),
    _do("/api/visits/{visit}/state"),
    _do("/api/visits/{visit}/release", RELEASERS),
    _get("/api/visits/{visit}/reviews"),
    _get("/api/releases/{id}/{file}"),
    _do("/api/releases/{id}/links", RELEASERS),
    _get("/api/releases/{id}/links"),
    _do("/api/links/{id}", RELEASERS, "DELETE"),
    _do("/api/links/{id}/mail", RELEASERS),
    _get("/r/{secret}", ANYONE),
    _get("/r/{secret}/report.pdf", ANYONE),
    _get("/r/{secret}/plan.html", ANYONE),
    _get("/r/{secret}/plan.svg", ANYONE),
    _get("/r/{secret}/plan-phone.svg", ANYONE),
    _get("/r/{secret}/earlier/{n}.pdf", ANYONE),
    _get("/client.css", ANYONE),
    # instruments and reminders
    _get("/api/instruments"),
    _do("/api/instruments", OWNERS),
    _do("/api/instruments/{id}", OWNERS),
    _do("/api/instruments/{id}/checks"),
    _get("/api/reminders"),
    _get("/api/reminders.ics"),
    # operation
    _get("/api/openapi.json"),
    _get("/health/live", ANYONE),
    _get("/health/ready", ANYONE),
    _get("/metrics", ANYONE),
    # the pages
    _get("/", ANYONE),
    _get("/{path:path}", ANYONE),
)
"""Every address; a test holds the app's routes against it, so that none is left out."""

NOBODY = Rule("", (), frozenset(), csrf=True)


def cookie_name(*, secure: bool) -> str:
    """Return the cookie's name; ``__Host-`` binds it to https, this host and the whole path.

    RFC 6265bis, section 4.1.3.2.
    """
    return "__Host-levelbook" if secure else "levelbook"


def own_machine(_: str) -> Known:
    """Take everyone for the owner: there are no accounts on one's own machine."""
    return Known(HERE, "")


def rule_of(routes: Sequence[BaseRoute], scope: Scope) -> Rule | None:
    """Return the rule of the route that will answer; ``None`` if the router has no answer.

    The first route that matches whole answers, as in the router itself. One that is not in
    the table gets the rule that lets nobody in.
    """
    for route in routes:
        if route.matches(scope)[0] is Match.FULL:
            method = "GET" if scope["method"] == "HEAD" else scope["method"]
            return _BY_ADDRESS.get((getattr(route, "path", ""), method), NOBODY)
    return None


class Access:
    """Holds each request to its rule and puts who asks into ``request.state.who``."""

    def __init__(
        self, app: ASGIApp, routes: Sequence[BaseRoute], find: Finder, *, secure: bool
    ) -> None:
        self.app, self.routes, self.find, self.pace = app, routes, find, Pace()
        self.cookie = cookie_name(secure=secure)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        null = "\x00" in scope["path"] or b"%00" in scope["query_string"]
        if null and scope["path"].startswith(("/api/", "/r/")):
            problem, remedy = "this address holds a sign that no text has", "check the address"
            await _told(400, "refused", problem, remedy)(scope, receive, send)
            return
        rule = rule_of(self.routes, scope)
        known: Known | None = None
        value = _cookie(Headers(scope=scope), self.cookie)
        if rule is not None and scope["path"].startswith("/api/"):
            known = await run_in_threadpool(self.find, value)
        state = scope.setdefault("state", {})
        state["who"], state["csrf"] = (known.who, known.csrf) if known else (None, "")
        refusal = self._too_fast(known)
        if refusal is None and rule is not None:
            refusal = refuse(rule, known, scope)
        if refusal is None and known is not None and scope["method"] not in _READS:
            receive = looked_again(receive, partial(self._stands, value, known.who))
        await (refusal or self.app)(scope, receive, send)

    async def _stands(self, value: str, who: Who) -> bool:
        """Tell whether a cookie's value still stands for somebody, with the same role."""
        known = await run_in_threadpool(self.find, value)
        return known is not None and known.who == who

    def _too_fast(self, known: Known | None) -> JSONResponse | None:
        """Return the refusal of a request that came too soon after many others."""
        wait = self.pace.wait(known.who.session) if known and known.who.session else 0.0
        if wait == 0.0:
            return None
        problem = "this device asks for more at once than people do"
        told = _told(429, "too-many", problem, "wait a moment; what was written is kept")
        told.headers["retry-after"] = str(math.ceil(wait))
        return told


def refuse(rule: Rule, known: Known | None, scope: Scope) -> JSONResponse | None:
    """Return the refusal of a request that its rule does not allow; ``None`` if it does."""
    refusal = _by_role(rule, known)
    if refusal is not None or scope["method"] in _READS or not rule.csrf:
        return refusal
    return _by_origin(known, scope) or _by_proof(rule, known)


def _by_role(rule: Rule, known: Known | None) -> JSONResponse | None:
    if rule == NOBODY:
        return _told(403, "not-allowed", "this is not open to anyone", "go back to the houses")
    if rule.roles == ANYONE:
        return None
    if known is None:
        return _told(401, "signed-out", "nobody is signed in here", "sign in")
    if known.who.role not in rule.roles:
        problem = f"this is not open to the role {known.who.role}"
        return _told(403, "not-allowed", problem, "ask an owner of your firm")
    return None


def _by_origin(known: Known | None, scope: Scope) -> JSONResponse | None:
    """Return the refusal of a change that does not come from the app's own pages."""
    headers = Headers(scope=scope)
    session = known is not None and known.who.session != ""
    if not _from_here(headers, scope, told=session):
        return _told(403, "foreign", "this was sent by another site", "use the app's own pages")
    if known is not None and session:
        given = headers.get(CSRF, "").encode("latin-1", "replace")
        if not hmac.compare_digest(given, known.csrf.encode()):
            return _told(403, "csrf", "the page's token is missing or old", "load the page again")
    return None


def _by_proof(rule: Rule, known: Known | None) -> JSONResponse | None:
    """Return the refusal of what is serious where the last proof is too long ago."""
    if not rule.proof or known is None or known.proved:
        return None
    problem = "this asks for your password or passkey again"
    return _told(403, "prove", problem, "give one of them, then do it once more")


def _from_here(headers: Headers, scope: Scope, *, told: bool) -> bool:
    """Tell whether a request comes from the app's own pages; ``told``: it must say so itself."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None and site != "same-origin":
        return False
    if origin is not None:
        return origin == f"{scope.get('scheme', 'http')}://{headers.get('host', '')}"
    return site is not None or not told


def _cookie(headers: Headers, name: str) -> str:
    """Return a cookie's value; of two under one name none counts, since one was slipped in."""
    pairs = ";".join(headers.getlist("cookie"))
    named = [part for part in pairs.split(";") if part.strip().partition("=")[0].strip() == name]
    return cookie_parser(named[0]).get(name, "") if len(named) == 1 else ""


def _told(status: int, code: str, problem: str, remedy: str) -> JSONResponse:
    return JSONResponse(error_document(code, "access", problem, remedy), status)


_BY_ADDRESS = {(rule.path, method): rule for rule in RULES for method in rule.methods}
