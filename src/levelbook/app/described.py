"""What every address of the API takes and answers, one description beside each rule of access.

What all requests have in common (who may ask, sizes, a database that is away) is not told
here: :mod:`levelbook.app.openapi` adds it from the rules.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import get_args

from levelbook.app.shapes import (
    ANY_OBJECT,
    ROLE,
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
from levelbook.drawing.source import Kind
from levelbook.exchange.making import FORMATS

JSON, BYTES = "application/json", "application/octet-stream"
Answer = tuple[str, Schema]
"""A media type and the shape of what comes in it."""


@dataclass(frozen=True)
class Described:
    """One way of using an address.

    Attributes
    ----------
    good
        The answers where all goes well, by status.
    bad
        The statuses of errors that are this address's own.
    query
        Parameters of the query, by name.
    body
        Media type and shape of what is sent, if anything.
    as_pages
        The statuses of errors that are answered with a page, for people without the app.
    """

    method: str
    path: str
    summary: str
    good: Mapping[int, Answer | tuple[Answer, ...]]
    bad: tuple[int, ...] = ()
    query: Mapping[str, Schema] = field(default_factory=dict)
    body: Answer | None = None
    as_pages: tuple[int, ...] = ()


def told(**parts: Schema) -> Mapping[int, Answer]:
    """Return a good answer: an object of these parts."""
    return {200: (JSON, thing(**parts))}


def made(**parts: Schema) -> Mapping[int, Answer]:
    """Return the answer where something new was made."""
    return {201: (JSON, thing(**parts))}


def sent(optional: Mapping[str, Schema] | None = None, /, **needed: Schema) -> Answer:
    """Return the body of a request: an object of these parts."""
    return JSON, thing(optional, **needed)


def files(media: Iterable[str]) -> tuple[Answer, ...]:
    """Return the answers that files of these media types are."""
    plain = sorted({each.partition(";")[0] for each in media})
    return tuple((each, ANY_OBJECT if each.endswith("json") else BINARY) for each in plain)


def page_of(most: int, usual: int) -> Mapping[str, Schema]:
    """Return the parameters of a list that is fetched in parts."""
    return {"limit": {"type": "integer", "minimum": 1, "maximum": most, "default": usual}}


BINARY: Schema = {"type": "string", "format": "binary"}
PDF: Answer = ("application/pdf", BINARY)
HTML: Answer = ("text/html", TEXT)
SVG: Answer = ("image/svg+xml", TEXT)
CSV: Answer = ("text/csv", TEXT)
EMAIL = text(254, 3)
CRITERIA: Mapping[str, Schema] = {"criteria": many(text(80), maxItems=20)}
_DAY = text(10)
_LISTED: Mapping[str, Schema] = {"visits": many(ref("Visit")), "days": many(TEXT)}
_DRAWING: Schema = one_of(*get_args(Kind))
_SIDE: Schema = {"type": "number", "minimum": 60, "maximum": 2000, "default": 180}
_AFTER: Schema = {"type": "integer", "minimum": 0}
_CREDENTIAL = sent({"name": text(100)}, credential=ANY_OBJECT)

VISITS = (
    Described(
        "GET",
        "/api/visits",
        "Visits, the last changed first, by words, state, inspector, finding, instrument or day.",
        {200: (JSON, thing({"next": maybe(TEXT)}, life=TEXT, **_LISTED))},
        query={
            **page_of(500, 50),
            "after": text(200),
            **{name: text(200) for name in ("search", "state", "inspector", "finding")},
            **{name: text(200) for name in ("instrument", "from", "to")},
        },
    ),
    Described(
        "POST",
        "/api/visits/{visit}/sync",
        "Take in the entries that a device made, and answer with those that it lacks.",
        {200: (JSON, ref("Taken"))},
        (404, 422),
        body=(JSON, ref("Sending")),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/book",
        "The level-book document of a visit.",
        {200: (JSON, ANY_OBJECT)},
        (404, 422),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/history",
        "All entries of a visit, by their clocks.",
        told(entries=many(ref("Entry"))),
        (404,),
    ),
    Described(
        "POST",
        "/api/import",
        "Make a visit of a level-book document.",
        told(visit=TEXT),
        (422,),
        body=(JSON, ANY_OBJECT),
    ),
    Described(
        "POST",
        "/api/import/preview",
        "What an import would take and not, and what it has to ask: a line of JSON, then files.",
        {200: (JSON, ref("Import"))},
        (404, 415, 422),
        body=(BYTES, BINARY),
    ),
    Described(
        "POST",
        "/api/import/take",
        "The changes that an import comes to; photographs of a package are kept.",
        {200: (JSON, ref("Import"))},
        (404, 415, 422),
        body=(BYTES, BINARY),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/live",
        "Levels, shape, contours and what is odd, as a page renews them after a reading.",
        {200: (JSON, ref("Live"))},
        (404,),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/assess",
        "The result document.",
        {200: (JSON, ANY_OBJECT)},
        (404, 422),
        query=CRITERIA,
    ),
    Described(
        "GET",
        "/api/visits/{visit}/plan.svg",
        "A drawing; width and height in millimetres.",
        {200: SVG},
        (404, 422),
        query={"kind": _DRAWING, "width": _SIDE, "height": _SIDE},
    ),
    Described(
        "POST",
        "/api/visits/{visit}/report",
        "Start making the report.",
        {202: (JSON, thing(job=TEXT))},
        (404, 422),
        query=CRITERIA,
    ),
    Described("GET", "/api/jobs/{job}", "How far a job is.", {200: (JSON, ref("Job"))}, (404,)),
    Described(
        "GET",
        "/api/visits/{visit}/report.{kind}",
        "A file of the report: pdf, html, json, readings.csv or levels.csv.",
        {200: (PDF, HTML, (JSON, ANY_OBJECT), CSV)},
        (404, 422),
        query=CRITERIA,
    ),
    Described(
        "GET",
        "/api/visits/{visit}/compare/{later}",
        "What two visits to one house say about movement.",
        {200: (JSON, ANY_OBJECT)},
        (404, 422),
    ),
    Described(
        "GET",
        "/api/visits/{visit}/exports/{format}",
        "Name and size of a file for somebody else.",
        told(file=TEXT, bytes=WHOLE),
        (404, 422),
        query={"drawing": _DRAWING, "dpi": text(4), **CRITERIA},
    ),
    Described(
        "GET",
        "/api/visits/{visit}/export/{format}",
        "A file for somebody else.",
        {200: files(each.media for each in FORMATS.values())},
        (404, 422),
        query={"drawing": _DRAWING, "dpi": text(4), **CRITERIA},
    ),
    Described(
        "PUT",
        "/api/photos/{sha256}",
        "Keep a photograph under its SHA-256.",
        told(sha256=TEXT),
        (404, 415),
        body=("image/*", BINARY),
    ),
    Described(
        "GET",
        "/api/photos/{sha256}",
        "A photograph.",
        {200: files(("image/jpeg", "image/png"))},
        (404,),
    ),
    Described("GET", "/api/criteria", "The sets of criteria.", told(sets=many(ANY_OBJECT))),
    Described("GET", "/api/schema", "The JSON Schema of a level book.", {200: (JSON, ANY_OBJECT)}),
)

PEOPLE = (
    Described("GET", "/api/me", "Who asks.", {200: (JSON, ref("Me"))}),
    Described(
        "POST",
        "/api/sign-in",
        "Begin a session by e-mail address and password.",
        told(signed_in=YES, at=TEXT),
        (401, 429),
        body=sent({"device": text(200)}, email=EMAIL, password=text(1000)),
    ),
    Described("POST", "/api/sign-out", "End this session.", told(signed_out=YES)),
    Described(
        "POST",
        "/api/sign-in/passkey/options",
        "What a browser needs to sign in with a passkey.",
        {200: (JSON, ANY_OBJECT)},
        (429,),
    ),
    Described(
        "POST",
        "/api/sign-in/passkey",
        "Begin a session by a passkey.",
        told(signed_in=YES, at=TEXT),
        (401, 429),
        body=sent({"device": text(200)}, credential=ANY_OBJECT),
    ),
    Described(
        "POST",
        "/api/passkeys/options",
        "What a browser needs to make a passkey.",
        {200: (JSON, ANY_OBJECT)},
    ),
    Described(
        "POST",
        "/api/passkeys",
        "Keep a new passkey.",
        made(passkey=ref("Passkey")),
        (409,),
        body=_CREDENTIAL,
    ),
    Described("GET", "/api/passkeys", "One's own passkeys.", told(passkeys=many(ref("Passkey")))),
    Described("DELETE", "/api/passkeys/{id}", "Remove a passkey.", told(removed=YES), (404,)),
    Described(
        "POST",
        "/api/invitations",
        "Invite somebody to the firm.",
        made(token=TEXT),
        (409,),
        body=sent({"name": text(200)}, email=EMAIL, role=ROLE),
    ),
    Described(
        "GET",
        "/api/invitations/{token}",
        "What an invitation is for.",
        told(invitation=ANY_OBJECT),
        (404,),
    ),
    Described(
        "POST",
        "/api/invitations/{token}",
        "Accept an invitation with a name and a password.",
        made(email=TEXT),
        (404, 409),
        body=sent({"name": text(200)}, password=text(1000)),
    ),
    Described(
        "GET",
        "/api/people",
        "The firm's people.",
        told(people=many(ref("Person")), invitations=many(ANY_OBJECT)),
    ),
    Described(
        "POST",
        "/api/people/{id}",
        "Give somebody another role, shut them out or let them in again.",
        told(person=ref("Person")),
        (404, 409),
        body=sent({"role": ROLE, "disabled": YES}),
    ),
    Described(
        "POST",
        "/api/people/{id}/reset",
        "A token by which somebody sets a new password.",
        made(token=TEXT),
        (404, 409),
    ),
    Described(
        "GET",
        "/api/sessions",
        "Where somebody is signed in.",
        told(sessions=many(ref("Device"))),
        (403, 404),
        query={"person": text(64)},
    ),
    Described(
        "DELETE",
        "/api/sessions/{id}",
        "Sign a device out, or all others.",
        told(signed_out=YES),
        (404,),
        query={"person": text(64)},
    ),
    Described(
        "POST",
        "/api/password",
        "Set a new password.",
        told(changed=YES),
        (401, 429),
        body=sent(old=text(1000), new=text(1000)),
    ),
    Described(
        "POST",
        "/api/prove",
        "Give password or passkey again, for what answers 403 `prove`; good for 15 minutes.",
        told(proved=YES),
        (429,),
        body=sent({"password": text(1000), "credential": ANY_OBJECT}),
    ),
    Described(
        "GET",
        "/api/changes",
        "What changed in one's own way in and was not read yet, the newest first.",
        told(changes=many(ref("Change"))),
    ),
    Described(
        "POST",
        "/api/changes/read",
        "Say that what is told up to a line was read.",
        told(read=YES),
        body=sent(upto={"type": "integer", "minimum": 0, "maximum": 2**53 - 1}),
    ),
    Described(
        "GET",
        "/api/audit",
        "What was done, the newest first.",
        told(entries=many(ref("AuditLine")), next=maybe(WHOLE)),
        query={**page_of(500, 50), "after": _AFTER},
    ),
    Described(
        "GET",
        "/api/audit/check",
        "Whether the list's chain holds.",
        told(lines=WHOLE, chain=TEXT, broken=maybe(WHOLE)),
    ),
)

OPERATION = (
    Described("GET", "/api/openapi.json", "This description.", {200: (JSON, ANY_OBJECT)}),
    Described("GET", "/health/live", "Whether the process answers.", told(live=YES)),
    Described(
        "GET",
        "/health/ready",
        "Whether the server can work.",
        {200: (JSON, ref("Ready")), 503: (JSON, ref("NotReady"))},
    ),
    Described(
        "GET",
        "/metrics",
        "Counts and times, for the operator.",
        {200: ("text/plain", TEXT)},
        (403,),
    ),
    Described("GET", "/", "The pages.", {200: HTML, 503: HTML}),
)
