"""From a visit's entries to the level-book document, and from a document to entries."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from levelbook.archive.clock import Clock, tick
from levelbook.archive.record import LISTS, Entry, Fields, State

Json = Any
_ALWAYS = ("instruments", "areas", "finishes", "setups", "stations", "readings")
_NAMELESS = ("mark", "wall")
_ELSEWHERE = ("wording", "answer")
_ORDER = [
    "format",
    "units",
    "property",
    "visit",
    "instruments",
    "areas",
    "walls",
    "marks",
    "finishes",
    "setups",
    "stations",
    "readings",
    "sections",
    "reference",
    "grades",
    "distress",
    "photos",
    "extra",
]


def to_document(state: State) -> dict[str, Json]:
    """Return the level-book document that a visit's state adds up to.

    Nothing is checked here: reading the document tells what is missing.
    """
    found: dict[str, Json] = {"format": "levelbook/1", "units": {"level": "in", "plan": "ft"}}
    for kind in ("units", "property", "visit", "reference"):
        if ("" in state.of(kind)) or kind in ("property", "visit"):
            found[kind] = dict(state.of(kind).get("", {}))
    for kind, name in LISTS.items():
        things = [_thing(kind, of, fields) for of, fields in state.of(kind).items()]
        if kind not in _ELSEWHERE and (things or name in _ALWAYS):
            found[name] = things
    found |= dict(state.of("book").get("", {}))
    _place_wording(found, state.of("wording"))
    _place_answers(found, state.of("answer"))
    return {key: found[key] for key in _ORDER if key in found}


def to_entries(
    document: Mapping[str, Json],
    visit: str,
    author: str,
    last: Clock,
    new: tuple[Callable[[], str], int, str],
) -> Iterator[Entry]:
    """Yield the entries that a document is made of, one an object, in its order.

    ``last`` is the importing device's clock; ``new`` holds a maker of entry ids, the wall
    time in ms and the same as text.
    """
    make_id, now, made = new
    for kind, of, fields in _objects(document):
        last = tick(last, now)
        yield Entry(make_id(), visit, str(last), last.device, author, made, "set", kind, of, fields)


def _objects(document: Mapping[str, Json]) -> Iterator[tuple[str, str, Fields]]:
    """Yield kind, id and fields of everything in a document."""
    for kind in ("units", "property", "visit", "reference"):
        fields = dict(document.get(kind, {}))
        if kind == "visit":
            yield from _wording(fields)
        if fields:
            yield kind, "", fields
    for kind, name in LISTS.items():
        for k, thing in enumerate(document.get(name, ())):
            if kind in _NAMELESS:
                yield kind, f"{kind}-{k + 1}", {"line": thing} if kind == "wall" else thing
            else:
                yield kind, thing["id"], {a: b for a, b in thing.items() if a != "id"}
    if "extra" in document:
        yield "book", "", {"extra": document["extra"]}


def _wording(visit: dict[str, Json]) -> Iterator[tuple[str, str, Fields]]:
    """Take the inspector's wording out of a visit's fields, an object for each key."""
    extra = dict(visit.get("extra") or {})
    wording = extra.pop("wording", None)
    if not isinstance(wording, list) or not _keyed(wording):
        return
    visit.pop("extra")
    if extra:
        visit["extra"] = extra
    for item in wording:
        yield "wording", item["key"], {a: b for a, b in item.items() if a != "key"}


def _keyed(wording: list[Json]) -> bool:
    """Tell whether each item is an object with a key of its own and something to say."""
    keys = [item.get("key") for item in wording if isinstance(item, dict) and len(item) > 1]
    return len(set(map(str, keys))) == len(wording) and all(isinstance(k, str) for k in keys)


def _thing(kind: str, of: str, fields: Fields) -> Json:
    if kind == "wall":
        return fields.get("line", [])
    return dict(fields) if kind in _NAMELESS else {"id": of, **fields}


def _place_wording(document: dict[str, Json], wording: Mapping[str, Fields]) -> None:
    """Put the inspector's wording where the findings look for it."""
    if wording:
        extra = dict(document["visit"].get("extra") or {})
        extra["wording"] = [{"key": key, **fields} for key, fields in wording.items()]
        document["visit"]["extra"] = extra


def _place_answers(document: dict[str, Json], answers: Mapping[str, Fields]) -> None:
    """Put the answers to questioned readings at the readings."""
    for reading in document["readings"]:
        answer = answers.get(reading["id"])
        if answer is not None:
            reading["extra"] = {**(reading.get("extra") or {}), "confirmed": answer.get("text", "")}
