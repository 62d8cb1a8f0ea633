"""The plan to take along to a repeat visit: stations by number, corners to measure from."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import inf

from levelbook.book.model import Book
from levelbook.drawing import house, keys, metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame, bounds, fit
from levelbook.drawing.labels import Placed, place, text_label
from levelbook.drawing.occupancy import Occupancy
from levelbook.drawing.records import Circle, Drawing, Fill, Group, Pen, Polygon, Record, Text
from levelbook.drawing.stations import LEADER
from levelbook.drawing.symbols import arc
from levelbook.drawing.tape import Tape
from levelbook.drawing.theme import PRINT, Theme

SIZES = (4.2, 3.8, 3.4, 3.0, 2.6, 2.3)
"""Type sizes of the numbers in millimetres; the largest at which all find room."""

EDGE, FOOT, DOT = 7.0, 14.0, 0.75
INNER, OUTER, DEAREST = 12, 30, 250.0
"""What it costs a number to stand on a wall, and the most it pays before all become smaller."""


def numbers(book: Book) -> Mapping[str, str]:
    """Return what each station is called on the sheet: its id if all are short, else a number."""
    ids = [station.id for station in book.stations]
    if all(len(name) <= 4 for name in ids):
        return {name: metrics.clean(name) for name in ids}
    return {name: str(k) for k, name in enumerate(ids, 1)}


def return_plan(book: Book, tape: Tape, *, width_mm: float, height_mm: float) -> Drawing:
    """Draw the plan for a repeat visit.

    ``unnumbered`` names the stations whose number found no room even at the smallest size.
    """
    for size in _sizes(book, width_mm, height_mm):
        drawn = _Sheet(book, tape, (width_mm, height_mm), size).drawing()
        if not drawn.unnumbered:
            return drawn
    return _Sheet(book, tape, (width_mm, height_mm), SIZES[-1], anywhere=True).drawing()


def _sizes(book: Book, width: float, height: float) -> Iterator[float]:
    """Yield the sizes that are worth a try: those whose numbers could fill half the sheet."""
    longest = max((len(name) for name in numbers(book).values()), default=0)
    share = 0.5 * (width - 2 * EDGE) * (height - 2 * EDGE - FOOT) / max(len(book.stations), 1)
    for size in SIZES:
        if size * size * 0.6 * longest < share:
            yield size


class _Sheet:
    """One drawing in the making, with numbers of one size."""

    def __init__(
        self,
        book: Book,
        tape: Tape,
        sheet: tuple[float, float],
        size: float,
        *,
        anywhere: bool = False,
    ) -> None:
        self.book, self.tape, self.size = book, tape, size
        self.dearest = inf if anywhere else DEAREST
        width, height = self.width, self.height = sheet
        self.theme: Theme = replace(PRINT, text=2.8, small=2.3, symbol=1.8)
        room = (EDGE, EDGE, width - EDGE, height - EDGE - FOOT)
        self.frame: Frame = fit(bounds(book), room)
        self.room = Occupancy(width, height)
        self.walls, self.outlines = house.walls(book, self.frame, self.theme)

    def drawing(self) -> Drawing:
        """Return the finished drawing."""
        self._claim()
        names = numbers(self.book)
        placed = {s.id: self._number(s.id, s.at, names[s.id]) for s in self.book.stations}
        letters = tuple(self._letters())
        items: list[Record] = [*house.ground(self.book, self.frame), *self.walls]
        items += house.marks(self.book, self.frame, self.theme)
        items += [record for base in self._bases() for record in base]
        for station in self.book.stations:
            label = placed[station.id]
            shown = () if label is None else label.records()
            items.append(Group((*shown, *self._dot(station.id, station.at)), "station", station.id))
        items += letters
        items += self._scale()
        return Drawing(
            self.width,
            self.height,
            tuple(items),
            metrics.clean(f"Return sheet, {self.book.property.label}"),
            describe(self.book, self.tape),
            tuple(name for name, label in placed.items() if label is None),
        )

    def _claim(self) -> None:
        """Take the room of symbols and the foot, and weigh the lines that numbers avoid."""
        self.room.take((0.0, self.height - FOOT, self.width, self.height))
        for station in self.book.stations:
            self.room.take_disc(self.frame.point(station.at), DOT + 0.2)
        for at in self.tape.corners.values():
            self.room.take_disc(self.frame.point(at), 1.0)
        for mark in self.book.marks:
            self.room.take_disc(self.frame.point(mark.at), self.theme.symbol)
        for setup in self.book.setups:
            if setup.base is not None:
                self.room.take_disc(self.frame.point(setup.base), 2.2)
        self.room.weigh(tuple(self.frame.points(wall) for wall in self.book.walls), INNER)
        self.room.weigh(self.outlines, OUTER)

    def _number(self, name: str, at: tuple[float, float], number: str) -> Placed | None:
        text = Text((0, 0), number, self.size, look.INK, 600, role="number")
        zero = name == self.book.reference.station
        clear = self.theme.symbol if zero else DOT
        where = self.frame.point(at)
        label = text_label(text, where, clear=clear, reach=20.0)
        return place(replace(label, dearest=self.dearest), self.room, LEADER)

    def _dot(self, name: str, at: tuple[float, float]) -> tuple[Record, ...]:
        where = self.frame.point(at)
        if name == self.book.reference.station:
            return symbols.zero(where, self.theme.symbol)
        return symbols.station(where, DOT)

    def _letters(self) -> Iterator[Record]:
        """Yield the corners with their letters."""
        for letter, at in self.tape.corners.items():
            where = self.frame.point(at)
            yield Circle(where, 0.9, Fill(look.PAPER), Pen(look.LOW, 0.5), role="corner")
            text = Text((0, 0), letter, 3.0, look.LOW, 600, role="corner")
            placed = place(text_label(text, where, clear=1.0, reach=15.0), self.room, LEADER)
            if placed is not None:
                yield from placed.records()

    def _bases(self) -> Iterator[tuple[Record, ...]]:
        """Yield where the bases of the setups stood."""
        for setup in self.book.setups:
            if setup.base is None:
                continue
            at = self.frame.point(setup.base)
            ring = arc(at, 1.8, 0.0, 360.0)[:-1]
            corners = ring[[0, len(ring) // 3, 2 * len(ring) // 3]]
            mark = Polygon((corners,), Fill(look.PAPER), Pen(look.INK, 0.35), role="base")
            said = metrics.shorten(f"base {metrics.clean(setup.id)}", 2.3, 20.0)
            text = Text((0, 0), said, 2.3, look.SOFT, role="base")
            placed = place(text_label(text, at, clear=1.9, reach=10.0), self.room, LEADER)
            yield (mark, *(placed.records() if placed else ()))

    def _scale(self) -> tuple[Record, ...]:
        bar = keys.scale_bar(self.book.units, self.book.property.north, 75.0, self.theme)
        return bar.draw((EDGE, self.height - FOOT + 2.0), self.frame.scale)


def describe(book: Book, tape: Tape) -> str:
    """Return the drawing in words, for people who do not see it."""
    return (
        f"Plan with {len(book.stations)} numbered stations and {len(tape.corners)} lettered "
        "corners to measure them from. The table tells the distances."
    )
