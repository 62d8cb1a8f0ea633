"""What the addresses of review, release, links and instruments take and answer."""

from collections.abc import Mapping

from levelbook.app.described import (
    HTML,
    JSON,
    PDF,
    SVG,
    Answer,
    Described,
    files,
    made,
    sent,
    told,
)
from levelbook.app.shapes import (
    ANY_OBJECT,
    NUMBER,
    TEXT,
    WHOLE,
    YES,
    Schema,
    many,
    maybe,
    one_of,
    ref,
    text,
    thing,
)
from levelbook.firm.files import NAMES, media_of
from levelbook.firm.reviews import DRAFT, FOR_REVIEW

_DAY = text(10)
_REASON = text(2000)
_MAIL: Schema = thing(sent=YES, to=TEXT, subject=TEXT, body=TEXT)
_CHECK = sent({"note": text(1000)}, date=_DAY, deviation=NUMBER, unit=text(10))
_CHANGE = sent({"retired": maybe(_DAY), "check_days": WHOLE})
_LINK = sent({"days": WHOLE, "earlier": YES})
_DUE: Mapping[str, Schema] = {"days": {"type": "integer", "minimum": 0}}
_NO_PAGE = (404, 429)
_CSS: Answer = ("text/css", TEXT)

REVIEW = (
    Described(
        "GET",
        "/api/inspectors",
        "The names of inspectors that stand in visits, to choose from.",
        told(inspectors=many(TEXT)),
    ),
    Described(
        "POST",
        "/api/visits/{visit}/state",
        "Hand a visit over for review, or take it back, with the reason.",
        made(event=ref("ReviewEvent")),
        (404, 409),
        body=sent({"reason": _REASON}, state=one_of(DRAFT, FOR_REVIEW)),
    ),
    Described(
        "POST",
        "/api/visits/{visit}/release",
        "Release a visit under its next issue; its files are kept as they are for good.",
        made(release=ref("Release")),
        (404, 409, 422),
        body=sent({"reason": _REASON, "digest": text(64)}),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/reviews",
        "The state of a visit, every step of its review, and its issues.",
        told(
            state=TEXT,
            changed=YES,
            digest=TEXT,
            next_issue=WHOLE,
            may=many(TEXT),
            cautions=many(TEXT),
            events=many(ref("ReviewEvent")),
            releases=many(ref("Release")),
        ),
        (404,),
    ),
    Described(
        "GET",
        "/api/releases/{id}/{file}",
        "A file of a release as it was handed out.",
        {200: files(map(media_of, NAMES))},
        (404, 500),
    ),
)

LINKS = (
    Described(
        "POST",
        "/api/releases/{id}/links",
        "Make a link for a client; its address is told this once.",
        made(id=TEXT, address=TEXT, expires=TEXT),
        (404, 409),
        body=_LINK,
    ),
    Described(
        "GET",
        "/api/releases/{id}/links",
        "The links to a release, without their secrets.",
        told(links=many(ref("Link"))),
        (404,),
    ),
    Described("DELETE", "/api/links/{id}", "End a link.", told(revoked=TEXT), (404, 409)),
    Described(
        "POST",
        "/api/links/{id}/mail",
        "Send the e-mail with a link, or answer its text where no mail server is set.",
        {200: (JSON, _MAIL)},
        (404, 409, 502),
        body=sent(to=text(254), address=text(400)),
    ),
    Described("GET", "/r/{secret}", "The client's page.", {200: HTML}, as_pages=_NO_PAGE),
    Described(
        "GET", "/r/{secret}/report.pdf", "The report.", {200: PDF}, (500,), as_pages=_NO_PAGE
    ),
    Described(
        "GET",
        "/r/{secret}/plan.html",
        "The plan to explore.",
        {200: HTML},
        (500,),
        as_pages=_NO_PAGE,
    ),
    Described("GET", "/r/{secret}/plan.svg", "The plan.", {200: SVG}, (500,), as_pages=_NO_PAGE),
    Described(
        "GET",
        "/r/{secret}/plan-phone.svg",
        "The plan for a narrow screen.",
        {200: SVG},
        (500,),
        as_pages=_NO_PAGE,
    ),
    Described(
        "GET",
        "/r/{secret}/earlier/{n}.pdf",
        "The report of an earlier visit to the house.",
        {200: PDF},
        (500,),
        as_pages=_NO_PAGE,
    ),
    Described("GET", "/client.css", "The style of the client's page.", {200: _CSS}),
)

REGISTER = (
    Described(
        "GET",
        "/api/instruments",
        "The firm's instruments with their checks, and when the next is due.",
        told(instruments=many(ref("Instrument"))),
    ),
    Described(
        "POST",
        "/api/instruments",
        "Add an instrument.",
        made(id=TEXT),
        (409,),
        body=sent({"serial": text(100), "check_days": WHOLE}, name=text(200, 1)),
    ),
    Described(
        "POST",
        "/api/instruments/{id}",
        "Retire an instrument or take it back into use, or change its interval.",
        told(id=TEXT),
        (404, 409),
        body=_CHANGE,
    ),
    Described(
        "POST",
        "/api/instruments/{id}/checks",
        "Write a check down.",
        {201: (JSON, ANY_OBJECT)},
        (404, 409),
        body=_CHECK,
    ),
    Described(
        "GET",
        "/api/reminders",
        "Houses and instruments that fall due.",
        told(visits=many(ANY_OBJECT), instruments=many(ANY_OBJECT)),
        query=_DUE,
    ),
    Described(
        "GET",
        "/api/reminders.ics",
        "The same as a calendar.",
        {200: ("text/calendar", TEXT)},
        query=_DUE,
    ),
)
FIRM: tuple[Described, ...] = (*REVIEW, *LINKS, *REGISTER)
