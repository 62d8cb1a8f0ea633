"""The validator's findings in our own words."""

import math
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any, get_args

from levelbook.book.faults import Collector, Step, show
from levelbook.book.model import Record

Words = tuple[str, str, str]


def tell(error: Mapping[str, Any], path: tuple[Step, ...], kind: object, found: Collector) -> None:
    """Put one of the validator's errors, found at ``path`` in a ``kind``, into ``found``."""
    place = (*path, *error["loc"])
    if error["type"] == "missing":
        missing_key(place, found)
    elif error["type"] == "extra_forbidden":
        unknown_key(place, _keys(kind, error["loc"]), found)
    elif not _told(error["input"]):
        say = _WORDS.get(error["type"], _other)
        found.add(*_at(place, say(error["input"], error.get("ctx", {}))))


def missing_key(place: tuple[Step, ...], found: Collector) -> None:
    """Tell a key that is needed, or a coordinate that is not there."""
    if isinstance(place[-1], int):
        found.add("corner", place[:-1], "holds too few numbers or points", _POINT)
    else:
        found.add("missing-key", place, "is missing", f"add the key {show(place[-1])}")


def unknown_key(place: tuple[Step, ...], known: list[str], found: Collector) -> None:
    """Tell a key that the format does not have, with the nearest one that it has there."""
    near = [] if found.full else get_close_matches(str(place[-1])[:64], known, 1)
    remedy = f"nearest key '{near[0]}'" if near else "remove it, or keep it under 'extra'"
    found.add("unknown-key", place, f"unknown key {show(place[-1])}", remedy)


def kind_of(value: object) -> str:
    """Return what a JSON value is, in words."""
    names = {dict: "an object", list: "a list", str: "a text", bool: "true or false"}
    return names.get(type(value), "null" if value is None else "a number")


_POINT = "write a point as [x, y], a line as a list of points"


def _at(place: tuple[Step, ...], words: Words) -> tuple[str, tuple[Step, ...], str, str]:
    """Put the place after the code."""
    code, problem, remedy = words
    return code, place, problem, remedy


def _told(value: object) -> bool:
    """Tell whether this is a number without end, which the reading of the text has told."""
    return isinstance(value, float) and not math.isfinite(value)


def _keys(kind: object, path: tuple[Step, ...]) -> list[str]:
    """Return the keys of the record in ``kind`` that holds the last key of ``path``."""
    record = _record(kind)
    for step in path[:-1]:
        if isinstance(step, str):
            record = _record(record.model_fields[step].annotation)
    return list(record.model_fields)


def _record(kind: object) -> type[Record]:
    """Return the record in a type such as ``tuple[Station, ...]`` or ``Units | None``."""
    if isinstance(kind, type) and issubclass(kind, Record):
        return kind
    return next(_record(one) for one in get_args(kind) if one not in (type(None), ...))


def _needs(what: str, remedy: str) -> Callable[[object, Mapping[str, Any]], Words]:
    """Return the wording of a value of the wrong type."""

    def say(value: object, _context: Mapping[str, Any]) -> Words:
        if value is None or isinstance(value, bool):
            return "wrong-type", f"is {show(value)}, not {what}", remedy
        shown = "" if isinstance(value, (dict, list)) else f"{show(value)} "
        return "wrong-type", f"{shown}is {kind_of(value)}, not {what}", remedy

    return say


def _choice(value: object, context: Mapping[str, Any]) -> Words:
    return "choice", f"{show(value)} is not known here", f"write {context['expected']}"


def _number(value: object, _context: Mapping[str, Any]) -> Words:
    remedy = 'write a decimal or a fraction, as "-0.6" or "-1 3/8"'
    return "value", f"{show(value)} is not a number as readings are written", remedy


def _size(value: object, _context: Mapping[str, Any]) -> Words:
    return "value", f"{show(value)} is beyond any reading", "look for a slipped decimal point"


def _high(value: object, context: Mapping[str, Any]) -> Words:
    return "range", f"{show(value)} is too large", f"stay at or below {context['le']:,.12g}"


def _low(value: object, context: Mapping[str, Any]) -> Words:
    return "range", f"{show(value)} is too small", f"stay at or above {context['ge']:,.12g}"


def _empty(_value: object, context: Mapping[str, Any]) -> Words:
    return "text", "the text is empty", f"write at least {context['min_length']} character"


def _long(value: object, context: Mapping[str, Any]) -> Words:
    problem = f"{show(value)} has {len(str(value)):,} characters"
    return "text", problem, f"shorten it to {context['max_length']:,}"


def _control(value: object, _context: Mapping[str, Any]) -> Words:
    return "text", f"{show(value)} holds control characters", "remove them"


def _count(_value: object, context: Mapping[str, Any]) -> Words:
    return "corner", f"holds more than {context['max_length']}", _POINT


def _fraction(value: object, _context: Mapping[str, Any]) -> Words:
    return "wrong-type", f"{show(value)} is not a whole number", "write a whole number"


def _other(value: object, _context: Mapping[str, Any]) -> Words:
    return "wrong-type", f"{kind_of(value)} does not fit here", "see the description of the format"


_TEXT = _needs("a text", "write a text in quotes")
_WORDS: dict[str, Callable[[object, Mapping[str, Any]], Words]] = {
    "float_type": _needs("a number", "write it without quotes"),
    "int_type": _needs("a whole number", "write it without quotes"),
    "int_from_float": _fraction,
    "int_parsing_size": _fraction,
    "bool_type": _needs("true or false", "write true or false without quotes"),
    "string_type": _TEXT,
    "tuple_type": _needs("a list", "write a list: [ … ]"),
    "dict_type": _needs("an object", "write an object: { … }"),
    "model_type": _needs("an object", "write an object: { … }"),
    "literal_error": _choice,
    "written_number": _number,
    "written_size": _size,
    "less_than_equal": _high,
    "greater_than_equal": _low,
    "string_too_short": _empty,
    "string_too_long": _long,
    "string_pattern_mismatch": _control,
    "too_long": _count,
}
