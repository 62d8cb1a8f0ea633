"""Entries as they travel: JSON checked on the way in, plain JSON on the way out."""

import json
import re
from collections.abc import Iterable, Sequence
from typing import Any

from levelbook.archive.clock import read_clock
from levelbook.archive.record import LISTS, SINGLE, Entry
from levelbook.errors import DocumentError, Fault, UsageError

MOST_ENTRIES = 5_000
"""Entries in one sending."""
LARGEST = 200_000
"""Bytes of one entry as JSON: an outline of 200 corners takes some 6,000."""
DEEPEST = 16
AHEAD_MS = 24 * 3_600_000
"""A device's clock may be a day ahead of ours, no more."""

_ID = re.compile(r"[0-9A-Za-z_-]{8,64}")
_OF = re.compile(r"[^\x00-\x1f\x7f]{0,64}")
_DEVICE = re.compile(r"[a-z0-9]{8,32}")
_REMEDY = "update the app on the device and send again"
_HALF = re.compile(r"[\ud800-\udfff]")
_NO_TEXT = "it holds text that is none: half a character"
_KEYS = {"id", "visit", "clock", "device", "author", "made", "do"}


def read_entries(values: Any, visit: str, now: int) -> tuple[Entry, ...]:  # noqa: ANN401
    """Return the entries that a device sent for ``visit``; ``now`` is our time in ms.

    Raises
    ------
    DocumentError
        With every entry that cannot be taken; none is taken then.
    """
    if not isinstance(values, list) or len(values) > MOST_ENTRIES:
        problem = f"this is not a list of at most {MOST_ENTRIES} entries"
        raise DocumentError((Fault("entries", "entries", problem, "send fewer at a time"),))
    faults: list[Fault] = []
    entries = [_read(value, f"entries[{i}]", visit, now, faults) for i, value in enumerate(values)]
    if faults:
        raise DocumentError(tuple(faults[:50]))
    return tuple(entry for entry in entries if entry is not None)


def write_entry(entry: Entry) -> dict[str, Any]:
    """Return an entry as a JSON object."""
    told = {key: getattr(entry, key) for key in ("id", "visit", "clock", "device", "author")}
    told |= {"made": entry.made, "do": entry.do}
    if entry.do == "undo":
        return told | {"undoes": entry.undoes}
    return told | {"kind": entry.kind, "of": entry.of, "fields": dict(entry.fields or {})}


def told_entries(bodies: Iterable[str]) -> list[Entry]:
    """Return entries as the store keeps them, read at one go: a visit has hundreds."""
    return [Entry(**value) for value in json.loads(f"[{','.join(bodies)}]")]


def _read(value: Any, place: str, visit: str, now: int, faults: list[Fault]) -> Entry | None:  # noqa: ANN401
    """Return one entry, or note what is wrong with it."""
    problem = _problem(value, visit, now)
    if problem is not None:
        faults.append(Fault("entry", place, problem, _REMEDY))
        return None
    return Entry(
        **{key: value[key] for key in _KEYS},
        kind=value.get("kind", ""),
        of=value.get("of", ""),
        fields=value.get("fields"),
        undoes=value.get("undoes", ""),
    )


def _problem(value: Any, visit: str, now: int) -> str | None:  # noqa: ANN401
    """Return what is wrong with an entry, or ``None``."""
    if not isinstance(value, dict) or not value.keys() >= _KEYS:
        return "an entry has an id, visit, clock, device, author, made and do"
    if not all(isinstance(value[key], str) and len(value[key]) <= 200 for key in _KEYS):
        return "these parts are texts of at most 200 characters"
    if not (_ID.fullmatch(value["id"]) and _DEVICE.fullmatch(value["device"])):
        return "its id or device is not of the form ours have"
    if value["visit"] != visit:
        return "it belongs to another visit"
    if not all(_is_text(value.get(key, "")) for key in (*_KEYS, "of")):
        return _NO_TEXT
    return _clock_problem(value, now) or _content_problem(value)


def _clock_problem(value: dict[str, Any], now: int) -> str | None:
    try:
        clock = read_clock(value["clock"])
    except UsageError as error:
        return error.problem
    if clock.device != value["device"]:
        return "its clock is another device's"
    if clock.milliseconds > now + AHEAD_MS:
        return "the device's clock is more than a day ahead; set its date and time"
    return None


def _content_problem(value: dict[str, Any]) -> str | None:
    extra = value.keys() - _KEYS
    if value["do"] == "undo":
        good = extra == {"undoes"} and isinstance(value["undoes"], str)
        return None if good and _ID.fullmatch(value["undoes"]) else "an undo names one entry"
    if value["do"] != "set" or extra != {"kind", "of", "fields"}:
        return "an entry sets fields of one object or undoes an entry"
    kind, of = value["kind"], value["of"]
    if kind not in SINGLE and kind not in LISTS:
        return f"there is no kind {str(kind)[:40]!r}"
    if not isinstance(of, str) or not _OF.fullmatch(of) or (of == "") != (kind in SINGLE):
        return "its object has no proper id"
    return _fields_problem(value["fields"])


def _fields_problem(fields: Any) -> str | None:  # noqa: ANN401
    if not isinstance(fields, dict) or not fields or _depth(fields, DEEPEST) > DEEPEST:
        return "its fields are not an object of values"
    try:
        size = len(json.dumps(fields, allow_nan=False, ensure_ascii=False).encode())
    except UnicodeEncodeError:
        return _NO_TEXT
    except ValueError:
        return "its fields hold a number that is none"
    return None if size <= LARGEST else f"its fields take more than {LARGEST} bytes"


def _is_text(value: Any) -> bool:  # noqa: ANN401
    """Tell whether a value can be written: JSON may hold halves of characters."""
    return not isinstance(value, str) or value.isascii() or not _HALF.search(value)


def _depth(value: Any, most: int) -> int:  # noqa: ANN401
    """Return how deep a JSON value nests, as far as ``most`` and one more."""
    inner: Sequence[Any] = ()
    if isinstance(value, dict):
        inner = list(value.values())
    elif isinstance(value, list):
        inner = value
    if not isinstance(value, dict | list) or most < 0:
        return 0
    return 1 + max((_depth(item, most - 1) for item in inner), default=0)
