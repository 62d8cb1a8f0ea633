"""Files from elsewhere looked through for the pages, and files for others made.

An import keeps nothing here: the page sends its files and all answers so far each time, until
nothing is unclear, and then writes down the changes that it is told, as it writes any reading.
So an import is undone as a reading is. A request carries one line of JSON and then the files'
bytes, one file after the other, in the sizes that the line tells.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, get_args

from anyio import CapacityLimiter, to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from levelbook.app.answers import MEGABYTE, RefusedError, body, on_document
from levelbook.app.desk import Desk
from levelbook.app.photos import Photos
from levelbook.app.routes import visit_id
from levelbook.drawing.source import Kind
from levelbook.errors import DocumentError, NoRoomError, TooManyError
from levelbook.exchange.bases import base_of
from levelbook.exchange.changes import changes
from levelbook.exchange.incoming import plan_import
from levelbook.exchange.making import Format, Order, format_of
from levelbook.exchange.photographs import photographs
from levelbook.exchange.pictures import COARSEST, FINEST
from levelbook.exchange.questions import ImportPlan

LARGEST = 40 * MEGABYTE
MOST_HEAD = 200_000
MOST_LEFT = 200
"""Things not taken that are told one by one; more are counted."""
AT_ONCE, MADE_AT_ONCE = 2, 4
"""Imports looked through, and files made, at the same time; others wait."""
_STATUS = {"too-large": 413, "zip-bomb": 413, "too-many": 413, "picture": 415, "encoding": 415}
_FILES = ("file", "outline", "places")

Json = dict[str, Any]


@dataclass(frozen=True)
class Sent:
    """What a page sends of an import: a file, what goes with it, and what was answered."""

    name: str
    answers: Mapping[str, str]
    into: str | None
    files: Mapping[str, bytes]


def exchange_routes(desk: Desk) -> list[Route]:
    """Return the routes of what comes in and goes out."""
    imports, exports = Imports(desk), Exports(desk)
    return [
        Route("/api/import/preview", imports.preview, methods=["POST"]),
        Route("/api/import/take", imports.take, methods=["POST"]),
        Route("/api/visits/{visit}/exports/{format}", exports.size),
        Route("/api/visits/{visit}/export/{format}", exports.file),
    ]


class Imports:
    """Looks files through; whatever is taken, the page writes down itself."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self._limit = desk, CapacityLimiter(AT_ONCE)

    async def preview(self, request: Request) -> Response:
        """Answer with what an import would take and not, and what it has to ask first."""
        return await self._answer(request, keep=False)

    async def take(self, request: Request) -> Response:
        """Answer with the changes to write down, photographs of a package kept."""
        return await self._answer(request, keep=True)

    async def _answer(self, request: Request, *, keep: bool) -> Response:
        sent = read_sent(await body(request, LARGEST))
        look = partial(_looked, self.desk.of(request.state.who), sent, keep=keep)
        try:
            return JSONResponse(await to_thread.run_sync(look, limiter=self._limit))
        except DocumentError as error:
            answer = await on_document(request, error)
            answer.status_code = _STATUS.get(error.faults[0].code, answer.status_code)
            return answer


def read_sent(data: bytes) -> Sent:
    """Return what a request carries: its line of JSON, and the files after it.

    Raises
    ------
    RefusedError
        400 if it is not of that form.
    """
    line, _, rest = data[:MOST_HEAD].partition(b"\n")
    try:
        head = json.loads(line)
        sizes = [head["sizes"].get(name, 0) for name in _FILES]
        whole = all(type(size) is int and size >= 0 for size in sizes)
        texts = {str(key): str(value) for key, value in head.get("answers", {}).items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        whole, sizes, texts, head = False, [0, 0, 0], {}, {}
    name, into = head.get("name"), head.get("into")
    begin = len(line) + 1
    good = isinstance(name, str) and name.isprintable() and (into is None or isinstance(into, str))
    if not whole or not good or begin + sum(sizes) != len(data) or not rest:
        remedy = "send one line of JSON with name and sizes, then the files"
        raise RefusedError(400, "body", "this is not an import as the pages send it", remedy)
    files = {}
    for each, size in zip(_FILES, sizes, strict=True):
        if size:
            files[each] = data[begin : begin + size]
        begin += size
    return Sent(name[:200], texts, into, files)


def _looked(desk: Desk, sent: Sent, *, keep: bool) -> Json:
    """Return the answer to an import, its photographs kept if it is taken."""
    into = None if sent.into is None else desk.draft(visit_id(sent.into))
    base = None if into is None else base_of(into.book or into.document)
    more = {"outline": sent.files.get("outline"), "places": sent.files.get("places")}
    data = sent.files.get("file", b"")
    plan = plan_import(data, sent.name, sent.answers, into=base, **more)
    told: Json = plan.told(MOST_LEFT) | {"left_count": len(plan.left), "ready": False}
    if plan.document is None:
        return told
    if plan.kind == "book":
        _tell_photographs(told, plan, data, desk.photos if keep else None)
    if keep:
        head, rest = changes(base, plan.document)
        told |= {"head": head, "changes": rest}
    return told | {"ready": True, "label": plan.document["property"].get("label", "")}


def _tell_photographs(told: Json, plan: ImportPlan, data: bytes, keep: Photos | None) -> None:
    """Tell which photographs come along, and keep them if there is where."""
    assert plan.book is not None
    if not plan.book.photos:
        return
    names = {photo.sha256.lower(): photo.name for photo in plan.book.photos}
    told["left"] = [left for left in told["left"] if left["place"] != "photos"]
    count = 0
    for sha256, content in photographs(data, plan.book):
        name = names.pop(sha256)
        try:
            if keep is not None:
                keep.keep(sha256, content)
            count += 1
        except (RefusedError, TooManyError, NoRoomError) as error:
            why = f"{error.problem}; {error.remedy}"
            told["left"].append({"place": "photographs", "what": name, "why": why})
    told["taken"] = [*told["taken"], f"Photographs: {count}."]
    for name in names.values():
        why = "it is not in the file: put it in again at the sign of distress"
        told["left"].append({"place": "photographs", "what": name, "why": why})
    told["left_count"] = len(told["left"])


class Exports:
    """Makes files of a visit, and tells how large each is."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self._limit = desk, CapacityLimiter(MADE_AT_ONCE)

    async def size(self, request: Request) -> Response:
        """Answer with a file's name and size."""
        made = await self._made(request)
        return JSONResponse({"file": made[0], "bytes": len(made[1])})

    async def file(self, request: Request) -> Response:
        """Answer with the file."""
        name, content, media = await self._made(request)
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type=media, headers=headers)

    async def _made(self, request: Request) -> tuple[str, bytes, str]:
        wanted, order = format_of(request.path_params["format"]), _order(request)
        visit = visit_id(request.path_params["visit"])
        sets = tuple(dict.fromkeys(request.query_params.getlist("criteria")))[:20]
        desk = self.desk.of(request.state.who)
        make = partial(_export, desk, visit, sets, (wanted, order))
        return await to_thread.run_sync(make, limiter=self._limit)


def _export(
    desk: Desk, visit: str, sets: tuple[str, ...], wanted: tuple[Format, Order]
) -> tuple[str, bytes, str]:
    """Return name, bytes and media type of a file; the last made are kept."""
    made, order = wanted
    found = desk.assessment(visit, sets)
    kept = {p.sha256: desk.photos.get(p.sha256) for p in found.book.photos}
    photos = {sha256: data for sha256, data in kept.items() if data is not None}
    whole = Order(order.drawing, order.dpi, photos)
    key = ("export", found.digest, sets, made.ending, order.drawing, order.dpi, tuple(photos))
    content = desk.keep(key, lambda: made.make(found, whole))
    return (
        made.name(_stem(found.book.property.label, found.book.visit.date), order),
        content,
        (made.media),
    )


def _stem(label: str, day: str) -> str:
    """Return how a file's name begins: the house and the day, in plain letters."""
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in f"{label[:60]} {day[:10]}")
    return "-".join(filter(None, plain.lower().split("-"))) or "house"


def _order(request: Request) -> Order:
    """Return the choices of a request's query."""
    asked = request.query_params.get("drawing", "levels")
    drawing: Kind | None = next((kind for kind in get_args(Kind) if kind == asked), None)
    if drawing is None:
        known = ", ".join(get_args(Kind))
        raise RefusedError(400, "drawing", "there is no such drawing", f"ask for one of {known}")
    dpi = request.query_params.get("dpi", "200")
    if not (dpi.isdecimal() and len(dpi) < 5 and COARSEST <= int(dpi) <= FINEST):
        problem = "this is no resolution that can be drawn"
        raise RefusedError(400, "dpi", problem, f"ask for {COARSEST} to {FINEST}")
    return Order(drawing, int(dpi))
