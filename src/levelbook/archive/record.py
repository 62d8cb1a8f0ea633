"""The record of a visit: small entries, added and never altered, and what they add up to.

The rule, the same on every device whatever the order in which entries arrive:

1. An entry counts once, by its id.
2. From the latest clock to the earliest, a live undo makes the entry it names, if that is
   earlier, not live; so an undo can be undone.
3. For each field of each object the live entry with the greatest clock wins; null is absent.
4. Struck stays struck: once any entry has struck a reading, it is struck.
5. An object is there if a live field is and its ``gone`` is not true. A reading is never
   gone: ``gone``, or undoing all that was written of it, strikes it as it last stood. What a
   reading names is kept with it.
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
        if entry.kind == "reading":
            written.setdefault(key, {}).update(given)
            if given.get("struck") is True or given.get("gone") is True:
                struck.add(key)
        if entry.id in live:
            fields.setdefault(key, {}).update(given)
    unsaid = set(written) - set(fields)
    fields |= {key: written[key] for key in unsaid}
    return State(_present(born, fields, struck | unsaid))


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
    born: Iterable[Key], fields: Mapping[Key, dict[str, Json]], struck: set[Key]
) -> dict[Key, Fields]:
    """Return the objects that are there, without ``gone`` and absent fields."""
    there = {
        key: {k: v for k, v in fields[key].items() if v is not None}
        for key in born
        if key in fields
    }
    there = {key: found for key, found in there.items() if found}
    for key in struck & set(there):
        there[key]["struck"] = True
    kept = _named_by_readings(there)
    return {
        key: {name: value for name, value in found.items() if name != "gone"}
        for key, found in there.items()
        if found.get("gone") is not True or key[0] == "reading" or key in kept
    }


def _named_by_readings(there: Mapping[Key, Fields]) -> set[Key]:
    """Return the objects that readings name, and the instruments of their setups."""
    kept: set[Key] = set()
    for (kind, _), found in there.items():
        if kind == "reading":
            kept |= {(k, str(found.get(name))) for name, k in _NAMED_BY_READING.items()}
    for key in [k for k in kept if k[0] == "setup" and k in there]:
        kept.add(("instrument", str(there[key].get("instrument"))))
    return kept
