"""A document looked up by what its remarks need: readings that stand, by setup and station."""

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely.geometry import Polygon

from levelbook.book.faults import show
from levelbook.book.model import Area, Book, Reading, Station


@dataclass(frozen=True, slots=True)
class Notice:
    """One remark: a stable code, its place, a sentence, and what would help."""

    code: str
    place: str
    sentence: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.remedy}"


@dataclass(frozen=True)
class Survey:
    """A document without errors, and its readings that are not struck."""

    book: Book

    @cached_property
    def standing(self) -> tuple[Reading, ...]:
        """Readings that are not struck."""
        return tuple(one for one in self.book.readings if not one.struck)

    @cached_property
    def by_setup(self) -> dict[str, list[Reading]]:
        """Readings that stand, by setup."""
        found: dict[str, list[Reading]] = defaultdict(list)
        for one in self.standing:
            found[one.setup].append(one)
        return found

    @cached_property
    def stations(self) -> dict[str, Station]:
        """Stations by id."""
        return {one.id: one for one in self.book.stations}

    @cached_property
    def read(self) -> dict[str, list[Station]]:
        """Stations with a reading that stands, by area."""
        named = {one.station for one in self.standing}
        found: dict[str, list[Station]] = defaultdict(list)
        for station in self.book.stations:
            if station.id in named:
                found[station.area].append(station)
        return found

    def length(self, feet: float, metres: float) -> float:
        """Return a length of the two given, in plan units."""
        return feet if self.book.units.plan == "ft" else metres

    def told(self, length: float) -> str:
        """Return a length on the plan in words."""
        return f"{length:.3g} {self.book.units.plan}"


def floor_of(area: Area) -> Polygon:
    """Return the floor of an area, prepared for many questions."""
    floor = Polygon(area.outline, area.holes)
    shapely.prepare(floor)
    return floor


def several(names: list[str], most: int = 5) -> str:
    """Return ids or places as words, the first few of many."""
    rest = len(names) - most
    words = ", ".join(names[:most])
    return f"{words} and {rest} more" if rest > 0 else words


def named(word: str, ids: list[str], one: str = "", more: str = "") -> str:
    """Return ids with the word for them, and the verb for one or for more of them."""
    plural = word + ("es" if word.endswith("sh") else "s")
    words = f"{word if len(ids) == 1 else plural} {several([show(name) for name in ids])}"
    return f"{words} {one if len(ids) == 1 else more}".rstrip()
