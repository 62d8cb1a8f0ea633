"""The plan of movement between two visits: what stands out filled, what does not hollow."""

from collections.abc import Iterator, Sequence

import numpy as np

from levelbook.book.model import Book
from levelbook.drawing import house, keys, metrics
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame, bounds, fit
from levelbook.drawing.labels import Placed, place, text_label
from levelbook.drawing.layout import Block, Layout, arrange
from levelbook.drawing.occupancy import FORBIDDING, Occupancy
from levelbook.drawing.records import (
    XY,
    Circle,
    Drawing,
    Fill,
    Group,
    Line,
    Pen,
    Polygon,
    Record,
    Text,
)
from levelbook.drawing.stations import LEADER
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import NBSP, decimals_of, figure
from levelbook.movement.model import Comparison, StationMovement

RISE, FALL, STILL, LEFT = (
    "now higher against the places that hold, beyond the errors",
    "now lower against the places that hold, beyond the errors",
    "change that does not stand out from the errors",
    "not read on both visits",
)
LARGEST = 2.4
"""Radius in millimetres of the mark of the largest change on a small plan."""


def movement_plan(
    found: Comparison,
    *,
    width_mm: float = 180.0,
    height_mm: float | None = None,
    theme: Theme | None = None,
) -> Drawing:
    """Draw the change of every place read on both visits.

    A change that stands out is a filled triangle with its figure and the half-width of its
    95 % interval, one that does not is a hollow ring without any figure, so that no noise
    looks like movement.
    """
    return _Sheet(found, width_mm, height_mm, theme or theme_for(width_mm)).drawing()


class _Sheet:
    """One plan of movement in the making."""

    def __init__(self, found: Comparison, width: float, height: float | None, theme: Theme) -> None:
        self.found, self.book, self.theme = found, found.earlier.book, theme
        extent = bounds(self.book)
        self.layout: Layout = arrange(self._legend, extent, width, height, theme)
        self.frame = fit(extent, self.layout.room)
        self.decimals = decimals_of(self.book)
        self.room = Occupancy(self.layout.width, self.layout.height)

    def drawing(self) -> Drawing:
        """Return the finished drawing."""
        walls, outlines = house.walls(self.book, self.frame, self.theme)
        self.room.take(self.layout.legend)
        for _, at, told in self._marks():
            self.room.take_disc(at, self._size(told))
        self.room.weigh(outlines, FORBIDDING)
        self.room.weigh(tuple(self.frame.points(w) for w in self.book.walls), 3)
        labels = self._labels()
        items: list[Record] = [*house.ground(self.book, self.frame), *walls]
        items += house.marks(self.book, self.frame, self.theme)
        for station, at, told in self._marks():
            placed = labels.get(station)
            shapes = (*_mark(at, told, self._size(told)), *(placed.records() if placed else ()))
            items.append(Group(shapes, "movement", station, self._title(station, told), at))
        for block, corner in self.layout.blocks:
            items += block.draw(corner, self.frame.scale)
        return Drawing(
            self.layout.width,
            self.layout.height,
            tuple(items),
            metrics.clean(f"Change between visits, {self.book.property.label}"),
            describe(self.found),
        )

    def _marks(self) -> Iterator[tuple[str, XY, StationMovement | None]]:
        """Yield every station with its place and what it did, ``None`` if not compared."""
        told = self.found.movements.stations
        for station in self.book.stations:
            yield station.id, self.frame.point(station.at), told.get(station.id)

    def _size(self, told: StationMovement | None) -> float:
        if told is None or told.moved is None:
            return self.theme.dot * 1.4
        return self.theme.symbol * (1.0 if told.significant else 0.55)

    def _labels(self) -> dict[str, Placed]:
        """Place the figures of what stands out, the largest first."""
        told = [each for each in self._marks() if each[2] is not None and each[2].significant]
        told.sort(key=lambda each: -abs(each[2].moved or 0.0) if each[2] else 0.0)
        out = {}
        for station, at, movement in told:
            text = Text(
                (0.0, 0.0),
                self._figure(movement),
                self.theme.level,
                _tone(movement),
                600,
                role="movement",
            )
            label = text_label(text, at, clear=self._size(movement), reach=self.theme.reach)
            placed = place(label, self.room, LEADER)
            if placed is not None:
                out[station] = placed
        return out

    def _figure(self, told: StationMovement | None) -> str:
        if told is None or told.moved is None or told.sd is None:
            return ""
        return figure(told.moved, told.sd, self.decimals, plus=True).replace(" ", NBSP)

    def _title(self, station: str, told: StationMovement | None) -> str:
        if told is None:
            return f"Station {station}: {LEFT}"
        if told.moved is None:
            return f"Station {station}: cannot be told"
        word = "stands out" if told.significant else "does not stand out"
        return f"Station {station}: {self._figure(told)} {self.book.units.level}, {word}"

    def _legend(self, width: float, theme: Theme) -> list[Block]:
        """Return the legend: what each mark means, and the scale."""
        size, unit = theme.symbol, self.book.units.level
        rows = [(RISE, 1.0, True), (FALL, -1.0, True), (STILL, 0.0, False)]
        blocks = [
            keys.row(_sample(value, shown, size if shown else 0.55 * size), words, width, theme)
            for words, value, shown in rows
        ]
        if any(s.id not in self.found.movements.stations for s in self.book.stations):
            blocks.append(keys.row(lambda at: _cross(at, 0.7 * theme.dot * 2), LEFT, width, theme))
        note = f"Figures: change ({unit}) with ± half of its 95{NBSP}% interval"
        blocks.append(keys.row(lambda _: (), note, width, theme))
        blocks.append(keys.scale_bar(self.book.units, self.book.property.north, width, theme))
        return blocks


def _sample(value: float, shown: bool, size: float) -> keys.SymbolAt:
    told = StationMovement(value, 1.0, 1.96, 0.0, shown, True)
    return lambda at: tuple(_mark(at, told, size))


def _tone(told: StationMovement | None) -> str:
    return look.HIGH if told is not None and (told.moved or 0.0) > 0 else look.LOW


def _mark(at: XY, told: StationMovement | None, size: float) -> tuple[Record, ...]:
    """Return the mark of one station: a filled triangle, a ring, or a cross."""
    if told is None or told.moved is None:
        return _cross(at, size)
    if not told.significant:
        return (Circle(at, size, Fill(look.PAPER), Pen(look.SOFT, 0.22), role="still"),)
    up = -1.0 if told.moved > 0 else 1.0
    x, y = at
    corners = np.array(
        [[x - size, y - 0.75 * up * size], [x + size, y - 0.75 * up * size], [x, y + up * size]]
    )
    role = "rise" if told.moved > 0 else "fall"
    return (Polygon((corners,), Fill(_tone(told)), Pen(look.PAPER, 0.2), role=role),)


def _cross(at: XY, size: float) -> tuple[Record, ...]:
    x, y = at
    pen = Pen(look.FAINT, 0.22)
    return (
        Line((x - size, y - size), (x + size, y + size), pen, role="left-out"),
        Line((x - size, y + size), (x + size, y - size), pen, role="left-out"),
    )


def describe(found: Comparison) -> str:
    """Return the plan of movement in words, for people who do not see it."""
    told = found.movements.stations
    out = [i for i, s in told.items() if s.significant]
    named = ", ".join(out[:20]) if out else "none"
    return metrics.clean(
        f"Plan of {len(told)} places read on both visits, with the change of each. "
        f"Standing out from the errors of the readings: {named}."
    )


def small_multiples(
    found: Sequence[Comparison], days: Sequence[str], *, width_mm: float = 180.0
) -> Drawing:
    """Draw one small plan for every later visit: its change since the first.

    Marks grow with the change, to one scale on all plans; what does not stand out is hollow
    and small. ``days`` name the visits.
    """
    book, theme = found[0].earlier.book, theme_for(width_mm)
    columns = max(1, min(len(found), int(width_mm // 55.0)))
    x0, y0, x1, y1 = bounds(book)
    wide = width_mm / columns
    tall = wide * min(max((y1 - y0) / max(x1 - x0, 1e-9), 0.4), 1.4) + 3.2 * theme.text
    rows = -(-len(found) // columns)
    largest = max((abs(s.moved or 0.0) for f in found for s in _out(f)), default=1.0)
    items: list[Record] = []
    for k, (each, day) in enumerate(zip(found, days, strict=True)):
        left, top = (k % columns) * wide, (k // columns) * tall
        room = (left + 3.0, top + 2.6 * theme.text, left + wide - 3.0, top + tall - 2.0)
        items += _small(each, book, fit((x0, y0, x1, y1), room), largest, theme)
        at = (left + 3.0, top + 1.6 * theme.text)
        items.append(Text(at, metrics.clean(day), theme.text, look.INK, 600, role="heading"))
    said = f"Small plans of {len(found)} visits, each with its change since the first."
    title = metrics.clean(f"Changes in time, {book.property.label}")
    return Drawing(width_mm, rows * tall, tuple(items), title, said)


def _out(found: Comparison) -> list[StationMovement]:
    return [s for s in found.movements.stations.values() if s.significant]


def _small(
    found: Comparison, book: Book, frame: Frame, largest: float, theme: Theme
) -> Iterator[Record]:
    """Yield one small plan."""
    yield from house.ground(book, frame)
    yield from house.walls(book, frame, theme.scaled(0.8))[0]
    told = found.movements.stations
    for station in book.stations:
        movement = told.get(station.id)
        size = 0.45
        if movement is not None and movement.significant:
            size = 0.8 + (LARGEST - 0.8) * (abs(movement.moved or 0.0) / largest) ** 0.5
        yield from _mark(frame.point(station.at), movement, size)
