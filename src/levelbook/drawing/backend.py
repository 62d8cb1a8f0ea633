"""What a backend must be able to do, and the backend that only collects.

A backend has a handful of verbs. :func:`draw` hands it the records back to front; SVG is
one backend (``svg.py``), and :class:`Collector` tests a drawing without pixels.
"""

from typing import Protocol

from levelbook.drawing.records import (
    Circle,
    Group,
    Line,
    Path,
    Polygon,
    Record,
    Shape,
    Text,
)


class Backend(Protocol):
    """The verbs of a backend."""

    def shape(self, shape: Shape) -> None:
        """Draw one line, path, polygon, circle or text."""

    def enter(self, group: Group) -> None:
        """Begin a group."""

    def leave(self, group: Group) -> None:
        """End a group."""


def draw(items: tuple[Record, ...], backend: Backend) -> None:
    """Hand every record to the backend, back to front."""
    for item in items:
        if isinstance(item, Group):
            backend.enter(item)
            draw(item.items, backend)
            backend.leave(item)
        else:
            backend.shape(item)


class Collector:
    """A backend that only collects what it is told to draw."""

    def __init__(self) -> None:
        self.shapes: list[Shape] = []
        self.groups: list[Group] = []

    def shape(self, shape: Shape) -> None:
        """Keep a shape."""
        self.shapes.append(shape)

    def enter(self, group: Group) -> None:
        """Keep a group."""
        self.groups.append(group)

    def leave(self, group: Group) -> None:
        """Leave a group: nothing to keep."""

    def texts(self) -> list[Text]:
        """Return the texts."""
        return [shape for shape in self.shapes if isinstance(shape, Text)]

    def by_role(self, role: str) -> list[Line | Path | Polygon | Circle | Text]:
        """Return the shapes that stand for ``role``."""
        return [shape for shape in self.shapes if shape.role == role]
