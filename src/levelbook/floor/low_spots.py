"""Low spots of a garage floor: where water would stand, how deep, how far, and how sure.

A spot is found on the best surface. Its depth is the level of its lip less that of its deepest
place, a difference of two levels of the surface, so that its sd is exact for the lip and the
place found; how its area varies, and whether it is there at all, comes from drawn floors.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from contourpy import contour_generator

from levelbook.floor.basin import Basin, Flow, number_low_spots
from levelbook.floor.model import Array, Point
from levelbook.floor.surface import Surface
from levelbook.floor.water import Mask


@dataclass(frozen=True, slots=True)
class LowSpot:
    """A place where water stands: deepest point, area (plan units²) and depth with their sd.

    ``lip`` is where it would spill, ``probability`` the share of drawn floors with standing
    water there, ``rings`` its outlines on the plan (what lies within an
    even number of them is dry).
    """

    at: Point
    lip: Point
    area: float
    area_sd: float
    depth: float
    depth_sd: float
    probability: float
    rings: tuple[tuple[Point, ...], ...]


def find_low_spots(
    fine: tuple[Basin, Flow], drawn: tuple[Basin, Flow], surface: Surface
) -> tuple[LowSpot, ...]:
    """Return the low spots, deepest first.

    ``fine`` is the best surface with its flow, ``drawn`` are floors drawn from its posterior
    with theirs; ``surface`` tells the sd of a depth.
    """
    basin, flow = fine
    label, count = number_low_spots(basin, flow.depth)
    spots = [_spot(fine, drawn, surface, label[0] == k) for k in range(1, count + 1)]
    return tuple(sorted(spots, key=lambda spot: -spot.depth))


def _spot(
    fine: tuple[Basin, Flow], drawn: tuple[Basin, Flow], surface: Surface, wet: Mask
) -> LowSpot:
    (basin, flow), (coarse, flows) = fine, drawn
    deepest = int(np.where(wet, flow.depth[0], -1.0).argmax())
    lip = _lip(flow, deepest)
    pair = basin.xy[[lip, deepest]]
    _, variance = surface.functional([[1.0, -1.0]], pair)
    near = _near(basin, coarse, wet)
    under = flows.depth[:, near] > 0
    return LowSpot(
        at=_point(pair[1]),
        lip=_point(pair[0]),
        area=float(basin.size[wet].sum()),
        area_sd=float((under @ coarse.size[near]).std()),
        depth=float(flow.depth[0, deepest]),
        depth_sd=float(np.sqrt(max(variance[0, 0], 0.0))),
        probability=float(under.any(axis=1).mean()),
        rings=_rings(basin, flow, wet, lip),
    )


def _lip(flow: Flow, deepest: int) -> int:
    """Return the highest cell on the way out of a low spot."""
    path = [deepest]
    while (further := int(flow.routing.spill[0, path[-1]])) >= 0:
        path.append(further)
    return path[int(np.argmax(flow.level[0, path]))]


def _near(basin: Basin, coarse: Basin, wet: Mask) -> Mask:
    """Mark the coarse cells that lie in or beside a low spot of the fine grid."""
    there = shapely.convex_hull(shapely.MultiPoint(basin.xy[wet])).buffer(coarse.side)
    return np.asarray(shapely.contains_xy(there, coarse.xy[:, 0], coarse.xy[:, 1]))


def _rings(basin: Basin, flow: Flow, wet: Mask, lip: int) -> tuple[tuple[Point, ...], ...]:
    """Return the water's edge, holes in it included: where the floor meets the lip's level.

    Beyond a wall the depth goes on with its sign turned, so that the edge is the wall.
    """
    above = np.minimum(flow.level[0, lip] - flow.level[0], -1e-9)
    height = np.where(wet, flow.depth[0], above)
    sheet = np.full(basin.shape, -float(flow.depth[0, wet].max()))
    sheet[basin.cells.rows, basin.cells.columns] = height
    sheet = np.pad(sheet, 1, mode="edge")
    edge = np.ones(sheet.shape, dtype=bool)
    edge[1:-1, 1:-1] = False
    sheet = np.where(edge, -np.abs(sheet), sheet)
    lines = contour_generator(_padded(basin.across), _padded(basin.deep), sheet).lines(0.0)
    rings = shapely.simplify([shapely.LineString(line) for line in lines], 0.15 * basin.side)
    places = [basin.way.plan(shapely.get_coordinates(ring)[:-1]) for ring in rings]
    return tuple(tuple(_point(place) for place in ring) for ring in places if len(ring) > 2)


def _padded(lines: Array) -> Array:
    """Return a grid's lines with one more at either end, as far as its neighbour."""
    first, last = 2 * lines[0] - lines[1], 2 * lines[-1] - lines[-2]
    return np.concatenate([[first], lines, [last]])


def _point(place: Array) -> Point:
    return float(place[0]), float(place[1])
