"""Plain drawing: frozen records in millimetres and colours, and nothing else.

Meaning has been resolved before a record is made. ``x`` runs to the right and ``y`` *down*
the sheet from its upper left corner. ``role`` says what a record stands for (``station``,
``contour`` …); backends and tests go by it, and it becomes the class in SVG.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from levelbook.drawing import metrics

Array = NDArray[np.float64]
XY = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: colour, width in millimetres, dashes, and how it ends."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()
    cap: Literal["butt", "round"] = "butt"
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Fill:
    """How a surface is filled."""

    colour: str
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A straight line."""

    a: XY
    b: XY
    pen: Pen
    role: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Open or closed runs of points, each (n, 2), drawn with one pen."""

    runs: tuple[Array, ...]
    pen: Pen
    closed: bool = False
    role: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Polygon:
    """Rings of points, each (n, 2) and not closed; holes by the even-odd rule."""

    rings: tuple[Array, ...]
    fill: Fill | None
    pen: Pen | None = None
    role: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """A circle."""

    at: XY
    radius: float
    fill: Fill | None = None
    pen: Pen | None = None
    role: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Text:
    """One line of text; ``at`` is on its baseline, ``turn`` in degrees clockwise about it."""

    at: XY
    text: str
    size: float
    colour: str
    weight: int = 400
    anchor: Anchor = "start"
    turn: float = 0.0
    role: str = ""
    full: str | None = None

    @property
    def width(self) -> float:
        """Width in millimetres."""
        return metrics.width(self.text, self.size, self.weight)

    def corners(self) -> Array:
        """Return the four corners (4, 2) of the room that the text takes."""
        up, down = metrics.extent(self.text)
        wide = self.width
        left = -wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        top, low = -up * self.size, down * self.size
        box = np.array([[left, top], [left + wide, top], [left + wide, low], [left, low]])
        c, s = cos(radians(self.turn)), sin(radians(self.turn))
        return np.asarray(box @ np.array([[c, s], [-s, c]]) + np.asarray(self.at))


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Records that belong together and may be addressed: a station, a sign of distress.

    ``at`` is where a finger is expected to tap.
    """

    items: tuple["Record", ...]
    role: str
    id: str | None = None
    title: str | None = None
    at: XY | None = None
    data: Mapping[str, str] = field(default_factory=dict)


Shape = Line | Path | Polygon | Circle | Text
Record = Shape | Group


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A finished drawing of ``width`` by ``height`` millimetres, back to front.

    ``unnumbered`` are the stations whose level found no room and stands elsewhere;
    ``unplaced`` the words and numbers of other signs that found none.
    """

    width: float
    height: float
    items: tuple[Record, ...]
    title: str = ""
    description: str = ""
    unnumbered: tuple[str, ...] = ()
    unplaced: tuple[str, ...] = ()


def flatten(items: tuple[Record, ...]) -> Iterator[Shape]:
    """Yield the shapes of nested groups, back to front."""
    for item in items:
        if isinstance(item, Group):
            yield from flatten(item.items)
        else:
            yield item
