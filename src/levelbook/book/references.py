"""Ids: each once in its list, and every mention of one resolving."""

from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Step, place_of, show
from levelbook.book.model import Reading, Record, Reference
from levelbook.book.nearest import Nearest

#: Lists, their fields that hold an id, and the list that the id must be found in.
_MENTIONS = (
    ("setups", "instrument", "instruments"),
    ("stations", "area", "areas"),
    ("readings", "setup", "setups"),
    ("readings", "station", "stations"),
    ("readings", "finish", "finishes"),
    ("readings", "instead", "readings"),
    ("grades", "setup", "setups"),
    ("grades", "instead", "grades"),
    ("distress", "photo", "photos"),
)


def check_ids(draft: Draft, found: Collector) -> None:
    """Tell ids that stand twice in one list."""
    for key, names in draft.ids.items():
        first: dict[str, int] = {}
        for index, name in names.items():
            if first.setdefault(name, index) != index:
                problem = f"the id {show(name)} stands already at {place_of((key, first[name]))}"
                found.add("id-twice", (key, index, "id"), problem, "give it an id of its own")


def check_references(draft: Draft, found: Collector) -> None:
    """Tell mentions of ids that do not exist, with the nearest one that does."""
    lookups = {key: _Lookup(key, names) for key, names in draft.ids.items()}
    for key, field, target in _MENTIONS:
        if target in lookups:
            for index, entry in draft.each(key, Record):
                lookups[target].check(getattr(entry, field), (key, index, field), found)
    reference = draft.part("reference", Reference)
    if reference is not None:
        for field, target in (("station", "stations"), ("finish", "finishes")):
            if target in lookups:
                lookups[target].check(getattr(reference, field), ("reference", field), found)


def check_reference_read(draft: Draft, found: Collector) -> None:
    """Tell a document without readings, and a reference that no unstruck reading reaches.

    The finish may be one that was read elsewhere: it is what heights are told above, and
    pairs of readings tell how it stands to the one at the station.
    """
    reference = draft.part("reference", Reference)
    if draft.sizes.get("readings") == 0:
        found.add("no-readings", ("readings",), "there are no readings yet", "take them on site")
        return
    if reference is None or not draft.complete("readings"):
        return
    if reference.station not in draft.ids.get("stations", {}).values():
        return
    station, finish = show(reference.station), reference.finish
    known = draft.ids.get("finishes", {}).values()
    valid = [one for _, one in draft.each("readings", Reading) if not one.struck]
    here = [one for one in valid if one.station == reference.station]
    if not here:
        remedy = "read it, or refer to another station"
        problem = f"station {station} has no reading that is not struck"
        found.add("reference", ("reference", "station"), problem, remedy)
    elif finish in known and all(one.finish != finish for one in valid):
        problem = f"finish {show(finish)} has no reading that is not struck"
        remedy = f"write {show(here[0].finish)}, on which station {station} was read"
        found.add("reference", ("reference", "finish"), problem, remedy)


class _Lookup:
    """The ids of one list, and the nearest to one that is not there."""

    def __init__(self, key: str, names: dict[int, str]) -> None:
        self._word = {"finishes": "finish", "distress": "distress"}.get(key, key[:-1])
        self._names = set(names.values())
        self._order = list(names.values())
        self._nearest: Nearest | None = None

    def check(self, name: str | None, place: tuple[Step, ...], found: Collector) -> None:
        """Tell ``name`` if it is an id that the list does not have."""
        if name is None or name in self._names:
            return
        problem = f"no {self._word} {show(name)}"
        found.add("reference", place, problem, "" if found.full else self._remedy(name))

    def _remedy(self, name: str) -> str:
        if self._nearest is None:
            self._nearest = Nearest(self._order)
        near = self._nearest.find(name)
        if near is not None:
            return f"nearest id {show(near)}"
        others = f", or name one of the {len(self._names):,} that there are"
        return "add it" + (others if self._names else "")
