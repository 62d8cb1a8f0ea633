"""The client's page: one release by a secret address, and nothing else behind it.

The page is made on the server and needs no script. What it tells was fixed at the release;
only whether a newer issue exists is looked up. A wrong, an expired and a revoked address get
the same answer, and each address of the network may be wrong so many times in a while.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, partial
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from levelbook.app.desk import Desk
from levelbook.app.headers import POLICY, file_policy
from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.seal import fingerprint
from levelbook.errors import MissingError, TooManyError
from levelbook.firm.files import PAGE, PLAN, REPORT, SMALL_PLAN
from levelbook.firm.issues import Release, earlier, find, newer
from levelbook.firm.limits import address_key, give_back, take_address
from levelbook.firm.links import Link, count_view, open_link
from levelbook.firm.releases import about_of, file_of
from levelbook.firm.tokens import digest
from levelbook.firm.wording import say, told_day

_OWN_POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
_PICTURE_POLICY = "default-src 'none'; sandbox; frame-ancestors 'none'"
_HEADERS = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "x-robots-tag": "noindex, nofollow, noarchive",
    POLICY: _OWN_POLICY,
}
_POLICIES = {PLAN: _PICTURE_POLICY, SMALL_PLAN: _PICTURE_POLICY}


@dataclass(frozen=True)
class Shown:
    """What a secret opens: the link and its release."""

    link: Link
    release: Release


class ClientPages:
    """The addresses below ``/r/``."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def routes(self) -> list[Route]:
        """Return the addresses."""
        named = {"report.pdf": REPORT, "plan.html": PAGE, "plan.svg": PLAN}
        named["plan-phone.svg"] = SMALL_PLAN
        return [
            Route("/client.css", style),
            Route("/r/{secret}", self.page),
            *(Route(f"/r/{{secret}}/{path}", self._file(name)) for path, name in named.items()),
            Route("/r/{secret}/earlier/{n}.pdf", self.earlier),
        ]

    async def page(self, request: Request) -> Response:
        """Answer with the page of a release, and count it."""
        return await run_in_threadpool(self._answer, request, self._page)

    async def earlier(self, request: Request) -> Response:
        """Answer with the report of an earlier visit to the same house, if it is allowed."""
        number: str = request.path_params["n"]
        return await run_in_threadpool(
            self._answer, request, lambda shown, _: self._earlier(shown, number)
        )

    def _file(self, name: str) -> Callable[[Request], Any]:
        async def file(request: Request) -> Response:
            give = partial(self._handed, name=name)
            return await run_in_threadpool(self._answer, request, give)

        return file

    def _answer(self, request: Request, make: Callable[[Shown, str], Response]) -> Response:
        """Answer for the release that the address opens; else as for one that never was."""
        secret: str = request.path_params["secret"]
        client = request.client.host if request.client else ""
        try:
            shown = self._open(secret, client)
            return gone() if shown is None else make(shown, secret)
        except MissingError:
            return gone()
        except TooManyError as error:
            return busy(error.wait)

    def _open(self, secret: str, client: str) -> Shown | None:
        """Return what a secret opens; a wrong one is counted against the client's address.

        Raises
        ------
        TooManyError
            If there were too many wrong ones from this address; none is looked at then.
        """
        database, now = self.desk.store.database, _now()
        key = digest("link", address_key(client))
        with database.use(EVERY_FIRM) as connection:
            take_address(connection, key, now)
        link = open_link(database, secret, now)
        if link is None:
            return None
        with database.use(EVERY_FIRM) as connection:
            give_back(connection, key)
        return Shown(link, find(database, link.firm, link.release))

    def _page(self, shown: Shown, secret: str) -> Response:
        link, found = shown.link, shown.release
        database = self.desk.store.database
        about = about_of(self.desk.photos.blobs.of(link.firm), found)
        replaced = newer(database, link.firm, found)
        before = earlier(database, link.firm, found, link.created) if link.earlier else ()
        body = release_page(f"/r/{secret}", about, shown, replaced, before)
        count_view(database, link, _now())
        title = f"{about['label']}: {say('page.title')}"
        return HTMLResponse(_whole(title, body), headers=_HEADERS)

    def _handed(self, shown: Shown, _: str, *, name: str) -> Response:
        """Return a file of a release, as it was when it was released."""
        blobs = self.desk.photos.blobs.of(shown.link.firm)
        data, media = file_of(blobs, shown.release, name)
        policy = file_policy(data) if name == PAGE else _POLICIES.get(name, _OWN_POLICY)
        headers = _HEADERS | {POLICY: policy}
        if name == REPORT:
            found = shown.release
            told = f"report-{found.number}-issue-{found.issue}.pdf"
            headers["content-disposition"] = f'inline; filename="{told}"'
        return Response(data, media_type=media, headers=headers)

    def _earlier(self, shown: Shown, number: str) -> Response:
        link, database = shown.link, self.desk.store.database
        every = earlier(database, link.firm, shown.release, link.created) if link.earlier else ()
        found = next((each for each in every if each.number == number), None)
        if found is None:
            return gone()
        return self._handed(Shown(link, found), "", name=REPORT)


async def style(_: Request) -> Response:
    """Answer with the page's style."""
    headers = {"cache-control": "public, max-age=3600"}
    return Response(_part("client.css"), media_type="text/css", headers=headers)


def gone() -> Response:
    """Return the one page for every address that opens nothing."""
    told = {"title": say("page.gone-title"), "told": say("page.gone-told")}
    page = _whole(told["title"], _fill("gone.html", told))
    return HTMLResponse(page, 404, headers=_HEADERS)


def busy(wait: int) -> Response:
    """Return the page for a network address with too many wrong tries."""
    minutes = str(max(2, -(-wait // 60)))
    told = {"title": say("page.busy-title"), "told": say("page.busy-told", minutes=minutes)}
    page = _whole(told["title"], _fill("gone.html", told))
    return HTMLResponse(page, 429, headers=_HEADERS | {"retry-after": str(wait)})


def release_page(
    here: str,
    about: Mapping[str, Any],
    shown: Shown,
    replaced: Release | None,
    before: Iterable[Release],
) -> str:
    """Return the body of a release's page; ``here`` is its own address."""
    found = shown.release
    texts = {name: say(f"page.{name}") for name in ("skip", "plan", "trust", "verify", "banner")}
    texts |= {
        "kicker": say("page.title"),
        "from": say("page.from", name=about["firm"]) if about["firm"] else "",
        "label": about["label"],
        "outcome": about["title"],
        "alt": about["plan"],
        "caption": say("page.picture"),
        "explore": say("page.explore"),
        "exploremore": say("page.explore-more"),
        "pdf": say("page.pdf"),
        "pdfmore": say("page.pdf-more"),
        "fingerprintname": say("page.fingerprint"),
        "fingerprint": fingerprint(found.digest),
        "keyname": say("page.key"),
        "key": fingerprint(about["key"]),
        "expires": say("page.expires", day=told_day(shown.link.expires)),
        "here": here,
    }
    made = {
        "facts": _facts(about, found),
        "newer": "" if replaced is None else _newer(found, replaced),
        "summary": "\n".join(f"<p>{escape(each)}</p>" for each in about["summary"]),
        "lead": "".join(f"<p>{escape(each)}</p>" for each in about["meaning"][:1]),
        "meaning": _points("meaning", say("page.meaning"), about["meaning"][1:]),
        "advice": _points("advice", say("page.advice"), about["advice"]),
        "notes": _points("notes", say("page.notes"), about["notes"]),
        "limits": _points("limits", say("page.cautions"), about["limits"]),
        "earlier": _earlier_list(here, before),
    }
    return _fill("release.html", texts, made)


def _facts(about: Mapping[str, Any], found: Release) -> str:
    told = [about["address"]] if about["address"] else []
    told.append(say("page.visit", date=told_day(about["date"])))
    told.append(say("page.issue", name=found.name, day=told_day(found.at)))
    return "".join(f"<span>{escape(each)}</span>" for each in told)


def _newer(found: Release, replaced: Release) -> str:
    day, number = told_day(replaced.at), str(replaced.issue)
    told = say("page.newer-told", issue=number, day=day, reason=replaced.reason)
    ask = say("page.newer-ask", issue=str(found.issue))
    return (
        '<section class="notice" aria-labelledby="newer">'
        f'<h2 id="newer">{escape(say("page.newer"))}</h2>'
        f"<p>{escape(told)}</p><p>{escape(ask)}</p></section>"
    )


def _points(mark: str, title: str, items: Iterable[str]) -> str:
    told = "".join(f"<li>{escape(item)}</li>" for item in items)
    if not told:
        return ""
    head = f'<h2 id="{mark}">{escape(title)}</h2>'
    return f'<section class="{mark}" aria-labelledby="{mark}">{head}<ul>{told}</ul></section>'


def _earlier_list(here: str, before: Iterable[Release]) -> str:
    rows = "".join(
        f'<li><a href="{here}/earlier/{escape(each.number)}.pdf">'
        f"{escape(say('page.earlier-link', date=told_day(each.date), name=each.name))}</a></li>"
        for each in before
    )
    if not rows:
        return ""
    head = f'<h2 id="earlier">{escape(say("page.earlier"))}</h2>'
    return f'<section aria-labelledby="earlier">{head}<ul class="visits">{rows}</ul></section>'


def _whole(title: str, body: str) -> str:
    return _fill("page.html", {"title": title}, {"body": body})


def _fill(name: str, texts: Mapping[str, str], made: Mapping[str, str] | None = None) -> str:
    """Return a template with texts, which are escaped, and what was made of escaped texts."""
    told = {key: escape(value) for key, value in texts.items()}
    return Template(_part(name)).substitute(told | dict(made or {}))


@cache
def _part(name: str) -> str:
    return (files("levelbook.app") / "client" / name).read_text("utf-8")


def _now() -> datetime:
    return datetime.now(UTC)
