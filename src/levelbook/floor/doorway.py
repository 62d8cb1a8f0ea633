"""The vehicle doorway of a garage: the frame it gives, and the fall of the floor to it.

In the doorway's frame the first coordinate runs along the sill from one jamb, the second into
the garage. All answers turn and move with the outline.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from levelbook.book.model import Area
from levelbook.floor.model import Array
from levelbook.floor.surface import Surface

LINES = 9  # from the sill into the garage, evenly over the door's width


@dataclass(frozen=True)
class Doorway:
    """A doorway on the outline of a garage: one jamb, unit vectors along and inward, width."""

    floor: shapely.Polygon
    jamb: Array
    along: Array
    inward: Array
    width: float

    @cached_property
    def _axes(self) -> Array:
        return np.array([self.along, self.inward])

    def local(self, xy: Array) -> Array:
        """Return places (k, 2) of the plan in the doorway's frame."""
        return np.asarray((xy - self.jamb) @ self._axes.T)

    def plan(self, uv: Array) -> Array:
        """Return places (k, 2) of the doorway's frame on the plan."""
        return np.asarray(self.jamb + uv @ self._axes)

    @cached_property
    def local_floor(self) -> shapely.Polygon:
        """The floor in the doorway's frame."""
        turned = shapely.transform(self.floor, self.local)
        shapely.prepare(turned)
        return turned

    @cached_property
    def facing(self) -> Array:
        """Lines (k, 2, 2) on the plan from the sill straight in to the wall facing it."""
        u = (np.arange(LINES) + 0.5) / LINES * self.width
        reach = 2.0 * float(self.floor.length)
        whole = shapely.Polygon(self.local_floor.exterior)
        ends = []
        for each in u:
            ray = shapely.intersection(shapely.LineString([(each, 0.0), (each, reach)]), whole)
            parts = [p for p in shapely.get_parts(ray) if p.length > 0]
            if parts:
                first = min(parts, key=lambda part: float(part.bounds[1]))
                ends.append(((each, 0.0), (each, float(first.bounds[3]))))
        if not ends:  # a door beside its floor: measure to the floor's middle
            middle = shapely.get_coordinates(self.local_floor.representative_point())[0]
            ends = [((0.5 * self.width, 0.0), (float(middle[0]), float(middle[1])))]
        lines = np.array(ends, dtype=float).reshape(-1, 2)
        return self.plan(lines).reshape(-1, 2, 2)


@dataclass(frozen=True, slots=True)
class Fall:
    """The fall of a garage floor to its door; + falls towards it.

    ``value`` and ``sd`` are in level units: the mean over the doorway of the level at the wall
    facing it less the level at the sill. ``depth`` is the mean length of the lines between.
    """

    value: float
    sd: float
    depth: float


def doorway(area: Area) -> Doorway:
    """Return the doorway of a garage that has a vehicle door, its ends set on the outline."""
    floor = shapely.Polygon(area.outline, area.holes)
    door = _on_outline(area, floor)
    width = float(np.hypot(*(door[1] - door[0])))
    along = (door[1] - door[0]) / width
    inward = np.array([-along[1], along[0]])
    across = (np.asarray(area.outline, dtype=float) - door[0]) @ inward
    if across.max() < -across.min():
        inward = -inward
    return Doorway(floor, door[0], along, inward, width)


def _on_outline(area: Area, floor: shapely.Polygon) -> Array:
    """Return the ends (2, 2) of the door, moved to the nearest place on the outline."""
    written = np.array(area.vehicle_door, dtype=float)
    where = shapely.line_locate_point(floor.exterior, shapely.points(written))
    moved = shapely.get_coordinates(shapely.line_interpolate_point(floor.exterior, where))
    apart = float(np.hypot(*(moved[1] - moved[0])))
    return moved if apart > 0.5 * float(np.hypot(*(written[1] - written[0]))) else written


def fall_to_door(way: Doorway, surface: Surface) -> Fall:
    """Return how far the floor falls from the wall facing the door to the door's sill."""
    lines = way.facing
    places = np.concatenate([lines[:, 0], lines[:, 1]])
    weights = np.repeat([-1.0, 1.0], len(lines)) / len(lines)
    mean, covariance = surface.functional(weights[None, :], places)
    depth = float(np.hypot(*(lines[:, 1] - lines[:, 0]).T).mean())
    return Fall(float(mean[0]), float(np.sqrt(max(covariance[0, 0], 0.0))), depth)
