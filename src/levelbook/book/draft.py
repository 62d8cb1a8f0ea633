"""A document whose parts were read one by one: the good ones, and where each stands.

The checks of what the parts mean work on a draft, so that one bad entry does not hide what is
wrong elsewhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

from levelbook.book.model import Record, Units

R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Draft:
    """Parts of a document by their key; entries of a list by their index in it.

    ``given`` are the lists that stand in the document; the others are empty.
    ``ids`` has the ids of every list as they stand, also those of entries that are not good,
    so that a reference to such an entry is no further fault; ``sizes`` how many entries stand.
    """

    given: tuple[str, ...] = ()
    parts: dict[str, Any] = field(default_factory=dict)
    lists: dict[str, dict[int, Any]] = field(default_factory=dict)
    ids: dict[str, dict[int, str]] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)

    def part(self, key: str, kind: type[R]) -> R | None:
        """Return the single part under ``key`` (of type ``kind``) if it is good."""
        return cast(R | None, self.parts.get(key))

    def each(self, key: str, kind: type[R]) -> Iterator[tuple[int, R]]:
        """Yield index and entry of the good entries (of type ``kind``) of a list."""
        yield from cast(dict[int, R], self.lists.get(key, {})).items()

    def by_id(self, key: str, kind: type[R]) -> dict[str, tuple[int, R]]:
        """Return the good entries of a list by id (the first of each), with their index."""
        names = self.ids.get(key, {})
        found: dict[str, tuple[int, R]] = {}
        for index, entry in self.each(key, kind):
            found.setdefault(names[index], (index, entry))
        return found

    def complete(self, key: str) -> bool:
        """Tell whether a list is there and all of its entries are good."""
        return len(self.lists.get(key, {})) == self.sizes.get(key)

    def length(self, feet: float, metres: float) -> float:
        """Return a length of the two given, in plan units (metres, the shorter, if unknown)."""
        units = self.part("units", Units)
        return feet if units is not None and units.plan == "ft" else metres
