"""What a drawing is made from: a book, its levels and its floor.

A whole :class:`~levelbook.findings.model.Assessment` has these three; :class:`Parts` holds
them where there is no assessment.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, Protocol

from levelbook.book.model import Book, Station
from levelbook.floor.shape import AreaShape, Floor
from levelbook.levels.model import Levels

Kind = Literal["levels", "error", "deflection"]
Role = Literal["plain", "zero", "own zero", "struck", "unread"]


class Source(Protocol):
    """Anything with a book, its levels and its floor."""

    @property
    def book(self) -> Book:
        """What was written down."""

    @property
    def levels(self) -> Levels:
        """The adjustment."""

    @property
    def floor(self) -> Floor:
        """The shape."""


@dataclass(frozen=True)
class Parts:
    """A book, its levels and its floor, by themselves."""

    book: Book
    levels: Levels
    floor: Floor


@dataclass(frozen=True, slots=True)
class Spot:
    """A station as it stands on a drawing.

    ``apart`` where it hangs on another zero than the reference's; ``stray`` where its zero is
    not that of the floor it stands on (of the house, where that floor has no surface), so that
    its level does not compare with those round it.
    """

    station: Station
    role: Role
    level: float | None = None
    sd: float | None = None
    apart: bool = False
    stray: bool = False
    extreme: Literal["high", "low"] | None = None
    suspect: bool = False


def first_look(source: Source) -> Parts:
    """Return a source without sections and, of the marks, with the front door alone."""
    doors = tuple(mark for mark in source.book.marks if mark.kind == "front-door")
    book = source.book.model_copy(update={"sections": (), "marks": doors, "grades": ()})
    return Parts(book, source.levels, source.floor)


def main_group(source: Source) -> str | None:
    """Return the group that the book's reference belongs to, ``None`` without any level."""
    found = source.levels.stations.get(source.book.reference.station)
    if found is not None:
        return found.group
    return source.levels.groups[0].id if source.levels.groups else None


def shapes(source: Source) -> Iterator[AreaShape]:
    """Yield the areas that have a surface, in the order of the book."""
    for area in source.book.areas:
        shape = source.floor.areas.get(area.id)
        if isinstance(shape, AreaShape):
            yield shape


def spots(source: Source) -> tuple[Spot, ...]:
    """Return every station of the book with what it is on the drawing."""
    main = main_group(source)
    floors = {shape.area: shape.group for shape in shapes(source)}
    zeros = {group.zero for group in source.levels.groups}
    extremes: dict[str, Literal["high", "low"]] = {}
    for shape in shapes(source):
        extremes |= {shape.range.high: "high", shape.range.low: "low"}
    suspects = {suspect.station for suspect in source.floor.suspects}
    struck = {reading.station for reading in source.book.readings if reading.struck}
    out = []
    for station in source.book.stations:
        found, doubt = source.levels.stations.get(station.id), station.id in suspects
        if found is None:
            role: Role = "struck" if station.id in struck else "unread"
            out.append(Spot(station, role, suspect=doubt))
            continue
        apart, extreme = found.group != main, extremes.get(station.id)
        role = "plain" if station.id not in zeros else "own zero" if apart else "zero"
        stray = found.group != floors.get(station.area, main)
        out.append(Spot(station, role, found.level, found.sd, apart, stray, extreme, doubt))
    return tuple(out)
