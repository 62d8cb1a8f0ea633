"""What a request asks for in its address: ids, words and numbers, each looked at first."""

import re

from starlette.requests import Request

from levelbook.app.answers import RefusedError

_ID = re.compile(r"[0-9A-Za-z_-]{1,64}")
_DAY = re.compile(r"\d{4}(?:-\d{2}(?:-\d{2})?)?")


def id_of(request: Request, name: str, what: str) -> str:
    """Return an id of the address.

    Raises
    ------
    RefusedError
        404 if it has not the form that ids have, as for one that is not there.
    """
    value: str = request.path_params[name]
    if not _ID.fullmatch(value):
        problem = f"there is no such {what}"
        raise RefusedError(404, what, problem, "go back to the list")
    return value


def words_in(request: Request, name: str, most: int = 200) -> str:
    """Return a text of the query, empty if there is none.

    Raises
    ------
    RefusedError
        400 if it holds signs that cannot be seen.
    """
    value = request.query_params.get(name, "")[:most]
    if not value.isprintable():
        raise RefusedError(400, name, "this holds signs that cannot be seen", "write plain text")
    return value


def day_in(request: Request, name: str) -> str:
    """Return a day, month or year of the query, empty if there is none.

    Raises
    ------
    RefusedError
        400 if it is none.
    """
    value = request.query_params.get(name, "")
    if value and not (value.isascii() and _DAY.fullmatch(value)):
        raise RefusedError(400, name, "this is not a day", "write it as 2026-05-14")
    return value


def whole_in(request: Request, name: str, usual: int, least: int, most: int) -> int:
    """Return a whole number of the query.

    Raises
    ------
    RefusedError
        400 if it is none from ``least`` to ``most``.
    """
    told = request.query_params.get(name, str(usual))
    good = told.isascii() and told.isdecimal() and len(told) < 10
    if not (good and least <= int(told) <= most):
        problem = f"this is not a number from {least} to {most}"
        raise RefusedError(400, name, problem, "leave it out")
    return int(told)
