"""The record of a visit: small entries, added and never altered, and what they add up to.

The rule, the same on every device whatever the order in which entries arrive:

1. An entry counts once, by its id.
2. From the latest clock to the earliest, a live undo makes the entry it names, if that is
   earlier, not live; so an undo can be undone.
3. For each field of each object the live entry with the greatest clock wins; null is absent.
4. Struck stays struck: once any entry has struck a reading, it is struck.
5. An object is there if a live field is and its ``gone`` is not true. A reading is never
   gone: ``gone``, or undoing all that was written of it, strikes it as it last stood. What a
   reading names is kept with it, down to the area of its station and the instrument of its
   setup: as it is, or as it last stood where all of it was undone.
6. Lists are in the order of the clocks of their objects' first entries.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

Json = Any
Fields = Mapping[str, Json]

SINGLE = ("units", "property", "visit", "reference", "book")
LISTS = {
    "instrument": "instruments",
    "area": "areas",
    "wall": "walls",
    "mark": "marks",
    "finish": "finishes",
    "setup": "setups",
    "station": "stations",
    "reading": "readings",
    "section": "sections",
    "distress": "distress",
    "photo": "photos",
    "grade": "grades",
    "wording": "wording",
    "answer": "answers",
}
_NAMED_BY_READING = {"station": "station", "setup": "setup", "finish": "finish"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: sets fields of one object, or undoes an earlier entry.

    ``clock`` is a written hybrid clock; ``made`` the device's own time, for reading only.
    """

    id: str
    visit: str
    clock: str
    device: str
    author: str
    made: str
    do: Literal["set", "undo"]
    kind: str = ""
    of: str = ""
    fields: Fields | None = None
    undoes: str = ""


_NAMED_FURTHER = {"setup": "instrument", "station": "area"}

Key = tuple[str, str]


@dataclass(frozen=True)
class State:
    """What the entries add up to: fields by (kind, id), in list order."""

    objects: Mapping[Key, Fields]

    def of(self, kind: str) -> Mapping[str, Fields]:
        """Return the objects of one kind by id, in order."""
        return {of: fields for (k, of), fields in self.objects.items() if k == kind}


def add_up(entries: Iterable[Entry]) -> State:
    """Return what a visit's entries add up to, by the rule above."""
    ordered = sorted({e.id: e for e in entries}.values(), key=lambda e: (e.clock, e.id))
    live = _live(ordered)
    born: dict[Key, None] = {}
    fields: dict[Key, dict[str, Json]] = {}
    written: dict[Key, dict[str, Json]] = {}
    struck: set[Key] = set()
    for entry in ordered:
        if entry.do != "set":
            continue
        key = (entry.kind, entry.of)
        born.setdefault(key)
        given = entry.fields or {}
        written.setdefault(key, {}).update(given)
        if entry.kind == "reading" and (given.get("struck") is True or given.get("gone") is True):
            struck.add(key)
        if entry.id in live:
            fields.setdefault(key, {}).update(given)
    undone = {key: _said(written[key]) for key in born if key not in fields}
    struck |= {key for key in undone if key[0] == "reading"}
    said = {key: _said(found) for key, found in fields.items()}
    return State(_present(born, said, undone, struck))


def _said(fields: Fields) -> dict[str, Json]:
    """Return the fields that are not absent."""
    return {name: value for name, value in fields.items() if value is not None}


def _live(ordered: list[Entry]) -> set[str]:
    """Return the ids of the live entries; ``ordered`` runs from the earliest."""
    clock = {e.id: (e.clock, e.id) for e in ordered}
    undone: set[str] = set()
    for entry in reversed(ordered):
        counts = entry.do == "undo" and entry.id not in undone
        if counts and clock.get(entry.undoes, clock[entry.id]) < clock[entry.id]:
            undone.add(entry.undoes)
    return {e.id for e in ordered} - undone


def _present(
    born: Iterable[Key],
    said: Mapping[Key, dict[str, Json]],
    undone: Mapping[Key, dict[str, Json]],
    struck: set[Key],
) -> dict[Key, Fields]:
    """Return the objects that are there, without ``gone``; ``undone`` have no live field."""
    standing = {key: found for key, found in {**undone, **said}.items() if found}
    kept = _named_by_readings(standing)
    there: dict[Key, Fields] = {}
    for key in born:
        if key not in standing:
            continue
        found = standing[key]
        stays = key in said and found.get("gone") is not True
        if stays or key[0] == "reading" or key in kept:
            there[key] = {name: value for name, value in found.items() if name != "gone"}
            if key in struck:
                there[key] = {**there[key], "struck": True}
    return there


def _named_by_readings(standing: Mapping[Key, Fields]) -> set[Key]:
    """Return the objects that readings name, and what those name."""
    kept: set[Key] = set()
    for (kind, _), found in standing.items():
        if kind == "reading":
            kept |= {(k, str(found.get(name))) for name, k in _NAMED_BY_READING.items()}
    for key in [k for k in kept if k in standing]:
        name = _NAMED_FURTHER.get(key[0])
        if name is not None:
            kept.add((name, str(standing[key].get(name))))
    return kept
