"""The OpenAPI 3.1 document of the API, put together of rules of access and descriptions."""

import re
from collections.abc import Iterable, Mapping, Sequence
from importlib.metadata import version
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from levelbook.app.access import CSRF, RULES, Rule
from levelbook.app.described import HTML, JSON, OPERATION, PEOPLE, VISITS, Answer, Described
from levelbook.app.described_firm import FIRM
from levelbook.app.shapes import SHAPES, TEXT, ref
from levelbook.firm.roles import ANYONE, EVERYONE

DESCRIBED: Sequence[Described] = (*VISITS, *PEOPLE, *FIRM, *OPERATION)
UNDESCRIBED = ("/{path:path}",)
"""The files of the pages: no part of the API."""
_ALWAYS = (400, 413, 414, 431, 503, 507)
_MEANS = {
    200: "Done.",
    201: "Made.",
    202: "Begun.",
    304: "As it was.",
    400: "Something in the request is not as it must be.",
    401: "Nobody is signed in, or what was given to sign in with is wrong.",
    403: "This is not open to whoever asks, or comes from another site.",
    404: "There is no such thing, or it is another firm's. Of a visit the code is no-such-visit.",
    408: "The request stopped on its way.",
    409: "This cannot be done as things stand.",
    410: "This is over.",
    413: "The request is too large.",
    414: "The address is too long.",
    415: "What is sent is of another kind.",
    422: "The document or an entry in it has faults; all are told.",
    429: "Too many tries; the header retry-after tells how long to wait.",
    431: "The headers are too long.",
    500: "What was kept is damaged.",
    502: "The mail server does not take it.",
    503: "The server or its database cannot work now; sending again is safe.",
    507: "There is no room left; what was sent was not kept.",
}
_SESSION = {"type": "apiKey", "in": "cookie", "name": "__Host-levelbook"}
_TOKEN = {"type": "http", "scheme": "bearer"}


def plain(path: str) -> str:
    """Return a route's template as OpenAPI writes it."""
    return re.sub(r"\{(\w+):\w+\}", r"{\1}", path)


def document(routes: Iterable[BaseRoute]) -> dict[str, Any]:
    """Return the document of the routes that an app has."""
    here = {(plain(r.path), m) for r in routes if isinstance(r, Route) for m in r.methods or ()}
    rules = {(plain(rule.path), m): rule for rule in RULES for m in rule.methods}
    paths: dict[str, dict[str, Any]] = {}
    for one in DESCRIBED:
        if (one.path, one.method) in here:
            rule = rules[one.path, one.method]
            paths.setdefault(one.path, {})[one.method.lower()] = _operation(one, rule)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Levelbook",
            "version": version("levelbook"),
            "description": "Every error has one shape: code, place, problem, remedy.",
        },
        "paths": paths,
        "components": {
            "schemas": dict(SHAPES),
            "securitySchemes": {"session": _SESSION, "operator": _TOKEN},
        },
    }


async def openapi(request: Request) -> Response:
    """Answer with the document of this server."""
    return JSONResponse(document(request.app.routes))


def _operation(one: Described, rule: Rule) -> dict[str, Any]:
    told: dict[str, Any] = {
        "operationId": _name(one),
        "summary": one.summary,
        "description": f"Open to: {_whom(rule)}.",
        "parameters": [*_parameters(one), *([_csrf()] if rule.csrf else [])],
        "responses": _answers(one, rule),
    }
    if rule.roles != ANYONE:
        told["security"] = [{"session": []}]
    elif one.path == "/metrics":
        told["security"] = [{"operator": []}, {}]
    if one.body is not None:
        told["requestBody"] = {"required": True, "content": _content((one.body,))}
    return told


def _name(one: Described) -> str:
    words = re.findall(r"[A-Za-z0-9]+", one.path.removeprefix("/api"))
    return "_".join([one.method.lower(), *words]) or "pages"


def _whom(rule: Rule) -> str:
    return "anyone" if rule.roles == ANYONE else ", ".join(sorted(rule.roles))


def _parameters(one: Described) -> list[dict[str, Any]]:
    inside = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", "minLength": 1}}
        for name in re.findall(r"\{(\w+)\}", one.path)
    ]
    return inside + [
        {"name": name, "in": "query", "required": False, "schema": schema}
        for name, schema in one.query.items()
    ]


def _csrf() -> dict[str, Any]:
    told = "the token that /api/me tells; needed with a session"
    return {"name": CSRF, "in": "header", "required": False, "description": told, "schema": TEXT}


def _answers(one: Described, rule: Rule) -> dict[str, Any]:
    statuses = {*_ALWAYS, *one.bad}
    if rule.roles != ANYONE:
        statuses |= {401, 429}
    if rule.csrf or rule.roles not in (ANYONE, EVERYONE):
        statuses.add(403)
    if one.body is not None:
        statuses.add(408)
        if one.body[0] == JSON:
            statuses.add(415)
    told = {str(s): _answer(s, ((JSON, ref("Error")),)) for s in sorted(statuses - set(one.good))}
    told |= {str(s): _answer(s, (HTML,)) for s in one.as_pages}
    for status, answer in one.good.items():
        answers = answer if isinstance(answer[0], tuple) else (answer,)
        told[str(status)] = _answer(status, answers)
    return told


def _answer(status: int, answers: tuple[Answer, ...]) -> dict[str, Any]:
    return {"description": _MEANS[status], "content": _content(answers)}


def _content(answers: tuple[Answer, ...]) -> Mapping[str, Any]:
    return {media: {"schema": shape} for media, shape in answers}
