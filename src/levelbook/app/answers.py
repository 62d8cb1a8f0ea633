"""Answers of the server: one shape for every error, and limits on what is taken in."""

import json
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from levelbook.errors import DocumentError, Fault, UsageError

MEGABYTE = 1_000_000


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
    status = error.status if isinstance(error, RefusedError) else 400
    told = error_document("refused", error.place, error.problem, error.remedy)
    return JSONResponse(told, status)


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


async def on_fault(_: Request, error: Exception) -> Response:
    """Answer a fault of the program without telling its inside."""
    told = error_document(
        "program",
        type(error).__name__,
        "this is a fault of the program, not of what you wrote",
        "what was written is kept; report it with the time it happened",
    )
    return JSONResponse(told, 500)


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
