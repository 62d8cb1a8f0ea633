"""The addresses for review and release, links, instruments, reminders and the list of visits."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from functools import partial
from pathlib import Path
from typing import Any

from anyio import CapacityLimiter, to_thread
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.answers import RefusedError, json_object
from levelbook.app.asking import day_in, id_of, whole_in, words_in
from levelbook.app.desk import Desk
from levelbook.app.fields import choice, text
from levelbook.app.headers import POLICY, file_policy
from levelbook.app.routes import visit_id
from levelbook.archive.database import Database
from levelbook.archive.life import life_of
from levelbook.archive.moments import stamp
from levelbook.archive.seal import fingerprint
from levelbook.archive.store import Store
from levelbook.book import digest
from levelbook.errors import UsageError
from levelbook.firm import audit, instruments, issues, links, mail, reminders, reviews
from levelbook.firm.files import PAGE
from levelbook.firm.releases import Office, about_of, file_of, release
from levelbook.firm.roles import Who
from levelbook.firm.search import Query, find_visits, inspectors
from levelbook.firm.signing import KEYS, signing_key
from levelbook.firm.wording import told_day

SMALL = 20_000


@dataclass(frozen=True)
class Backroom:
    """What the firm's addresses share: the desk, the data folder, and the server's address.

    ``address`` is empty where the one that a request came by is meant.
    """

    desk: Desk
    folder: Path | None
    address: str = ""

    @property
    def database(self) -> Database:
        """The database of every firm."""
        return self.desk.store.database

    def office(self, who: Who) -> Office:
        """Return what a firm releases with."""
        desk = self.desk.of(who)
        return Office(
            Store(self.database, who.firm),
            desk.photos.blobs,
            desk.photos.get,
            partial(self._key, who.firm),
        )

    def link(self, request: Request, secret: str) -> str:
        """Return the address by which a client opens a release."""
        start = self.address or str(request.base_url).rstrip("/")
        return f"{start}/r/{secret}"

    def leads_here(self, address: str, secret: str) -> bool:
        """Tell whether an address is this server's own for a secret, as far as its own is known."""
        return not self.address or address == f"{self.address}/r/{secret}"

    def _key(self, firm: str) -> Any:  # noqa: ANN401 - the key of the cryptography package
        if self.folder is None:
            problem = "the server has no folder to keep the signing key in"
            raise UsageError("release", problem, "start it with --data")
        return signing_key(self.database, self.folder / KEYS, firm)


def firm_routes(room: Backroom) -> list[Route]:
    """Return the addresses of a firm's work, at one's own machine and on a server."""
    visits, released, register = Visits(room), Released(room), Register(room)
    return [
        Route("/api/visits", visits.list),
        Route("/api/inspectors", visits.inspectors),
        Route("/api/visits/{visit}/state", visits.state, methods=["POST"]),
        Route("/api/visits/{visit}/release", visits.release, methods=["POST"]),
        Route("/api/visits/{visit}/reviews", visits.reviews),
        Route("/api/releases/{id}/links", released.new_link, methods=["POST"]),
        Route("/api/releases/{id}/links", released.links),
        Route("/api/releases/{id}/{file}", released.file),
        Route("/api/links/{id}", released.revoke, methods=["DELETE"]),
        Route("/api/links/{id}/mail", released.send, methods=["POST"]),
        Route("/api/instruments", register.list),
        Route("/api/instruments", register.add, methods=["POST"]),
        Route("/api/instruments/{id}", register.change, methods=["POST"]),
        Route("/api/instruments/{id}/checks", register.check, methods=["POST"]),
        Route("/api/reminders", register.due),
        Route("/api/reminders.ics", register.calendar),
    ]


class Visits:
    """The list of visits, and the review of each.

    Releases are made one at a time, so that none finds its number taken; who waits holds
    nothing else up.
    """

    def __init__(self, room: Backroom) -> None:
        self.room, self._releasing = room, CapacityLimiter(1)

    async def list(self, request: Request) -> Response:
        """Answer with a page of visits, the last written first, and the key of the next page."""
        names = ("search", "state", "inspector", "finding", "instrument")
        asked = {name: words_in(request, name) for name in names}
        if asked["state"] and asked["state"] not in reviews.STATES:
            known = ", ".join(reviews.STATES)
            raise RefusedError(400, "state", "there is no such state", f"choose from {known}")
        start, end = day_in(request, "from"), day_in(request, "to")
        after = words_in(request, "after", 500)
        query = Query(**asked, start=start, end=end, after=after)
        limit = whole_in(request, "limit", 50, 1, 500)
        firm = request.state.who.firm
        found = await run_in_threadpool(find_visits, self.room.database, firm, query, limit)
        told = {"visits": [asdict(row) for row in found.rows], "next": found.next or None}
        told["life"] = await run_in_threadpool(life_of, self.room.database, firm)
        return JSONResponse(told | {"days": found.days})

    async def inspectors(self, request: Request) -> Response:
        """Answer with the names of inspectors that stand in visits."""
        firm = request.state.who.firm
        names = await run_in_threadpool(inspectors, self.room.database, firm)
        return JSONResponse({"inspectors": names})

    async def state(self, request: Request) -> Response:
        """Take a visit to review or back, and answer with the event."""
        who, visit = request.state.who, visit_id(request.path_params["visit"])
        given = await json_object(request, SMALL)
        to, reason = text(given, "state", 20), prose(given, "reason", 2000)
        take = partial(reviews.move, self.room.database, who, visit, to, reason, stamp(_now()))
        return JSONResponse({"event": asdict(await run_in_threadpool(take))}, 201)

    async def release(self, request: Request) -> Response:
        """Release a visit under its next issue and answer with it."""
        who, visit = request.state.who, visit_id(request.path_params["visit"])
        given = await json_object(request, SMALL)
        reason, seen = prose(given, "reason", 2000), text(given, "digest", 64, needed=False)
        make = partial(release, self.room.office(who), who, visit, reason, _now(), seen)
        made = await to_thread.run_sync(make, limiter=self._releasing)
        return JSONResponse({"release": told_release(made, None)}, 201)

    async def reviews(self, request: Request) -> Response:
        """Answer with the state of a visit, its events, its issues and what to look at first."""
        who, visit = request.state.who, visit_id(request.path_params["visit"])
        return JSONResponse(await run_in_threadpool(lambda: self._reviews(who, visit)))

    def _reviews(self, who: Who, visit: str) -> dict[str, Any]:
        events = reviews.events(self.room.database, who.firm, visit)
        every = issues.releases(self.room.database, who.firm, visit)
        with self.room.database.look(who.firm) as connection:
            state = reviews.state_of(connection, who.firm, visit)
        book = self.room.desk.of(who).draft(visit).book
        mark = "" if book is None else digest(book)
        if state in (reviews.RELEASED, reviews.CHANGED) and every:
            state = reviews.RELEASED if every[-1].digest == mark else reviews.CHANGED
        known = instruments.register(self.room.database, who.firm)
        cautions = () if book is None else instruments.cautions(book, known)
        return {
            "state": state,
            "changed": state == reviews.CHANGED,
            "digest": mark,
            "next_issue": len(every) + 1,
            "may": list(reviews.moves_of(state, who.role)),
            "cautions": list(cautions),
            "events": [asdict(event) for event in events],
            "releases": [told_release(each, every[-1]) for each in every],
        }


class Released:
    """What was released: its files, and the links of clients to it."""

    def __init__(self, room: Backroom) -> None:
        self.room = room

    async def file(self, request: Request) -> Response:
        """Answer with a file of a release as it was handed out."""
        who, wanted = request.state.who, id_of(request, "id", "release")
        name: str = request.path_params["file"]
        found = await run_in_threadpool(issues.find, self.room.database, who.firm, wanted)
        blobs = self.room.desk.of(who).photos.blobs
        data, media = await run_in_threadpool(file_of, blobs, found, name)
        headers = {
            "content-disposition": f'inline; filename="{found.number}-{found.issue}-{name}"',
            "cache-control": "private, no-store",
        }
        if name == PAGE:
            headers[POLICY] = file_policy(data)
        return Response(data, media_type=media, headers=headers)

    async def new_link(self, request: Request) -> Response:
        """Make a link to a release; its address is told this once."""
        who, wanted = request.state.who, id_of(request, "id", "release")
        given = await json_object(request, SMALL)
        days, earlier = given.get("days", links.USUAL_DAYS), choice(given, "earlier")
        if not isinstance(days, int) or isinstance(days, bool):
            raise RefusedError(400, "days", "this is no number of days", "give a whole number")

        def make() -> dict[str, Any]:
            now = _now()
            database = self.room.database
            secret, link = links.new_link(
                database, who, wanted, days, earlier=bool(earlier), now=now
            )
            found = issues.find(database, who.firm, wanted)
            shown = issues.earlier(database, who.firm, found, stamp(now)) if earlier else ()
            told = told_link(link, now) | {"address": self.room.link(request, secret)}
            return told | {"shows": [{"name": e.name, "date": e.date} for e in shown]}

        return JSONResponse(await run_in_threadpool(make), 201)

    async def links(self, request: Request) -> Response:
        """Answer with the links to a release, without their secrets."""
        who, wanted = request.state.who, id_of(request, "id", "release")
        found = await run_in_threadpool(links.links_of, self.room.database, who.firm, wanted)
        return JSONResponse({"links": [told_link(link, _now()) for link in found]})

    async def revoke(self, request: Request) -> Response:
        """End a link."""
        who, wanted = request.state.who, id_of(request, "id", "link")
        await run_in_threadpool(links.revoke, self.room.database, who, wanted, _now())
        return JSONResponse({"revoked": wanted})

    async def send(self, request: Request) -> Response:
        """Send the e-mail with a link, or answer with its text where no mail server is set."""
        who, wanted = request.state.who, id_of(request, "id", "link")
        given = await json_object(request, SMALL)
        to, address = text(given, "to", 254), text(given, "address", 400)

        def post() -> dict[str, Any]:
            return self._post(who, wanted, to, address)

        return JSONResponse(await run_in_threadpool(post))

    def _post(self, who: Who, wanted: str, to: str, address: str) -> dict[str, Any]:
        link = links.get(self.room.database, who.firm, wanted)
        secret = address.rpartition("/r/")[2]
        good = links.is_secret_of(link, secret) and self.room.leads_here(address, secret)
        if not (good and link.open(_now())):
            problem = "this is not the address of this link, or the link has ended"
            raise UsageError("address", problem, "make a new link, and send that")
        found = issues.find(self.room.database, who.firm, link.release)
        about = about_of(self.room.desk.of(who).photos.blobs, found)
        what = mail.Invitation(
            label=str(about["label"]),
            date=told_day(found.date),
            issue=found.name,
            fingerprint=fingerprint(found.digest),
            address=address,
            expires=told_day(link.expires),
            firm=str(about["firm"]),
        )
        settings = None if self.room.folder is None else mail.read_settings(self.room.folder)
        message = mail.compose(to, what, settings.sender if settings else "", _now())
        if settings is not None:
            self._send(settings, message)
            with self.room.database.use(who.firm) as connection:
                audit.note(connection, who, "link mailed", wanted, release=link.release)
        body = message.get_content()
        told = {"to": to, "subject": str(message["Subject"]), "body": body}
        return {"sent": settings is not None, **told}

    def _send(self, settings: mail.Smtp, message: EmailMessage) -> None:
        try:
            mail.send(settings, message)
        except mail.NotSentError as error:
            raise RefusedError(502, error.place, error.problem, error.remedy) from None


class Register:
    """The register of instruments, and what falls due."""

    def __init__(self, room: Backroom) -> None:
        self.room = room

    async def list(self, request: Request) -> Response:
        """Answer with the instruments, their checks and when the next is due."""
        who = request.state.who
        found = await run_in_threadpool(instruments.register, self.room.database, who.firm)
        today = _now().date()
        told = []
        for each in found:
            due = each.due(today)
            standing = {"due": due and due.isoformat(), "overdue": each.overdue(today)}
            told.append(asdict(each) | standing)
        return JSONResponse({"instruments": told})

    async def add(self, request: Request) -> Response:
        """Add an instrument."""
        who, given = request.state.who, await json_object(request, SMALL)
        name, serial = text(given, "name", 200), text(given, "serial", 100, needed=False)
        days = _whole(given, "check_days", 365)
        make = partial(instruments.add, self.room.database, who, name, serial, days)
        return JSONResponse({"id": await run_in_threadpool(make)}, 201)

    async def change(self, request: Request) -> Response:
        """Retire an instrument or take it back into use, or change its interval."""
        who, wanted = request.state.who, id_of(request, "id", "instrument")
        given = await json_object(request, SMALL)
        retired = text(given, "retired", 10) if given.get("retired") is not None else None
        days = _whole(given, "check_days", 365) if "check_days" in given else None
        keep = "retired" not in given
        change = partial(instruments.change, self.room.database, who, wanted)
        await run_in_threadpool(change, retired, days, keep=keep)
        return JSONResponse({"id": wanted})

    async def check(self, request: Request) -> Response:
        """Write a check of an instrument down."""
        who, wanted = request.state.who, id_of(request, "id", "instrument")
        given = await json_object(request, SMALL)
        deviation = given.get("deviation", "")
        good = isinstance(deviation, int | float) and not isinstance(deviation, bool)
        if not (good and -1e6 < deviation < 1e6):
            raise RefusedError(400, "deviation", "this is no number", "give it in the unit named")
        day, unit = text(given, "date", 10), text(given, "unit", 10)
        note = prose(given, "note", 1000)
        check = instruments.Check(day, float(deviation), unit, who.person, note)
        add = partial(instruments.add_check, self.room.database, who, wanted, check)
        await run_in_threadpool(add, stamp(_now()))
        return JSONResponse({"id": wanted}, 201)

    async def due(self, request: Request) -> Response:
        """Answer with the houses to visit again and the instruments to check."""
        found = await run_in_threadpool(self._due(request))
        return JSONResponse(
            {
                "visits": [_plain(asdict(each)) for each in found.visits],
                "instruments": [_plain(asdict(each)) for each in found.instruments],
            }
        )

    async def calendar(self, request: Request) -> Response:
        """Answer with the same as a calendar file."""
        found, now = await run_in_threadpool(self._due(request)), _now()
        data = reminders.calendar(found, now.date(), now)
        headers = {"content-disposition": 'attachment; filename="levelbook-due.ics"'}
        return Response(data, media_type="text/calendar; charset=utf-8", headers=headers)

    def _due(self, request: Request) -> Callable[[], reminders.Due]:
        days = whole_in(request, "days", reminders.USUAL_DAYS, 1, 366)
        firm, today = request.state.who.firm, _now().date()
        return partial(reminders.due, self.room.database, firm, today, days)


def told_release(found: issues.Release, last: issues.Release | None) -> dict[str, Any]:
    """Return an issue as it is told to colleagues; ``last`` is the newest of its visit."""
    superseded = last is not None and last.issue > found.issue
    told = {"name": found.name, "superseded": superseded}
    return {**asdict(found), **told, "fingerprint": fingerprint(found.digest)}


def told_link(link: links.Link, now: datetime) -> dict[str, Any]:
    """Return a link as it is told to colleagues."""
    told = {name: value for name, value in asdict(link).items() if name != "firm"}
    return told | {"open": link.open(now)}


def prose(given: Mapping[str, Any], name: str, most: int) -> str:
    """Return a text of some lines, empty if there is none."""
    value = given.get(name, "")
    if not isinstance(value, str):
        raise RefusedError(400, name, "this is no text", "send a text")
    lines = (text({name: line}, name, most, needed=False) for line in value.splitlines())
    told = "\n".join(lines).strip()
    if len(told) > most:
        raise RefusedError(400, name, f"this has more than {most} characters", "shorten it")
    return told


def _whole(given: Mapping[str, Any], name: str, usual: int) -> int:
    value = given.get(name, usual)
    if not isinstance(value, int) or isinstance(value, bool):
        raise RefusedError(400, name, "this is no whole number", "give one")
    return value


def _plain(told: dict[str, Any]) -> dict[str, Any]:
    return {k: v.isoformat() if hasattr(v, "isoformat") else v for k, v in told.items()}


def _now() -> datetime:
    return datetime.now(UTC)
