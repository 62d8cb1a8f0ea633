"""Answers of the server: one shape for every error, and limits on what is taken in."""

import errno
import json
import logging
from typing import Any

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as NoConnectionError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from levelbook.app.headers import guard_headers
from levelbook.app.logs import fault_lines
from levelbook.errors import (
    ConflictError,
    DamagedError,
    DeniedError,
    DocumentError,
    Fault,
    MissingError,
    NoRoomError,
    NoVisitError,
    TooManyError,
    UsageError,
)

LOG = logging.getLogger("levelbook.files")
MEGABYTE = 1_000_000
DATABASE_ERRORS = "levelbook_database_errors_total"
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_SHUT = (
    errno.EROFS,
    errno.EACCES,
    errno.EPERM,
    errno.EIO,
    errno.ESTALE,
    errno.EMFILE,
    errno.ENFILE,
)
"""What the system says of a folder that cannot be used now, whatever is asked of it."""
_KINDS = (
    (NoVisitError, (404, "no-such-visit")),
    (MissingError, (404, "not-found")),
    (ConflictError, (409, "conflict")),
    (DeniedError, (403, "not-allowed")),
    (TooManyError, (429, "too-many")),
    (DamagedError, (500, "damaged")),
    (NoRoomError, (507, "no-room")),
)
_PASSING = ("08", "25006", "40", "53", "55", "57", "58")
"""PostgreSQL's error codes, or their classes, that tell of its state, not of what was asked."""
_EXTENDING = ("mdextend", "mdzeroextend")
"""Where PostgreSQL (15 to 18) tells that a table's file cannot grow: for a quota or a limit on
files it has no code of its own."""
_GOING_DOWN = ("FATAL", "PANIC")
"""How grave PostgreSQL calls what ends the connection, or all of it."""


class RefusedError(UsageError):
    """A request that is refused, with the HTTP status that says so."""

    def __init__(self, status: int, place: str, problem: str, remedy: str) -> None:
        super().__init__(place, problem, remedy)
        self.status = status


def error_document(code: str, place: str, problem: str, remedy: str) -> dict[str, Any]:
    """Return the one shape that errors have."""
    return {"error": {"code": code, "place": place, "problem": problem, "remedy": remedy}}


def fault_document(fault: Fault) -> dict[str, str]:
    """Return a fault as a JSON object."""
    return {
        "code": fault.code,
        "place": fault.place,
        "problem": fault.problem,
        "remedy": fault.remedy,
    }


async def on_refused(_: Request, error: Exception) -> Response:
    """Answer a request that is refused."""
    assert isinstance(error, UsageError)
    status, code = next(
        (told for kind, told in _KINDS if isinstance(error, kind)), (400, "refused")
    )
    if isinstance(error, RefusedError):
        status, code = error.status, "not-found" if error.status == 404 else code
    told = error_document(code, error.place, error.problem, error.remedy)
    headers = {"retry-after": str(error.wait)} if isinstance(error, TooManyError) else None
    return JSONResponse(told, status, headers)


async def on_document(_: Request, error: Exception) -> Response:
    """Answer a document that cannot be used, with all of its faults."""
    assert isinstance(error, DocumentError)
    first = error.faults[0]
    told = error_document(first.code, first.place, first.problem, first.remedy)
    return JSONResponse(told | {"faults": [fault_document(f) for f in error.faults]}, 422)


async def on_http(request: Request, error: Exception) -> Response:
    """Answer what the router refuses: no such page, or not this way."""
    assert isinstance(error, HTTPException)
    told = error_document(
        "not-found" if error.status_code == 404 else "refused",
        request.url.path[:200],
        error.detail,
        "check the address",
    )
    return JSONResponse(told, error.status_code, headers=error.headers)


async def on_fault(request: Request, error: Exception) -> Response:
    """Answer a fault of the program without telling its inside."""
    told = error_document(
        "program",
        type(error).__name__,
        "this is a fault of the program, not of what you wrote",
        "what was written is kept; report it with the time it happened",
    )
    number = request.scope.get("state", {}).get("request_id", "")
    return JSONResponse(told, 500, headers=guard_headers(request.scope) | {"x-request-id": number})


async def on_database(request: Request, error: Exception) -> Response:
    """Answer that the database cannot work now; a fault in what it was asked is the program's.

    Nothing of the request was kept unless it had been kept before: sending it again is safe.
    """
    assert isinstance(error, SQLAlchemyError)
    state, kind = database_state(error)
    measures = getattr(request.app.state, "measures", None)
    if measures is not None:
        measures.count(DATABASE_ERRORS, kind=kind)
    if state == 0:
        raise error
    return _unable("disk-full" if state == 507 else "database")


async def on_system(_: Request, error: Exception) -> Response:
    """Answer that there is no room, or that where files are kept cannot be used now.

    Any other refusal of the system is the program's fault.
    """
    assert isinstance(error, OSError)
    if error.errno in _FULL:
        return _unable("disk-full")
    if error.errno not in _SHUT and not isinstance(error, ConnectionError):
        raise error
    LOG.error("files cannot be used", extra={"told": {"error": fault_lines(error)}})
    return _unable("files")


async def on_gone(_: Request, __: Exception) -> Response:
    """End a request whose sender went away; nobody reads this answer."""
    told = error_document("refused", "upload", "the sender went away", "send it again")
    return JSONResponse(told, 400)


def database_state(error: SQLAlchemyError) -> tuple[int, str]:
    """Return the status that tells of an error of the database, and its kind.

    The status is 0 where it is no state of the database that passes, but a fault.
    """
    origin = error.orig if isinstance(error, DBAPIError) else None
    code = str(getattr(origin, "sqlstate", "") or "")
    told = getattr(origin, "diag", None)
    where = getattr(told, "source_function", None)
    if code == "53100" or where in _EXTENDING or "disk is full" in str(origin):
        return 507, "full"
    down = getattr(told, "severity_nonlocalized", None) in _GOING_DOWN
    if down or isinstance(error, OperationalError | InterfaceError | NoConnectionError):
        return 503, "away"
    return (503, "passing") if code.startswith(_PASSING) else (0, "fault")


def _unable(code: str) -> Response:
    status, wait, problem, when = _UNABLE[code]
    remedy = f"what you wrote stays on the device; send it again {when}"
    told = error_document(code, "store", problem, remedy)
    return JSONResponse(told, status, headers={"retry-after": str(wait)})


_UNABLE = {
    "disk-full": (
        507,
        300,
        "there is no room left to keep this",
        "when the operator has made room",
    ),
    "database": (503, 5, "the database does not answer now", "in a moment"),
    "files": (503, 30, "where photographs and reports are kept cannot be used now", "in a moment"),
}


async def body(request: Request, most: int) -> bytes:
    """Return a request's body of at most ``most`` bytes; more is refused while it arrives.

    Raises
    ------
    RefusedError
        413 if it is larger.
    """
    too_large = RefusedError(
        413, "upload", f"this is larger than {most // MEGABYTE} MB", "send a smaller file"
    )
    told = request.headers.get("content-length", "0")
    if not told.isdecimal() or int(told) > most:
        raise too_large
    data = bytearray()
    async for piece in request.stream():
        data += piece
        if len(data) > most:
            raise too_large
    return bytes(data)


async def json_object(request: Request, most: int) -> dict[str, Any]:
    """Return the JSON object that a request carries.

    Raises
    ------
    RefusedError
        415 if it is not sent as JSON, 400 if it is no JSON object.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip()
    if kind != "application/json":
        raise RefusedError(415, "content-type", "this is not sent as JSON", "send application/json")
    try:
        value = json.loads(await body(request, most), parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise RefusedError(400, "body", "this is not JSON", "send one JSON object") from None
    if not isinstance(value, dict):
        raise RefusedError(400, "body", "this is not a JSON object", "send one JSON object")
    return value


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")
