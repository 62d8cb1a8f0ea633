"""Where labels go: the best free place near what they name, further off with a leader.

Greedy, the most important first: every label looks at eight places beside its symbol, then
at wider and wider rings; of the places of a ring it takes the cheapest. A place that touches
anything taken is out of the question, so labels cannot collide.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, hypot, inf, pi, sin

from levelbook.drawing.metrics import extent
from levelbook.drawing.occupancy import Box, Occupancy
from levelbook.drawing.records import XY, Line, Pen, Record, Text

_BESIDE = (
    (0.0, -1.0, 0.0),
    (1.0, 0.0, 2.0),
    (0.0, 1.0, 2.0),
    (-1.0, 0.0, 4.0),
    (1.0, -1.0, 3.0),
    (-1.0, -1.0, 5.0),
    (1.0, 1.0, 5.0),
    (-1.0, 1.0, 6.0),
)
"""Places beside a symbol (right, down, dislike): above first, as levels are written on plans."""

_RINGS = (1.6, 2.8, 4.2, 6.0, 8.5, 11.5, 15.0, 20.0, 27.0, 36.0)
_TURNS = tuple((cos(k * pi / 8 - pi / 2), sin(k * pi / 8 - pi / 2)) for k in range(16))
_CELL, _THROUGH = 0.3, 80.0
_CONTENT = 26.0
_PER_MM, _LEADER = 7.0, 14.0


@dataclass(frozen=True, slots=True)
class Label:
    """A label to place: its room, what it names, and how it is drawn once its centre is known.

    ``clear`` is the distance from ``at`` that its symbol keeps; ``centred`` also allows the
    very place; ``reach`` is how far a leader may go, ``None`` for no leader. What belongs to an
    ``area`` shuns the others. A place dearer than ``dearest`` is not taken; if ``shy``, those are
    avoided that others will want; if ``through``, its leader may pass under others.
    """

    at: XY
    width: float
    height: float
    build: Callable[[XY], tuple[Record, ...]]
    clear: float = 0.0
    centred: bool = False
    reach: float | None = None
    pad: float = 0.3
    area: str | None = None
    dearest: float = inf
    shy: bool = False
    through: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A label that found its place, with its leader if it stands apart."""

    label: Label
    centre: XY
    leader: Line | None

    def drawn(self) -> tuple[Record, ...]:
        """Return the label without its leader."""
        return self.label.build(self.centre)

    def records(self) -> tuple[Record, ...]:
        """Return leader and label."""
        return self.drawn() if self.leader is None else (self.leader, *self.drawn())


def text_label(
    text: Text, at: XY, *, clear: float, reach: float | None = None, area: str | None = None
) -> Label:
    """Return a label for one line of text (its own place is ignored)."""
    up, down = extent(text.text)
    wide, tall = text.width, (up + down) * text.size

    def build(centre: XY) -> tuple[Record, ...]:
        place = (centre[0] - wide / 2, centre[1] + (up - down) * text.size / 2)
        return (
            Text(
                place,
                text.text,
                text.size,
                text.colour,
                text.weight,
                role=text.role,
                full=text.full,
            ),
        )

    return Label(at, wide, tall, build, clear, reach=reach, area=area)


def _box(centre: XY, label: Label) -> Box:
    w, h = label.width / 2 + label.pad, label.height / 2 + label.pad
    return centre[0] - w, centre[1] - h, centre[0] + w, centre[1] + h


def _beside(label: Label) -> list[tuple[XY, float]]:
    """Return the places beside a symbol with how much each is disliked."""
    x, y = label.at
    w, h, c = label.width / 2 + label.pad, label.height / 2 + label.pad, label.clear
    places = [((x, y), 0.0)] if label.centred else []
    for right, down, dislike in _BESIDE:
        near = (c + _CELL) * (0.75 if right and down else 1.0)
        places.append(((x + right * (w + near), y + down * (h + near)), dislike))
    return places


def _ring(label: Label, distance: float) -> list[tuple[XY, float]]:
    """Return the places on a ring with how much each is disliked."""
    x, y = label.at
    w, h = label.width / 2 + label.pad, label.height / 2 + label.pad
    away = label.clear + distance
    return [
        ((x + u * (away + w), y + v * (away + h)), _LEADER + _PER_MM * distance) for u, v in _TURNS
    ]


def _leader(label: Label, centre: XY, pen: Pen) -> Line:
    """Return the line from the rim of the symbol to the nearest point of the label."""
    x, y = label.at
    left, top, right, bottom = _box(centre, label)
    end = (min(max(x, left), right), min(max(y, top), bottom))
    far = hypot(end[0] - x, end[1] - y) or 1.0
    start = label.clear * 0.8 / far
    return Line((x + (end[0] - x) * start, y + (end[1] - y) * start), end, pen, role="leader")


def _cheapest(
    places: Sequence[tuple[XY, float]], label: Label, sheet: Occupancy, pen: Pen | None
) -> tuple[float, XY] | None:
    """Return the cheapest free place; with a pen, its leader must be free as well."""
    best: tuple[float, XY] | None = None
    for centre, dislike in places:
        if best is not None and dislike >= best[0]:
            continue
        price = sheet.price(_box(centre, label), label.area, shy=label.shy)
        if price is None or (best is not None and price + dislike >= best[0]):
            continue
        if pen is not None:
            line = _leader(label, centre, pen)
            crossed = sheet.price_line(_past(line, label), line.b, label.area)
            if crossed is None and not label.through:
                continue
            price += crossed if crossed is not None else _THROUGH
        if best is None or price + dislike < best[0]:
            best = (price + dislike, centre)
    return best


def _past(line: Line, label: Label) -> XY:
    """Return where a leader leaves the room of its own symbol."""
    (x0, y0), (x1, y1) = line.a, line.b
    far = hypot(x1 - x0, y1 - y0) or 1.0
    skip = min(1.0, (label.clear * 0.75 + 0.3) / far)
    return x0 + (x1 - x0) * skip, y0 + (y1 - y0) * skip


def place(label: Label, sheet: Occupancy, pen: Pen) -> Placed | None:
    """Place one label and take its room; ``None`` where there is none within reach."""
    best = _cheapest(_beside(label), label, sheet, None)
    leader = False
    for distance in _RINGS:
        if label.reach is None or distance > label.reach:
            break
        if best is not None and best[0] <= _CONTENT + _PER_MM * distance:
            break
        further = _cheapest(_ring(label, distance), label, sheet, pen)
        if further is not None and (best is None or further[0] < best[0]):
            best, leader = further, True
    if best is None or best[0] > label.dearest:
        return None
    centre = best[1]
    line = _leader(label, centre, pen) if leader else None
    sheet.take(_box(centre, label), text=True)
    if line is not None:
        sheet.take_line(_past(line, label), line.b)
    return Placed(label, centre, line)
