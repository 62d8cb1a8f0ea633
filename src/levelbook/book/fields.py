"""The kinds of value that stand in a document: ids, texts, coordinates, written numbers."""

import math
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from levelbook.book.limits import (
    COORDINATE,
    ID_LENGTH,
    NOTE_LENGTH,
    NUMBER,
    TEXT_LENGTH,
    VALUE_LENGTH,
)
from levelbook.book.numbers import parse_value, shortest

# Control characters never belong in text that is printed; a note may break lines and indent.
_LINE = r"^[^\x00-\x1f\x7f-\x9f]*$"
_LINES = r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$"
_WRITTEN = r"^\s*[+−-]?\s*(\d+(\.\d*)?|\.\d+|(\d+\s+)?\d+/\d+)\s*$"


def _as_written(value: object) -> object:
    """Take a number as its shortest decimal string; leave anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    if not math.isfinite(value):
        raise PydanticCustomError("finite_number", "a finite number is needed")
    return shortest(value)


def _legible(text: str) -> str:
    """Return ``text`` if it reads as a number of sane size."""
    try:
        size = abs(parse_value(text))
    except ValueError:
        raise PydanticCustomError("written_number", "not a written number") from None
    if size > NUMBER:
        raise PydanticCustomError("written_size", "too large")
    return text


def _whole(value: object) -> object:
    """Refuse what only looks like a whole number (texts, true and false)."""
    if isinstance(value, (bool, str)):
        raise PydanticCustomError("int_type", "a whole number is needed")
    return value


Number = Annotated[float, Strict(), Field(ge=-NUMBER, le=NUMBER)]
Size = Annotated[float, Strict(), Field(ge=0, le=NUMBER)]
Coordinate = Annotated[float, Strict(), Field(ge=-COORDINATE, le=COORDINATE)]
Whole = Annotated[int, BeforeValidator(_whole)]
Flag = Annotated[bool, Strict()]
Id = Annotated[str, StringConstraints(min_length=1, max_length=ID_LENGTH, pattern=_LINE)]
Text = Annotated[str, StringConstraints(max_length=TEXT_LENGTH, pattern=_LINES)]
Note = Annotated[str, StringConstraints(max_length=NOTE_LENGTH, pattern=_LINES)]

Written = Annotated[
    str,
    StringConstraints(max_length=VALUE_LENGTH),
    AfterValidator(_legible),
    BeforeValidator(_as_written),
    WithJsonSchema({"type": ["string", "number"], "maxLength": VALUE_LENGTH, "pattern": _WRITTEN}),
]

Point = tuple[Coordinate, Coordinate]
Line = tuple[Point, Point]
Extra = dict[str, Any]
