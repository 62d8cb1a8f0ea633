"""Fields of a JSON object that somebody sent: of the right kind, within limits, plain text."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any

from levelbook.app.answers import RefusedError

_EMAIL = re.compile(r"[a-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@([a-z0-9-]{1,63}\.)+[a-z0-9-]{2,63}")
_DIRECTION = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Signs that turn the direction of what follows, by which one text can look like another."""


def text(given: Mapping[str, Any], name: str, most: int, *, needed: bool = True) -> str:
    """Return a line of text, without the blanks around it.

    Raises
    ------
    RefusedError
        400 if it is missing, no text, too long, or holds signs that do not belong in a line.
    """
    value = secret(given, name, most, needed=needed).strip()
    if needed and not value:
        raise RefusedError(400, name, "this is missing", "fill it in")
    if any(c in _DIRECTION or unicodedata.category(c) in ("Cc", "Cs") for c in value):
        raise RefusedError(400, name, "this holds control characters", "write plain text")
    return value


def secret(given: Mapping[str, Any], name: str, most: int, *, needed: bool = True) -> str:
    """Return a text exactly as it was sent, such as a password.

    Raises
    ------
    RefusedError
        400 if it is missing, no text, too long, or half a character.
    """
    value = given.get(name, None if needed else "")
    if not isinstance(value, str):
        raise RefusedError(400, name, "this is missing, or is no text", "send a text")
    if len(value) > most:
        raise RefusedError(400, name, f"this has more than {most} characters", "shorten it")
    if any("\ud800" <= c <= "\udfff" for c in value):
        raise RefusedError(400, name, "this holds half a character", "write plain text")
    return value


def email(given: Mapping[str, Any], name: str = "email") -> str:
    """Return an e-mail address in small letters.

    Raises
    ------
    RefusedError
        400 if it is none that mail could be sent to.
    """
    value = text(given, name, 254).lower()
    if not _EMAIL.fullmatch(value):
        raise RefusedError(400, name, "this is no e-mail address", "write name@example.org")
    return value


def choice(given: Mapping[str, Any], name: str) -> bool | None:
    """Return yes or no, ``None`` where nothing is said.

    Raises
    ------
    RefusedError
        400 if it is anything else.
    """
    value = given.get(name)
    if value is None or isinstance(value, bool):
        return value
    raise RefusedError(400, name, "this is neither yes nor no", "send true or false")
