"""From plan units to millimetres on the sheet."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from shapely import Polygon
from shapely.affinity import affine_transform

from levelbook.book.model import Book, Point
from levelbook.drawing.occupancy import Box
from levelbook.drawing.records import XY, Array
from levelbook.floor.grade import grade_falls


@dataclass(frozen=True, slots=True)
class Frame:
    """A plan on the sheet: ``scale`` in millimetres a plan unit; y is turned downward.

    The plan point (``x``, ``y``) falls on the sheet point (``left``, ``top``).
    """

    scale: float
    left: float
    top: float
    x: float
    y: float

    def point(self, at: Point) -> XY:
        """Return a plan point on the sheet."""
        return (
            self.left + self.scale * (at[0] - self.x),
            self.top + self.scale * (self.y - at[1]),
        )

    def points(self, at: Iterable[Point] | Array) -> Array:
        """Return plan points (n, 2) on the sheet."""
        array = np.asarray(at if isinstance(at, np.ndarray) else list(at), float).reshape(-1, 2)
        return np.column_stack([self.xs(array[:, 0]), self.ys(array[:, 1])])

    def xs(self, x: Array) -> Array:
        """Return plan abscissas on the sheet."""
        return np.asarray(self.left + self.scale * (x - self.x))

    def ys(self, y: Array) -> Array:
        """Return plan ordinates on the sheet."""
        return np.asarray(self.top + self.scale * (self.y - y))

    def polygon(self, shape: Polygon) -> Polygon:
        """Return a plan polygon on the sheet."""
        k = self.scale
        return affine_transform(shape, [k, 0, 0, -k, self.left - k * self.x, self.top + k * self.y])


def bounds(book: Book) -> Box:
    """Return least x, least y, greatest x, greatest y of all that is drawn, plan units."""
    runs: list[Iterable[Point]] = [area.outline for area in book.areas]
    runs += book.walls
    runs += [section.line for section in book.sections]
    runs += [item.line for item in book.distress if item.line]
    runs += [[fall.at, fall.out] for fall in grade_falls(book)]
    runs.append([mark.at for mark in book.marks])
    runs.append([station.at for station in book.stations])
    runs.append([item.at for item in book.distress if item.at])
    points = np.array([point for run in runs for point in run], float)
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def fit(extent: Box, room: Box) -> Frame:
    """Return the largest frame that shows ``extent`` (plan units) centred in ``room`` (mm)."""
    wide, tall = max(extent[2] - extent[0], 1e-9), max(extent[3] - extent[1], 1e-9)
    scale = min((room[2] - room[0]) / wide, (room[3] - room[1]) / tall)
    left = (room[0] + room[2] - scale * wide) / 2
    top = (room[1] + room[3] - scale * tall) / 2
    return Frame(scale, left, top, extent[0], extent[3])
