"""A user's own criteria: TOML or JSON text to a set, all faults told at once."""

import json
import tomllib
from collections.abc import Sequence
from typing import Any, Never

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from levelbook.errors import DocumentError, Fault
from levelbook.findings.criteria import CriteriaSet

LARGEST_TEXT = 200_000
DEEPEST = 16
MOST_FAULTS = 100

REMEDIES = {
    "missing": "add this key",
    "extra_forbidden": "remove this key or check its spelling",
    "literal_error": "use one of the values named",
    "string_pattern_mismatch": "use plain text on one line; ids take a-z, 0-9, - and .",
    "string_too_long": "shorten the text",
    "finite_number": "write a finite number",
    "greater_than": "write a number above zero",
    "less_than_equal": "write a smaller number",
}
"""What to do about the commonest faults, by the checker's own name for them."""


def load_criteria(text: str, name: str) -> CriteriaSet:
    """Return the set of criteria written in ``text``, TOML or JSON (it begins with ``{``).

    Parameters
    ----------
    text : the content of the file.
    name : what to call it in errors, usually its file name.

    Raises
    ------
    DocumentError
        With every fault, each with its place and remedy.
    """
    data = _parse(text, name)
    try:
        return CriteriaSet.model_validate(data)
    except ValidationError as error:
        faults = [_told(name, each) for each in error.errors(include_url=False)]
        raise DocumentError(_first(faults, name)) from None


def _parse(text: str, name: str) -> dict[str, Any]:
    """Return the table that a text holds: TOML is one, and so is JSON that begins with ``{``."""
    if len(text) > LARGEST_TEXT:
        raise _fault(
            name, f"{len(text)} characters", f"keep a criteria file under {LARGEST_TEXT} characters"
        )
    if _depth(text) > DEEPEST:
        raise _fault(name, "brackets nested too deep", f"nest at most {DEEPEST} levels")
    try:
        if text.lstrip().startswith("{"):
            table: dict[str, Any] = json.loads(
                text, object_pairs_hook=_once, parse_constant=_refuse
            )
            return table
        return tomllib.loads(text)
    except (json.JSONDecodeError, tomllib.TOMLDecodeError) as error:
        raise _fault(name, f"not readable: {error}", "mend the text at that place") from None
    except ValueError as error:
        raise _fault(name, str(error), "write each key once, with a finite number") from None


def _depth(text: str) -> int:
    """Return an upper bound of the nesting (brackets in text count too), for either format."""
    deepest = now = 0
    for character in text:
        if character in "[{":
            now += 1
            deepest = max(deepest, now)
        elif character in "]}":
            now = max(now - 1, 0)
    return deepest


def _once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"the key {twice[:60]!r} is written twice")
    return table


def _refuse(constant: str) -> Never:
    raise ValueError(f"{constant} is not a finite number")


def _first(faults: list[Fault], name: str) -> tuple[Fault, ...]:
    """Return all faults, or the first of a great many and their number."""
    if len(faults) <= MOST_FAULTS:
        return tuple(faults)
    more = Fault("criteria-more", name, f"{len(faults)} faults in all", "mend the first ones")
    return (*faults[:MOST_FAULTS], more)


def _told(name: str, error: ErrorDetails) -> Fault:
    place = name
    for step in error["loc"]:
        place += f"[{step}]" if isinstance(step, int) else f".{str(step)[:60]}"
    message = str(error["msg"]).removeprefix("Value error, ")
    remedy = REMEDIES.get(error["type"], "correct the value")
    return Fault(f"criteria-{error['type']}", place, message, remedy)


def _fault(name: str, problem: str, remedy: str) -> DocumentError:
    return DocumentError((Fault("criteria-unreadable", name, problem, remedy),))
