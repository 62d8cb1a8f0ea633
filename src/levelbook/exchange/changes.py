"""An import as changes of a visit's record: what a device writes down to take it, and undoes."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from levelbook.archive.clock import Clock
from levelbook.archive.document import to_entries

Json = Any
_HEAD = ("units", "property", "visit", "instrument")
"""What stands at the head of a record. Undoing an import leaves it to a house begun with it."""


def changes(
    before: Mapping[str, Json] | None, after: Mapping[str, Json]
) -> tuple[list[dict[str, Json]], list[dict[str, Json]]]:
    """Return what has to be written to make a record ``after`` of the record ``before``.

    Returns
    -------
    head, rest : lists of {kind, of, fields}
        Of a new record the head, without which nothing can be shown, and everything else. Of
        one that is there the head is empty, and the rest has the fields that differ alone; a
        field that is no longer there is null.
    """
    known = {} if before is None else {(k, of): fields for k, of, fields in _objects(before)}
    head: list[dict[str, Json]] = []
    rest: list[dict[str, Json]] = []
    for kind, of, fields in _objects(json.loads(json.dumps(after))):
        differs = _differing(known.get((kind, of), {}), fields)
        if differs:
            new = before is None and kind in _HEAD
            (head if new else rest).append({"kind": kind, "of": of, "fields": differs})
    return head, rest


def _objects(document: Mapping[str, Json]) -> Iterator[tuple[str, str, Mapping[str, Json]]]:
    """Yield kind, id and fields of everything in a document, as its entries have them."""
    new = (lambda: "", 0, "")
    for entry in to_entries(document, "", "", Clock(0, 0, "import00"), new):
        yield entry.kind, entry.of, entry.fields or {}


def _differing(old: Mapping[str, Json], new: Mapping[str, Json]) -> dict[str, Json]:
    gone = {name: None for name in old if name not in new}
    return {name: value for name, value in new.items() if old.get(name) != value} | gone
