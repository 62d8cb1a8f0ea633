"""The footprint of one area: walls, corners, and sums over its floor.

All answers turn and move with the outline: directions are taken from the longest wall,
never from the sheet.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import ArrayLike

from levelbook.book.model import Area
from levelbook.floor.model import Array

_STRAIGHT = np.sin(np.radians(0.5))
_CORNER = np.sin(np.radians(30.0))


@dataclass(frozen=True)
class Cells:
    """Pieces of a floor: ``xy`` (m, 2) their centroids and ``share`` (m,) of the area, sum 1."""

    xy: Array
    share: Array


@dataclass(frozen=True)
class Sampled:
    """A surface at the pieces of a floor: ``mean`` (m,) and ``covariance`` (m, m)."""

    cells: Cells
    mean: Array
    covariance: Array


def _unit(edges: Array) -> Array:
    """Return unit directions (k, 2) of edges (k, 2, 2)."""
    step = edges[:, 1] - edges[:, 0]
    return np.asarray(step / np.hypot(step[:, 0], step[:, 1])[:, None])


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def straight_edges(ring: ArrayLike) -> Array:
    """Return the straight walls (k, 2, 2) of an open ring of corners, anticlockwise.

    Neighbouring edges that turn by less than half a degree are one wall.
    """
    points = np.asarray(ring, float)
    following = np.roll(points, -1, axis=0)
    keep = np.hypot(*(following - points).T) > 0
    points = points[keep]
    if _cross(points, np.roll(points, -1, axis=0)).sum() < 0:
        points = points[::-1]
    edges = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
    unit = _unit(edges)
    before = np.roll(unit, 1, axis=0)
    forward = (unit * before).sum(axis=1) > 0
    turns = points[(np.abs(_cross(before, unit)) > _STRAIGHT) | ~forward]
    return np.stack([turns, np.roll(turns, -1, axis=0)], axis=1)


@dataclass(frozen=True)
class Footprint:
    """The floor of one area as a polygon in plan units."""

    polygon: shapely.Polygon

    @cached_property
    def walls(self) -> Array:
        """Straight outer walls (k, 2, 2), anticlockwise."""
        return straight_edges(np.asarray(self.polygon.exterior.coords)[:-1])

    @cached_property
    def hole_walls(self) -> Array:
        """Straight walls (k, 2, 2) round the holes."""
        rings = [straight_edges(np.asarray(r.coords)[:-1]) for r in self.polygon.interiors]
        return np.concatenate([np.zeros((0, 2, 2)), *rings])

    @cached_property
    def area(self) -> float:
        """Floor area, plan units squared."""
        return float(self.polygon.area)

    @cached_property
    def axes(self) -> Array:
        """Rows are unit vectors along and across (to the left of) the longest wall."""
        lengths = np.hypot(*(self.walls[:, 1] - self.walls[:, 0]).T)
        along = _unit(self.walls)[int(np.argmax(lengths > lengths.max() * (1 - 1e-9)))]
        return np.array([along, [-along[1], along[0]]])

    @cached_property
    def local(self) -> shapely.Polygon:
        """The polygon in the frame of ``axes``."""
        turned = shapely.transform(self.polygon, lambda xy: xy @ self.axes.T)
        shapely.prepare(turned)
        return turned

    @cached_property
    def bounds(self) -> Array:
        """Lower left and upper right (2, 2) of the polygon in the frame of ``axes``."""
        return np.asarray(self.local.bounds).reshape(2, 2)

    @property
    def extent(self) -> tuple[float, float]:
        """Length along and across the longest wall."""
        along, across = (self.bounds[1] - self.bounds[0]).tolist()
        return along, across

    @property
    def shorter_side(self) -> float:
        """The shorter of the two extents."""
        return min(self.extent)

    def corners(self, jog: float) -> Array:
        """Return the real corners (k, 2): turns of 30° or more between walls not jogs.

        A wall shorter than ``jog`` is passed over: the corner between its neighbours, if
        they turn, stands midway; if they do not, there is none.
        """
        walls = self.walls
        long = walls[np.hypot(*(walls[:, 1] - walls[:, 0]).T) >= jog]
        if len(long) < 3:
            long = walls
        unit, before = _unit(long), np.roll(long, 1, axis=0)
        turning = np.abs(_cross(_unit(before), unit)) >= _CORNER
        return np.asarray((before[:, 1] + long[:, 0])[turning] / 2)

    def cells(self, count: int) -> Cells:
        """Cut the floor into about ``count`` square cells along its walls.

        Cells at the edge are clipped, so that the shares are exact and sums of linear
        functions over the centroids are exact integrals over the floor.
        """
        along, across = self.extent
        side = np.sqrt(max(self.area / count, along * across / (8 * count)))
        low, high = self.bounds
        n = np.maximum(1, np.ceil((high - low) / side - 1e-9).astype(int))
        x = np.linspace(low[0], high[0], n[0] + 1)
        y = np.linspace(low[1], high[1], n[1] + 1)
        left, bottom = (a.ravel() for a in np.meshgrid(x[:-1], y[:-1]))
        right, top = (a.ravel() for a in np.meshgrid(x[1:], y[1:]))
        boxes = shapely.box(left, bottom, right, top)
        edge = ~shapely.contains_properly(self.local, boxes)
        boxes[edge] = shapely.intersection(boxes[edge], self.local)
        areas = shapely.area(boxes)
        kept = areas > 1e-9 * areas.max()
        centre = shapely.get_coordinates(shapely.centroid(boxes[kept]))
        return Cells(centre @ self.axes, areas[kept] / areas[kept].sum())


def footprint(area: Area) -> Footprint:
    """Return the footprint of an area of the book."""
    return Footprint(shapely.Polygon(area.outline, area.holes))
