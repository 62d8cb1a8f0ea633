"""The form of a document: its keys, their types and limits, entry by entry."""

from collections.abc import Mapping
from typing import Any, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from levelbook.book import limits
from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Json, Step, show
from levelbook.book.model import Book
from levelbook.book.translate import kind_of, missing_key, tell, unknown_key

FORMAT = "levelbook/1"


def read_shape(value: Json, found: Collector) -> Draft:
    """Return the good parts of a document's JSON value; its faults of form go to ``found``.

    Raises
    ------
    DocumentError
        If the value is not a level-book document at all, or a list or object is too long.
    """
    if not isinstance(value, dict):
        found.stop("wrong-type", f"is {kind_of(value)}, not an object", "begin with {")
    if value.get("format", FORMAT) != FORMAT:
        problem = f"{show(value['format'])} is not '{FORMAT}'"
        found.stop("format", problem, f"give a {FORMAT} document", ("format",))
    _bound(value, (), "", found)
    draft = Draft(given=tuple(key for key in _ENTRY if key in value))
    _top_keys(value, found)
    for key, kind in _SINGLE.items():
        if key in value and (part := _read(kind, value[key], (key,), found)) is not _BAD:
            draft.parts[key] = part
    for key, kind in _ENTRY.items():
        if key in value or not Book.model_fields[key].is_required():
            _list(key, kind, value.get(key, []), draft, found)
    return draft


def assemble(draft: Draft) -> Book:
    """Return the document of a draft without faults."""
    lists = {key: tuple(draft.lists[key].values()) for key in draft.given}
    return Book.model_validate({**draft.parts, **lists})


def _bound(
    value: dict[str, Json] | list[Json], path: tuple[Step, ...], name: str, found: Collector
) -> None:
    """Stop at a list or object longer than allowed, from the top; ``extra`` is left alone."""
    if isinstance(value, dict):
        if len(value) > limits.KEYS:
            problem = f"has {len(value):,} keys, more than {limits.KEYS}"
            found.stop("too-many", problem, "keep own data under 'extra'", path)
        for key, item in value.items():
            if key != "extra" and isinstance(item, (dict, list)):
                _bound(item, (*path, key), f"{name}.{key}" if name else key, found)
    else:
        most = limits.ENTRIES.get(name, limits.OTHER_ENTRIES)
        if len(value) > most:
            problem = f"has {len(value):,} entries, more than {most:,}"
            found.stop("too-many", problem, "split the document or leave some out", path)
        for index, item in enumerate(value):
            if isinstance(item, (dict, list)):
                below = name if isinstance(item, dict) else f"{name}[]"
                _bound(item, (*path, index), below, found)


def _top_keys(value: Mapping[str, Json], found: Collector) -> None:
    """Tell keys of the document that are unknown or missing."""
    for key in value:
        if key not in Book.model_fields:
            unknown_key((key,), list(Book.model_fields), found)
    for key, field in Book.model_fields.items():
        if field.is_required() and key not in value:
            missing_key((key,), found)


def _list(key: str, kind: object, value: Json, draft: Draft, found: Collector) -> None:
    """Read one list, entry by entry."""
    if not isinstance(value, list):
        found.add("wrong-type", (key,), f"is {kind_of(value)}, not a list", "write a list: [ … ]")
        return
    draft.ids[key], draft.lists[key], draft.sizes[key] = {}, {}, len(value)
    for index, item in enumerate(value):
        name = item.get("id") if isinstance(item, dict) else None
        if isinstance(name, str):
            draft.ids[key][index] = name
        entry = _read(kind, item, (key, index), found)
        if entry is not _BAD:
            draft.lists[key][index] = entry


def _read(kind: object, value: Json, path: tuple[Step, ...], found: Collector) -> object:
    """Return the validated value, or ``_BAD`` after telling its faults."""
    try:
        return _ADAPTERS[kind].validate_python(value)
    except ValidationError as error:
        if found.full:
            found.count_more(error.error_count())
            return _BAD
        for one in error.errors(include_url=False):
            tell(one, path, kind, found)
        return _BAD


_BAD = object()


def _kinds() -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the types of the single parts, and of one entry of each list, by key."""
    single: dict[str, Any] = {}
    entry: dict[str, Any] = {}
    for key, field in Book.model_fields.items():
        if get_origin(field.annotation) is tuple:
            entry[key] = get_args(field.annotation)[0]
        else:
            single[key] = field.annotation
    return single, entry


_SINGLE, _ENTRY = _kinds()
_ADAPTERS = {kind: TypeAdapter(kind) for kind in (*_SINGLE.values(), *_ENTRY.values())}
