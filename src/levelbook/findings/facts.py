"""What the screening rules look at, one record an area: figures, signs, and how they match."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.ops import nearest_points

from levelbook.book.model import Area, Book, Distress
from levelbook.findings.model import Finding, State
from levelbook.findings.signs import (
    by_area,
    is_active,
    is_fresh,
    is_settled,
    is_sign,
    is_wide,
    near,
    where,
)
from levelbook.floor.grid import make_grid
from levelbook.floor.model import Array, TooFew
from levelbook.floor.shape import AreaShape, Floor

GRAVITY: tuple[State, ...] = ("not measured", "within", "too close to call", "beyond")
STANDS_OUT = 0.5
"""Share of the worst deflection by which a place stands out from the floor's plane."""


@dataclass(frozen=True)
class AreaFacts:
    """Figures and signs of one area; ``area`` is ``None`` for signs outside every area."""

    book: Book
    area: Area | None
    shape: AreaShape | TooFew | None
    findings: tuple[Finding, ...]
    distress: tuple[Distress, ...]

    @property
    def id(self) -> str:
        """The area's id, empty for signs outside every area."""
        return "" if self.area is None else self.area.id

    @cached_property
    def bend(self) -> Finding | None:
        """The gravest finding on the deflection ratio."""
        return gravest(f for f in self.findings if f.quantity == "deflection ratio")

    @cached_property
    def slope(self) -> Finding | None:
        """The gravest finding on tilt or on the slope between two points."""
        return gravest(f for f in self.findings if f.quantity in ("tilt", "raw slope"))

    @cached_property
    def height(self) -> Finding | None:
        """The gravest finding on highest against lowest."""
        return gravest(f for f in self.findings if f.quantity.startswith("range"))

    @property
    def meant_level(self) -> bool:
        """Whether this is a floor that is built level: no garage, no porch, not outside."""
        return self.area is not None and self.area.kind not in ("garage", "porch")

    @property
    def judged(self) -> bool:
        """Whether any figure on movement was measured here."""
        return any(f.state != "not measured" for f in self.findings)

    @cached_property
    def signs(self) -> tuple[Distress, ...]:
        """Signs of distress, hairline cracks left out."""
        return tuple(d for d in self.distress if is_sign(d, self.book.units.level))

    @cached_property
    def active(self) -> tuple[Distress, ...]:
        """Signs that are fresh or wide."""
        return tuple(d for d in self.signs if is_active(d, self.book.units.level))

    @cached_property
    def urgent(self) -> tuple[Distress, ...]:
        """Cracks or gaps that are fresh and wide."""
        level = self.book.units.level
        return tuple(d for d in self.signs if is_fresh(d, level) and is_wide(d, level))

    @cached_property
    def unsettled(self) -> tuple[Distress, ...]:
        """Signs that are not known to be old."""
        return tuple(d for d in self.signs if not is_settled(d))

    @cached_property
    def matching(self) -> tuple[Distress, ...]:
        """Active signs that lie where the floor bends or stands out."""
        return tuple(d for d in self.active if self._matches(d))

    def _matches(self, distress: Distress) -> bool:
        """Tell whether a sign lies where the floor bends.

        It does within one spacing of readings of the line of worst deflection, or where the
        floor stands off its own plane by at least half of that deflection, up or down.
        """
        place, shape = where(distress), self.shape
        if place is None or self.area is None or not isinstance(shape, AreaShape):
            return False
        worst = shape.deflection
        if worst is None:
            return False
        if place.distance(shapely.LineString(worst.line)) <= near(self.book.units.plan):
            return True
        floor = shapely.Polygon(self.area.outline, self.area.holes)
        on_floor, _ = nearest_points(floor, place.centroid)
        return abs(_off_plane(shape, self.area, on_floor)) >= STANDS_OUT * abs(worst.deflection)


def _off_plane(shape: AreaShape, area: Area, place: shapely.Point) -> float:
    """Return the height of the floor at a place above the floor's plane."""
    at = np.array([[place.x, place.y]])
    mean, _ = shape.surface.predict(at)
    return float((mean - _basis(at) @ _plane(shape, area))[0])


def _basis(xy: Array) -> Array:
    return np.column_stack([np.ones(len(xy)), xy])


def _plane(shape: AreaShape, area: Area) -> Array:
    """Return level at the origin and its change along x and y: the plane through the grid."""
    grid = shape.grid if shape.grid.x.size else make_grid(shape.surface, area.outline, area.holes)
    nodes = np.stack(np.meshgrid(grid.x, grid.y), axis=-1)[grid.inside]
    plane, *_ = np.linalg.lstsq(_basis(nodes), grid.mean[grid.inside], rcond=None)
    return np.asarray(plane)


def gravest(findings: Iterable[Finding]) -> Finding | None:
    """Return the finding that weighs most: by state, then by value over limit."""
    return max(findings, key=_weight, default=None)


def _weight(finding: Finding) -> tuple[int, float]:
    share = 0.0 if finding.value is None else finding.value / finding.limit
    return GRAVITY.index(finding.state), share


def gather(book: Book, floor: Floor, findings: Sequence[Finding]) -> tuple[AreaFacts, ...]:
    """Return the facts of every area of the book, and of what lies outside all of them.

    Only limits on movement count here; tolerances of construction, damage categories and the
    survey's own quality say nothing about movement.
    """
    distress = by_area(book)
    on_movement = [f for f in findings if f.kind == "movement"]
    rooms = [
        AreaFacts(
            book,
            area,
            floor.areas.get(area.id),
            tuple(f for f in on_movement if f.area == area.id),
            distress[area.id],
        )
        for area in book.areas
    ]
    return (*rooms, AreaFacts(book, None, None, (), distress[None]))
